"""What was set aside, in words: from whom, why, and what a decision means."""

from collections.abc import Mapping

from exam_app.domain.moments import Moment
from exam_app.domain.wording.phrases import capital
from exam_app.exchange.incoming import ADMITTED, DROPPED, HELD, SetApart
from exam_app.language.catalogue import to_translate, tr

ADMIT = to_translate(
    "Its records are then read, checked and kept like any other. Admit it only if you "
    "know who made it and how it came here. Your name and reason are kept."
)
DROP = to_translate(
    "The sealed bytes are let go and cannot be brought back from here. The device "
    "still has them if it was given no receipt. Your name and reason are kept."
)
_KINDS = {
    "bundle": to_translate("A hand-over"),
    "record": to_translate("A record"),
    "note": to_translate("A note"),
}
_STATES = {
    HELD: to_translate("held"),
    ADMITTED: to_translate("admitted"),
    DROPPED: to_translate("dropped"),
}
_READABLE = {
    "BadSignatureError": to_translate("Its signature does not fit: it was changed."),
    "UnknownDeviceKeyError": to_translate(
        "It was signed by a key that is not known here."
    ),
    "RecordTooNewError": to_translate("A newer version of this program made it."),
    "WordingChangedError": to_translate(
        "Its protocol's words are not those that were signed."
    ),
    "NotARecordError": to_translate("It is no whole record."),
    "WrongKindError": to_translate("It is not what it was sent as."),
    "RecordTooLargeError": to_translate("It is larger than a record can be."),
}


def can_be_admitted(entry: SetApart) -> bool:
    """Return whether a person may admit it: whole hand-overs only.

    A single record or note that was set aside is refused by its own signature or
    claim, or waits for something and is taken by itself once that has come.
    """
    return entry.kind == "bundle"


def title(entry: SetApart, names: Mapping[str, str]) -> str:
    """Name what was set aside and where it came from."""
    kind = tr(_KINDS.get(entry.kind, to_translate("Something")))
    device = names.get(entry.device_id)
    said = (
        tr("{what} from {device}", what=kind, device=device)
        if device
        else tr("{what} from a device that is not known here", what=kind)
    )
    number = tr("bundle {number}", number=entry.sequence) if entry.sequence else ""
    return " · ".join(filter(None, (said, number)))


def reason_words(entry: SetApart) -> str:
    """Say why it was set aside."""
    reason = entry.reason
    if reason in _READABLE:
        return tr(_READABLE[reason])
    if not reason:
        return tr("No reason was kept.")
    # Several reasons are kept as one text, in English.
    return f"{capital('; '.join(map(tr, reason.split('; '))))}."


def details(entry: SetApart) -> str:
    """Say when it came, how large it is, and by which hash it can be told."""
    parts = (
        tr("came {when}", when=_when(entry.received_ms)) if entry.received_ms else "",
        tr("{size} bytes", size=entry.size) if entry.size else "",
        f"SHA-256 {entry.key[:16]}…",
    )
    return " · ".join(part for part in parts if part)


def decided_line(entry: SetApart, names: Mapping[str, str]) -> str:
    """Say who decided what, when and why."""
    why = f": {entry.why}" if entry.why else ""
    by = entry.decided_by or tr("the import itself")
    when = f", {_when(entry.decided_ms)}" if entry.decided_ms else ""
    said = tr(
        "{what}: {state} by {person}",
        what=title(entry, names),
        state=tr(_STATES.get(entry.state, entry.state)),
        person=by,
    )
    return f"{said}{when}{why}"


def _when(utc_ms: int) -> str:
    return Moment(utc_ms).date_and_time()
