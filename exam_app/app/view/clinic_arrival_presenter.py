"""What arrived, in words: how far a scan is, what became of it, clocks, gaps."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from exam_app.app.queries.clinic_records import DeviceNow
from exam_app.app.view.clinic_pairing_presenter import missing_words
from exam_app.domain.moments import Moment
from exam_app.domain.wording.count_words import count_words
from exam_app.exchange.identity import aside_words
from exam_app.exchange.incoming import Incoming

# Common practice, no source: below two minutes nobody's order of events is confused.
SKEW_SAID_FROM_MS = 120_000
_OUTCOMES = {
    "stored": "stored",
    "had already": "already here",
    "revision": "stored as a newer version",
    "fork": "stored beside another version: read both",
    "quarantined": "set aside",
    "refused": "refused",
}
NO_CODE = (
    "No code is shown, since a part of this hand-over was set aside or refused. The "
    "signed receipt below says what became of each record."
)
CODE_MEANS = (
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
    words = "complete" if is_complete else f"{have} of {needed} codes"
    return Completeness(tag.hex()[:6], have / max(1, needed), words, is_complete)


def scan_words(read: int, strays: int) -> str:
    """Say how many codes were read, and how many belong to no hand-over."""
    if not read:
        return "No code was read yet."
    codes = count_words(read, "code was read", "codes were read")
    if not strays:
        return f"{codes}."
    return f"{codes}; {strays} of them belong to no hand-over and were passed over."


def outcome_lines(outcomes: Sequence[tuple[str, str, str]]) -> tuple[str, ...]:
    """Say what became of each record.

    Args:
        outcomes: Animal's name, outcome, and the reason where it was not stored.
    """
    lines = []
    for name, outcome, reason in outcomes:
        because = f" ({reason})" if reason else ""
        words = _OUTCOMES.get(outcome, outcome)
        lines.append(f"{name or 'A record'}: {words}{because}")
    return tuple(lines)


def outcome_summary(outcomes: Sequence[tuple[str, str, str]]) -> str:
    """Count the outcomes in one line, those that went well first."""
    counted = {
        words: sum(1 for _, outcome, _ in outcomes if outcome == key)
        for key, words in _OUTCOMES.items()
    }
    parts = [f"{count} {words}" for words, count in counted.items() if count]
    return ", ".join(parts) if parts else "no record in it"


def skew_words(skew_ms: int) -> str:
    """Say how a device's clock differed; empty below two minutes.

    What travelled for days on a stick looks slow; that is said too.
    """
    if abs(skew_ms) < SKEW_SAID_FROM_MS:
        return ""
    span = _span(abs(skew_ms))
    if skew_ms > 0:
        return f"The device's clock is {span} ahead of this computer's."
    return f"Made {span} ago by the device's clock: it travelled, or its clock is slow."


def arrived_line(bundle: Incoming, names: Mapping[str, str]) -> str:
    """Describe one received bundle in a line."""
    name = names.get(bundle.device_id, "a device")
    count = outcome_summary([("", one, "") for one in bundle.outcomes.values()])
    skew, when = skew_words(bundle.skew_ms), Moment(bundle.received_ms).date_and_time()
    aside = aside_words(bundle.pairs_aside or 0, bundle.uncompared or 0)
    parts = (f"Bundle {bundle.sequence} from {name}", count, skew, aside, when)
    return " · ".join(part for part in parts if part)


def look_words(new: int, photographs: int) -> str:
    """Say what a look into the folder brought.

    Args:
        new: How many files were new, photographs included.
        photographs: How many of them were photographs.
    """
    if not new:
        return "Nothing new."
    if photographs == new:
        return "Photographs only."
    return f"{new - photographs} new: see above."


def brought_words(new: int, known: int) -> str:
    """Say how many photographs came, and how many of those were here already."""
    again = count_words(known, "photograph that was", "photographs that were")
    if not new:
        return f"Nothing new: {again} here already."
    came = f"Photographs only: {new} came."
    return f"{came} Besides, {again} here already." if known else came


def spool_lines(stored: int, refused: Sequence[str]) -> tuple[str, ...]:
    """Say what became of hand-overs that came while the exams were locked."""
    if not stored and not refused:
        return ()
    came = count_words(stored, "hand-over that", "hand-overs that")
    were = "was" if stored == 1 else "were"
    told = f"{came} came while the exams were locked {were} stored now."
    return (*((told,) if stored else ()), *refused)


def spool_waiting_words(count: int) -> str:
    """Say how many photographs that came meanwhile cannot be kept for now."""
    if not count:
        return ""
    one = "photograph that came while the exams were locked waits for its record"
    more = "photographs that came while the exams were locked wait for their records"
    return f"{count_words(count, one, more)} or for room."


def gap_lines(devices: Sequence[DeviceNow]) -> tuple[str, ...]:
    """Name every bundle that was sent and did not arrive, by device."""
    return tuple(
        f"{one.device.name or 'A device'}: {missing_words(one.missing)}. "
        "Ask for it: the device can show it again."
        for one in devices
        if one.missing
    )


def clock_lines(devices: Sequence[DeviceNow]) -> tuple[str, ...]:
    """Name every device whose clock was ahead when it last sent something."""
    return tuple(
        f"{one.device.name or 'A device'}: {skew_words(one.skew_ms)} "
        "Set it right; its records keep the times it noted."
        for one in devices
        if one.skew_ms >= SKEW_SAID_FROM_MS
    )


def _span(milliseconds: int) -> str:
    minutes = milliseconds // 60_000
    if minutes < 120:
        return f"{minutes} min"
    hours = minutes // 60
    return f"{hours} h" if hours < 48 else f"{hours // 24} days"
