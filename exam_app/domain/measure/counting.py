"""Counting is evidence: the raw count or the tap times are kept, a rate is derived.

A clock started by a button falls anywhere between two beats, so every beat in the
window counts from one. A clock started by the first beat falls on a beat, so that
beat opens the first interval and is not counted: (taps - 1) / (last - first).

Taps never call a rhythm regular or irregular; words chosen by the examiner do. A
tapping finger adds its own unevenness, and healthy animals are uneven too: resting dogs
speed up as they breathe in.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal, localcontext
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise
from statistics import median, stdev

from exam_app.domain.errors import CountError
from exam_app.domain.measure.conversion import plain_number, round_to_step
from exam_app.domain.measure.pulse_sentences import (
    COUNTED_APART,
    EVERY_BEAT,
    MORE_PULSES,
    ONE_BEAT,
    ONE_OF_BOTH,
    SOME_BEATS,
    SOME_OF_BOTH,
)
from exam_app.language.catalogue import tr

WINDOWS = (10, 15, 20, 30, 60, 120, 300)
FEWEST_TAPS = 6
_TENTH = Decimal("0.1")
_HUNDREDTH = Decimal("0.01")
_LONG_GAP = Fraction(17, 10)
_SHORT_GAP = Fraction(55, 100)

# Student's t, 97.5 % point, for 4 to 10 degrees of freedom.
_T_975 = {
    4: Decimal("2.776"),
    5: Decimal("2.571"),
    6: Decimal("2.447"),
    7: Decimal("2.365"),
    8: Decimal("2.306"),
    9: Decimal("2.262"),
    10: Decimal("2.228"),
}
_Z_975 = Decimal("1.959964")


class ClockStart(StrEnum):
    """What started the clock of a run of taps."""

    BUTTON = "button"
    FIRST_BEAT = "first_beat"


class CountKind(StrEnum):
    """What is counted."""

    HEART = "heart"
    PULSE = "pulse"
    BREATH = "breath"
    CONTRACTION = "contraction"


@dataclass(frozen=True, slots=True)
class CountAlong:
    """A count made in a window whose clock was started by a button.

    Args:
        count: Beats or breaths counted in the window, the first one as one.
        seconds: Length of the window: 10, 15, 20, 30, 60, 120 or 300.
    """

    count: int
    seconds: int


@dataclass(frozen=True, slots=True)
class TapTimes:
    """A run of taps, one a beat.

    Args:
        offsets_ms: Milliseconds from the start of the clock, each above the one
            before; the first is 0 when the first beat started the clock.
        clock: What started the clock.
    """

    offsets_ms: tuple[int, ...]
    clock: ClockStart


Evidence = CountAlong | TapTimes


@dataclass(frozen=True, slots=True)
class Rate:
    """A rate derived from a count.

    Args:
        per_minute: The rate, per minute.
        uncertainty: Plus or minus, per minute.
        step: What one count more or less would change, per minute; the uncertainty
            for taps.
        basis: How it was reached, in a plain sentence.
    """

    per_minute: Decimal
    uncertainty: Decimal
    step: Decimal
    basis: str


def rate(evidence: Evidence) -> Rate:
    """Derive a rate per minute, its uncertainty and its counting step.

    A count along gives count x 60 / seconds, plus or minus one step: a regular
    rhythm is off by less than one step, an irregular one by more.

    Taps give (taps - 1) / (last - first), rounded to 0.1. The start of a clock
    started by a button is not used: a run of taps ends on a beat, and counting
    from that start would add half a beat. The uncertainty is the half-width of the
    95 % interval of the mean tap interval (Student's t), rounded up to 0.1. Times
    move in no counting step, so that uncertainty also stands as the step.

    Raises:
        CountError: A window that is not offered, a negative count, fewer than six
            taps, or taps that are not in order.

    References:
        Counting from one: Hwu 2000 (206 students against ECG). Six taps: Karlen
        2014 reached 5.6 % at about 40 breaths a minute with taps over 9.9 s, which
        is six to seven breaths.
    """
    if isinstance(evidence, CountAlong):
        return _rate_of_count(evidence)
    return _rate_of_taps(evidence)


def offered_windows(expected_rate: int | None, kind: CountKind) -> tuple[int, ...]:
    """Return the windows to offer, in seconds, the one offered first in front.

    Above 100/min, and while nothing is expected yet, 30 s comes first, since 15 s
    counts were unreliable there. A heart rate or pulse of 100/min or less starts
    at 15 s. Contractions of rumen and gut are slow and take minutes.

    Args:
        expected_rate: What is expected, per minute; None when nothing is known.
        kind: What is counted.

    References:
        Hollerbach 1990 (103 nurses).
    """
    if kind is CountKind.CONTRACTION:
        return (120, 300, 60)
    is_slow = expected_rate is not None and expected_rate <= 100
    if is_slow and kind is not CountKind.BREATH:
        return (15, 30, 60, 20, 10)
    return (30, 60, 20, 15, 10)


@dataclass(frozen=True, slots=True)
class IntervalSpread:
    """How even the tap intervals are, in numbers only.

    Args:
        shortest_ms: The shortest, in ms.
        longest_ms: The longest, in ms.
        coefficient_of_variation: Sample standard deviation over mean, to 0.01.
    """

    shortest_ms: int
    longest_ms: int
    coefficient_of_variation: Decimal


def interval_spread(taps: TapTimes) -> IntervalSpread:
    """Describe how even the tap intervals are.

    Raises:
        CountError: Fewer than six taps, or taps that are not in order.
    """
    intervals = _tap_intervals(taps)
    apart = Fraction(_deviation(intervals)) / _mean(intervals)
    spread = round_to_step(apart, _HUNDREDTH)
    return IntervalSpread(min(intervals), max(intervals), spread)


def suspicious_gap(taps: TapTimes) -> str:
    """Say which interval is about twice, or about half, the median one.

    The bounds, 1.7 and 0.55 of the median, are our own choice: an even rhythm with
    one slip gives 2 or less than 0.5, and sinus arrhythmia with a spread of 0.2
    stays between 0.6 and 1.4 nineteen times in twenty.

    Returns:
        A sentence about the first one that looks like a missed or a doubled tap, the
        taps counted from 1; empty when there is none.

    Raises:
        CountError: Fewer than six taps, or taps that are not in order.
    """
    intervals = _tap_intervals(taps)
    middle = Fraction(median(map(Fraction, intervals)))
    for position, interval in enumerate(intervals, start=2):
        if interval >= _LONG_GAP * middle:
            return tr(
                "The time before tap {position} is about twice the others: "
                "a tap may have been missed. Count again if unsure.",
                position=position,
            )
        if interval <= _SHORT_GAP * middle:
            return tr(
                "Tap {position} came very soon after the one before: "
                "one beat may have been tapped twice. Count again if unsure.",
                position=position,
            )
    return ""


def student_t(degrees_of_freedom: int) -> Decimal:
    """Return the 97.5 % point of Student's t for four or more degrees of freedom.

    A table up to ten, then the expansion in z, right to 0.0005.

    References:
        Abramowitz and Stegun, 26.7.5 (from memory; tested against SciPy).
    """
    if degrees_of_freedom in _T_975:
        return _T_975[degrees_of_freedom]
    z, freedom = _Z_975, Decimal(degrees_of_freedom)
    first = (z**3 + z) / (4 * freedom)
    second = (5 * z**5 + 16 * z**3 + 3 * z) / (96 * freedom**2)
    third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * freedom**3)
    return z + first + second + third


def rate_uncertainty(intervals: Sequence[int]) -> Decimal:
    """Return the 95 % half-width of the rate, per minute, rounded up to 0.1.

    The standard error of the mean interval over that mean, times the rate and
    Student's t. Perfectly even taps still give 0.1, the step of the rate itself.

    Args:
        intervals: Times between taps in ms; at least five.
    """
    mean = _mean(intervals)
    with localcontext(prec=28):
        mean_ms = Decimal(mean.numerator) / Decimal(mean.denominator)
        error = _deviation(intervals) / Decimal(len(intervals)).sqrt()
        half_width = student_t(len(intervals) - 1) * error * 60_000 / mean_ms**2
        return max(_TENTH, half_width.quantize(_TENTH, rounding=ROUND_CEILING))


def _mean(intervals: Sequence[int]) -> Fraction:
    return Fraction(sum(intervals), len(intervals))


def _deviation(intervals: Sequence[int]) -> Decimal:
    """Return the sample standard deviation of at least two intervals, in ms."""
    with localcontext(prec=28):
        return stdev(map(Decimal, intervals))


def _rate_of_count(evidence: CountAlong) -> Rate:
    count, seconds = evidence.count, evidence.seconds
    if seconds not in WINDOWS:
        raise CountError(tr("the window is none of those offered"))
    if count < 0:
        raise CountError(tr("a count is not below zero"))
    per_minute, step = Decimal(count * 60) / seconds, Decimal(60) / seconds
    factor = f" × {60 // seconds}" if seconds < 60 else f" ÷ {seconds // 60}"
    return Rate(
        per_minute,
        step,
        step,
        tr(
            "{count} in {sum} = {rate}/min, ± {step}",
            count=count,
            sum=f"{seconds} s{'' if seconds == 60 else factor}",
            rate=plain_number(per_minute),
            step=plain_number(step),
        ),
    )


def _rate_of_taps(taps: TapTimes) -> Rate:
    intervals = _tap_intervals(taps)
    exact = Fraction(60_000 * len(intervals), sum(intervals))
    per_minute = round_to_step(exact, _TENTH)
    uncertainty = rate_uncertainty(intervals)
    return Rate(
        per_minute,
        uncertainty,
        uncertainty,
        tr(
            "{intervals} intervals between {taps} taps in {seconds} s"
            " = {rate}/min, ± {uncertainty}",
            intervals=len(intervals),
            taps=len(taps.offsets_ms),
            seconds=round_to_step(Fraction(sum(intervals), 1000), _TENTH),
            rate=per_minute,
            uncertainty=uncertainty,
        ),
    )


def _tap_intervals(taps: TapTimes) -> tuple[int, ...]:
    """Return the times between taps, in ms, once the taps are fit to use."""
    offsets = taps.offsets_ms
    if len(offsets) < FEWEST_TAPS:
        raise CountError(
            tr(
                "{count} taps are too few, {needed} are needed",
                count=len(offsets),
                needed=FEWEST_TAPS,
            )
        )
    if offsets[0] < 0 or (taps.clock is ClockStart.FIRST_BEAT and offsets[0] != 0):
        raise CountError(tr("the first tap does not fit the start of the clock"))
    intervals = tuple(later - earlier for earlier, later in pairwise(offsets))
    if min(intervals) <= 0:
        raise CountError(tr("the taps are not in order"))
    return intervals


class PulseMethod(StrEnum):
    """How pulse and heartbeat were compared."""

    EVERY_BEAT_FELT = "every_beat_felt"
    COUNTED_TOGETHER = "counted_together"
    COUNTED_APART = "counted_apart"


@dataclass(frozen=True, slots=True)
class PulseComparison:
    """Beats without a pulse, or None when that cannot be said, and a sentence.

    The sentence is kept in a record, in English; ``pulse_words`` shows it.
    """

    deficit: int | None
    text: str


def pulse_comparison(
    method: PulseMethod,
    seconds: int | None = None,
    *,
    dropped: int | None = None,
    beats: int | None = None,
    pulses: int | None = None,
) -> PulseComparison:
    """Compare pulse and heartbeat, and state a deficit only when both ran together.

    Args:
        method: How they were compared; what it does not use is ``None``.
        seconds: How long both were attended to, in seconds.
        dropped: Beats heard without a pulse, for "every beat felt?"; 0 when each
            beat was felt.
        beats: Heartbeats counted.
        pulses: Pulses counted.

    Raises:
        CountError: A number the method needs is missing or below zero.
    """
    if method is PulseMethod.COUNTED_APART:
        return PulseComparison(None, COUNTED_APART)
    at = 1 if seconds else 0
    if method is PulseMethod.EVERY_BEAT_FELT:
        missed = _counted(dropped)
        if missed == 0:
            return PulseComparison(0, EVERY_BEAT[at].format(seconds=seconds))
        told = (ONE_BEAT if missed == 1 else SOME_BEATS)[at]
        return PulseComparison(missed, told.format(missed=missed, seconds=seconds))
    heard, felt = _counted(beats), _counted(pulses)
    if felt > heard:
        told = MORE_PULSES[at].format(felt=felt, heard=heard, seconds=seconds)
        return PulseComparison(None, told)
    missed = heard - felt
    told = (ONE_OF_BOTH if missed == 1 else SOME_OF_BOTH)[at].format(
        heard=heard, felt=felt, missed=missed, seconds=seconds
    )
    return PulseComparison(missed, told)


def _counted(number: int | None) -> int:
    if number is None or number < 0:
        raise CountError(tr("a number needed for this comparison is missing"))
    return number
