"""What arrived, in words: how far a scan is, what became of it, clocks, gaps."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from exam_app.app.queries.clinic_records import DeviceNow
from exam_app.app.view.clinic_pairing_presenter import missing_words
from exam_app.domain.moments import Moment
from exam_app.exchange.identity import aside_words
from exam_app.exchange.incoming import Incoming
from exam_app.language.catalogue import to_translate, tr, tr_plural

# Common practice, no source: below two minutes nobody's order of events is confused.
SKEW_SAID_FROM_MS = 120_000
_OUTCOMES = {
    "stored": to_translate("stored"),
    "had already": to_translate("already here"),
    "revision": to_translate("stored as a newer version"),
    "fork": to_translate("stored beside another version: read both"),
    "quarantined": to_translate("set aside"),
    "refused": to_translate("refused"),
}
_COUNTED = {
    "stored": to_translate("{count} stored"),
    "had already": to_translate("{count} already here"),
    "revision": to_translate("{count} stored as a newer version"),
    "fork": to_translate("{count} stored beside another version: read both"),
    "quarantined": to_translate("{count} set aside"),
    "refused": to_translate("{count} refused"),
}
NO_CODE = to_translate(
    "No code is shown, since a part of this hand-over was set aside or refused. The "
    "signed receipt below says what became of each record."
)
CODE_MEANS = to_translate(
    "Type this code on the device: it says that the whole hand-over was stored. Only "
    "the signed receipt lets the device delete anything."
)


@dataclass(frozen=True, slots=True)
class Completeness:
    """How far one hand-over is while its codes are read.

    Attributes:
        share: 0 to 1.
        words: ``12 of 43 codes``.
    """

    mark: str
    share: float
    words: str
    is_complete: bool


def completeness(tag: bytes, have: int, needed: int) -> Completeness:
    """Say how many of a hand-over's codes were read."""
    is_complete = have >= needed
    words = (
        tr("complete")
        if is_complete
        else tr("{have} of {needed} codes", have=have, needed=needed)
    )
    return Completeness(tag.hex()[:6], have / max(1, needed), words, is_complete)


def scan_words(read: int, strays: int) -> str:
    """Say how many codes were read, and how many belong to no hand-over."""
    if not read:
        return tr("No code was read yet.")
    if not strays:
        return tr_plural("{count} code was read.", "{count} codes were read.", read)
    return tr_plural(
        "{count} code was read; {strays} of them belong to no hand-over and were "
        "passed over.",
        "{count} codes were read; {strays} of them belong to no hand-over and were "
        "passed over.",
        read,
        strays=strays,
    )


def outcome_lines(outcomes: Sequence[tuple[str, str, str]]) -> tuple[str, ...]:
    """Say what became of each record.

    Args:
        outcomes: Animal's name, outcome, and the reason where it was not stored.
    """
    lines = []
    for name, outcome, reason in outcomes:
        because = f" ({reason})" if reason else ""
        words = tr(_OUTCOMES[outcome]) if outcome in _OUTCOMES else outcome
        what = name or tr("A record")
        lines.append(f"{what}: {words}{because}")
    return tuple(lines)


def outcome_summary(outcomes: Sequence[tuple[str, str, str]]) -> str:
    """Count the outcomes in one line, those that went well first."""
    counted = (
        (words, sum(1 for _, outcome, _ in outcomes if outcome == key))
        for key, words in _COUNTED.items()
    )
    parts = [tr(words, count=count) for words, count in counted if count]
    return ", ".join(parts) if parts else tr("no record in it")


def skew_words(skew_ms: int) -> str:
    """Say how a device's clock differed; empty below two minutes.

    What travelled for days on a stick looks slow; that is said too.
    """
    if abs(skew_ms) < SKEW_SAID_FROM_MS:
        return ""
    span = _span(abs(skew_ms))
    if skew_ms > 0:
        return tr("The device's clock is {span} ahead of this computer's.", span=span)
    return tr(
        "Made {span} ago by the device's clock: it travelled, or its clock is slow.",
        span=span,
    )


def arrived_line(bundle: Incoming, names: Mapping[str, str]) -> str:
    """Describe one received bundle in a line."""
    name = names.get(bundle.device_id, tr("a device"))
    count = outcome_summary([("", one, "") for one in bundle.outcomes.values()])
    skew, when = skew_words(bundle.skew_ms), Moment(bundle.received_ms).date_and_time()
    aside = aside_words(bundle.pairs_aside or 0, bundle.uncompared or 0)
    parts = (
        tr("Bundle {sequence} from {name}", sequence=bundle.sequence, name=name),
        count,
        skew,
        aside,
        when,
    )
    return " · ".join(part for part in parts if part)


def look_words(new: int, photographs: int) -> str:
    """Say what a look into the folder brought.

    Args:
        new: How many files were new, photographs included.
        photographs: How many of them were photographs.
    """
    if not new:
        return tr("Nothing new.")
    if photographs == new:
        return tr("Photographs only.")
    return tr("{count} new: see above.", count=new - photographs)


def brought_words(new: int, known: int) -> str:
    """Say how many photographs came, and how many of those were here already."""
    if not new:
        return tr_plural(
            "Nothing new: {count} photograph that was here already.",
            "Nothing new: {count} photographs that were here already.",
            known,
        )
    came = tr("Photographs only: {count} came.", count=new)
    again = tr_plural(
        "Besides, {count} photograph that was here already.",
        "Besides, {count} photographs that were here already.",
        known,
    )
    return f"{came} {again}" if known else came


def spool_lines(stored: int, refused: Sequence[str]) -> tuple[str, ...]:
    """Say what became of hand-overs that came while the exams were locked."""
    if not stored and not refused:
        return ()
    told = tr_plural(
        "{count} hand-over that came while the exams were locked was stored now.",
        "{count} hand-overs that came while the exams were locked were stored now.",
        stored,
    )
    return (*((told,) if stored else ()), *refused)


def spool_waiting_words(count: int) -> str:
    """Say how many photographs that came meanwhile cannot be kept for now."""
    if not count:
        return ""
    return tr_plural(
        "{count} photograph that came while the exams were locked waits for its record "
        "or for room.",
        "{count} photographs that came while the exams were locked wait for their "
        "records or for room.",
        count,
    )


def gap_lines(devices: Sequence[DeviceNow]) -> tuple[str, ...]:
    """Name every bundle that was sent and did not arrive, by device."""
    return tuple(
        tr(
            "{device}: {missing}. Ask for it: the device can show it again.",
            device=one.device.name or tr("A device"),
            missing=missing_words(one.missing),
        )
        for one in devices
        if one.missing
    )


def clock_lines(devices: Sequence[DeviceNow]) -> tuple[str, ...]:
    """Name every device whose clock was ahead when it last sent something."""
    return tuple(
        tr(
            "{device}: {clock} Set it right; its records keep the times it noted.",
            device=one.device.name or tr("A device"),
            clock=skew_words(one.skew_ms),
        )
        for one in devices
        if one.skew_ms >= SKEW_SAID_FROM_MS
    )


def _span(milliseconds: int) -> str:
    minutes = milliseconds // 60_000
    if minutes < 120:
        return f"{minutes} min"
    hours = minutes // 60
    if hours < 48:
        return f"{hours} h"
    return tr_plural("{count} day", "{count} days", hours // 24)
