"""What the count timer shows at each moment, and what a run of taps says.

A count along: three seconds of lead-in, then the window, then stop. Both turns are a
change of the whole screen, so that they are seen at two metres with both hands on
the animal, and no sound is needed.
"""

from dataclasses import dataclass
from enum import StrEnum

from exam_app.domain.exam.exam import Exam
from exam_app.domain.measure.conversion import plain_number
from exam_app.domain.measure.counting import (
    FEWEST_TAPS,
    ClockStart,
    CountAlong,
    CountKind,
    TapTimes,
    interval_spread,
    offered_windows,
    rate,
    suspicious_gap,
)
from exam_app.domain.protocol.intervals import applicable
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital
from exam_app.language.catalogue import to_translate, tr, tr_plural

LEAD_IN_MS = 3000
FLASH_MS = 700
_MOST_DIGITS = 3

COUNTED = {
    CountKind.HEART: to_translate("beats"),
    CountKind.PULSE: to_translate("pulses"),
    CountKind.BREATH: to_translate("breaths"),
    CountKind.CONTRACTION: to_translate("contractions"),
}
_WHAT_TO_COUNT = {
    CountKind.HEART: to_translate("Count the beats: the first is one"),
    CountKind.PULSE: to_translate("Count the pulses: the first is one"),
    CountKind.BREATH: to_translate("Count the breaths: the first is one"),
    CountKind.CONTRACTION: to_translate("Count the contractions: the first is one"),
}
_WHAT_TO_TAP = {
    CountKind.HEART: to_translate("Tap each beat"),
    CountKind.PULSE: to_translate("Tap each pulse"),
    CountKind.BREATH: to_translate("Tap each breath"),
    CountKind.CONTRACTION: to_translate("Tap each contraction"),
}


def count_kind(vital: Vital) -> CountKind:
    """Say what is counted for a rate."""
    return vital.counted or CountKind.HEART


def expected_rate(exam: Exam, protocol: SpeciesProtocol, vital: Vital) -> int | None:
    """Return the rate to be ready for: the last count, else the highest usual one."""
    entry = exam.vital(vital.vital_id)
    if entry.reading is not None:
        return int(entry.reading.value)
    if vital.measure is None or not exam.life_stage:
        return None
    highs = [
        row.high
        for row in applicable(
            protocol.intervals,
            vital.measure.measure_id,
            exam.life_stage,
            exam.setting.value,
            "",
        )
        if row.high is not None
    ]
    return int(max(highs)) if highs else None


def windows_for(exam: Exam, protocol: SpeciesProtocol, vital: Vital) -> tuple[int, ...]:
    """Return the count windows in seconds, the one to use first in front."""
    return offered_windows(expected_rate(exam, protocol, vital), count_kind(vital))


class CountPhase(StrEnum):
    """Where a count along stands."""

    LEAD_IN = "lead-in"
    COUNTING = "counting"
    OVER = "over"


@dataclass(frozen=True, slots=True)
class CountFrame:
    """What fills the screen.

    Attributes:
        big: The number or word readable at two metres.
        caption: What to do.
        is_flash: The first moment of a phase: the screen is drawn inverted.
        until_next_ms: How long this frame stands; 0 when it stands for good.
    """

    phase: CountPhase
    big: str
    caption: str
    is_flash: bool
    until_next_ms: int


def frame_at(elapsed_ms: int, seconds: int, kind: CountKind) -> CountFrame:
    """Return the frame of a count along.

    Args:
        elapsed_ms: Since the start button, in ms.
        seconds: Length of the window.
        kind: What is counted.
    """
    if elapsed_ms < LEAD_IN_MS:
        left = LEAD_IN_MS - elapsed_ms
        return CountFrame(
            CountPhase.LEAD_IN,
            str(_ceil_s(left)),
            tr("Get ready"),
            False,
            _to_whole(left),
        )
    counted_ms = elapsed_ms - LEAD_IN_MS
    left = seconds * 1000 - counted_ms
    if left <= 0:
        over_ms = -left
        is_flash = over_ms < FLASH_MS
        wait = FLASH_MS - over_ms if is_flash else 0
        return CountFrame(
            CountPhase.OVER, tr("STOP"), tr("Stop counting"), is_flash, wait
        )
    is_flash = counted_ms < FLASH_MS
    wait = min(_to_whole(left), FLASH_MS - counted_ms if is_flash else left)
    caption = tr(_WHAT_TO_COUNT[kind])
    big = tr("COUNT") if is_flash else str(_ceil_s(left))
    return CountFrame(CountPhase.COUNTING, big, caption, is_flash, wait)


def pad_digits(digits: str, key: str) -> str:
    """Add a digit of the count, or take the last one back with ``erase``."""
    if key == "erase":
        return digits[:-1]
    return (digits + key).lstrip("0")[:_MOST_DIGITS] or "0"


def counted(digits: str, seconds: int) -> CountAlong | None:
    """Return the count as evidence; ``None`` while no digit stands."""
    return CountAlong(int(digits), seconds) if digits else None


def basis_text(digits: str, seconds: int) -> str:
    """Show the rate a count gives while it is typed; empty without a digit."""
    evidence = counted(digits, seconds)
    return rate(evidence).basis if evidence else ""


# In ms of the server's steady clock; the first starts the clock.
Taps = tuple[int, ...]


def tap(taps: Taps, at_ms: int) -> Taps:
    """Add one tap; one in the same millisecond as the last is the same touch."""
    return taps if taps and at_ms <= taps[-1] else (*taps, at_ms)


def tap_times(taps: Taps) -> TapTimes:
    """Return the taps as evidence, counted from the first one."""
    return TapTimes(tuple(time - taps[0] for time in taps), ClockStart.FIRST_BEAT)


@dataclass(frozen=True, slots=True)
class TapSummary:
    """What a run of taps says so far.

    Attributes:
        big: The rate, or how many taps are still needed.
        spread: How even the taps are, in numbers; never a word on the rhythm.
        hint: A tap that looks missed or doubled; may be empty.
        is_enough: The run gives a rate and may be accepted.
    """

    big: str
    spread: str
    hint: str
    is_enough: bool


def tap_summary(run: Taps, kind: CountKind = CountKind.HEART) -> TapSummary:
    """Summarise a run of taps."""
    if len(run) < FEWEST_TAPS:
        left = FEWEST_TAPS - len(run)
        more = tr_plural("{count} more to go", "{count} more to go", left)
        return TapSummary(tr(_WHAT_TO_TAP[kind]), more, "", False)
    taps = tap_times(run)
    found, spread, gap = rate(taps), interval_spread(taps), suspicious_gap(taps)
    return TapSummary(
        f"{found.per_minute}/min ± {plain_number(found.uncertainty)}",
        tr(
            "{count} taps, {shortest}–{longest} ms apart, spread {spread}",
            count=len(run),
            shortest=spread.shortest_ms,
            longest=spread.longest_ms,
            spread=spread.coefficient_of_variation,
        ),
        gap,
        True,
    )


def _ceil_s(left_ms: int) -> int:
    return -(-left_ms // 1000)


def _to_whole(left_ms: int) -> int:
    return left_ms % 1000 or 1000
