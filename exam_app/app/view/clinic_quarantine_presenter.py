"""What was set aside, in words: from whom, why, and what a decision means."""

from collections.abc import Mapping

from exam_app.domain.moments import Moment
from exam_app.domain.wording.phrases import capital
from exam_app.exchange.incoming import SetApart

ADMIT = (
    "Its records are then read, checked and kept like any other. Admit it only if you "
    "know who made it and how it came here. Your name and reason are kept."
)
DROP = (
    "The sealed bytes are let go and cannot be brought back from here. The device "
    "still has them if it was given no receipt. Your name and reason are kept."
)
_KINDS = {"bundle": "A hand-over", "record": "A record", "note": "A note"}
_READABLE = {
    "BadSignatureError": "Its signature does not fit: it was changed.",
    "UnknownDeviceKeyError": "It was signed by a key that is not known here.",
    "RecordTooNewError": "A newer version of this program made it.",
    "WordingChangedError": "Its protocol's words are not those that were signed.",
    "NotARecordError": "It is no whole record.",
    "WrongKindError": "It is not what it was sent as.",
    "RecordTooLargeError": "It is larger than a record can be.",
}


def can_be_admitted(entry: SetApart) -> bool:
    """Return whether a person may admit it: whole hand-overs only.

    A single record or note that was set aside is refused by its own signature or
    claim, or waits for something and is taken by itself once that has come.
    """
    return entry.kind == "bundle"


def title(entry: SetApart, names: Mapping[str, str]) -> str:
    """Name what was set aside and where it came from."""
    kind, device = _KINDS.get(entry.kind, "Something"), names.get(entry.device_id)
    sender = f"from {device}" if device else "from a device that is not known here"
    number = f" · bundle {entry.sequence}" if entry.sequence else ""
    return f"{kind} {sender}{number}"


def reason_words(entry: SetApart) -> str:
    """Say why it was set aside."""
    reason = entry.reason
    if reason in _READABLE:
        return _READABLE[reason]
    return f"{capital(reason)}." if reason else "No reason was kept."


def details(entry: SetApart) -> str:
    """Say when it came, how large it is, and by which hash it can be told."""
    parts = (
        f"came {_when(entry.received_ms)}" if entry.received_ms else "",
        f"{entry.size} bytes" if entry.size else "",
        f"SHA-256 {entry.key[:16]}…",
    )
    return " · ".join(part for part in parts if part)


def decided_line(entry: SetApart, names: Mapping[str, str]) -> str:
    """Say who decided what, when and why."""
    why = f": {entry.why}" if entry.why else ""
    by = entry.decided_by or "the import itself"
    when = f", {_when(entry.decided_ms)}" if entry.decided_ms else ""
    return f"{title(entry, names)}: {entry.state} by {by}{when}{why}"


def _when(utc_ms: int) -> str:
    return Moment(utc_ms).date_and_time()
