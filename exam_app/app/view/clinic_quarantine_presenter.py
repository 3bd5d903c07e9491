"""What was set aside, in words: from whom, why, and what a decision means."""

from collections.abc import Mapping
from typing import Any

from exam_app.domain.moments import Moment

Entry = Mapping[str, Any]

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


def is_held(entry: Entry) -> bool:
    """Return whether nobody has decided yet."""
    return bool(entry.get("state", "held") == "held")


def can_be_admitted(entry: Entry) -> bool:
    """Return whether a person may admit it: whole hand-overs only.

    A single record or note that was set aside is refused by its own signature or
    claim, or waits for something and is taken by itself once that has come.
    """
    return entry.get("kind") == "bundle"


def title(entry: Entry, names: Mapping[str, str]) -> str:
    """Name what was set aside and where it came from."""
    kind = _KINDS.get(str(entry.get("kind")), "Something")
    device = names.get(str(entry.get("device_id")), "")
    number = entry.get("sequence")
    parts = (
        f"from {device}" if device else "from a device that is not known here",
        f"bundle {number}" if number else "",
    )
    return " · ".join((f"{kind} {parts[0]}", *(p for p in parts[1:] if p)))


def reason_words(entry: Entry) -> str:
    """Say why it was set aside."""
    reason = str(entry.get("reason") or "")
    if reason in _READABLE:
        return _READABLE[reason]
    return f"{reason[:1].upper()}{reason[1:]}." if reason else "No reason was kept."


def details(entry: Entry) -> str:
    """Say when it came, how large it is, and by which hash it can be told."""
    parts = (
        f"came {_when(entry.get('received_ms'))}" if entry.get("received_ms") else "",
        f"{entry['size']} bytes" if entry.get("size") else "",
        f"SHA-256 {str(entry.get('key'))[:16]}…",
    )
    return " · ".join(part for part in parts if part)


def decided_line(entry: Entry, names: Mapping[str, str]) -> str:
    """Say who decided what, when and why."""
    why = f": {entry['why']}" if entry.get("why") else ""
    by = entry.get("decided_by") or "the import itself"
    when = f", {_when(entry['decided_ms'])}" if entry.get("decided_ms") else ""
    return f"{title(entry, names)}: {entry.get('state')} by {by}{when}{why}"


def _when(utc_ms: Any) -> str:  # noqa: ANN401
    return Moment(int(utc_ms)).date_and_time()
