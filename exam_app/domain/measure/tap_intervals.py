"""What the times between taps show: how even they are, and what looks like a slip.

Nothing here calls a rhythm regular or irregular. A tapping finger adds its own
unevenness, and healthy animals are uneven too: resting dogs speed up as they
breathe in.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal, localcontext
from enum import StrEnum
from fractions import Fraction
from statistics import median

from exam_app.domain.measure.conversion import round_to_step

_HUNDREDTH = Decimal("0.01")
_TENTH = Decimal("0.1")
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


@dataclass(frozen=True, slots=True)
class IntervalSpread:
    """How even the tap intervals are, in numbers only.

    Args:
        intervals: How many there are.
        shortest_ms: The shortest, in ms.
        longest_ms: The longest, in ms.
        coefficient_of_variation: Sample standard deviation over mean, to 0.01.
    """

    intervals: int
    shortest_ms: int
    longest_ms: int
    coefficient_of_variation: Decimal


class Gap(StrEnum):
    """What an interval out of line looks like."""

    MISSED_TAP = "missed_tap"
    DOUBLE_TAP = "double_tap"


@dataclass(frozen=True, slots=True)
class GapHint:
    """One interval out of line: before which tap (counted from 1), and what to do."""

    before_tap: int
    gap: Gap
    text: str


def spread_of(intervals: Sequence[int]) -> IntervalSpread:
    """Describe intervals in ms; at least two."""
    deviation, mean = standard_deviation(intervals), _mean(intervals)
    return IntervalSpread(
        len(intervals),
        min(intervals),
        max(intervals),
        round_to_step(Fraction(deviation) / mean, _HUNDREDTH),
    )


def standard_deviation(intervals: Sequence[int]) -> Decimal:
    """Return the sample standard deviation of at least two intervals, in ms."""
    mean = _mean(intervals)
    differences = [interval - mean for interval in intervals]
    squares = sum((apart * apart for apart in differences), Fraction(0))
    variance = squares / (len(intervals) - 1)
    with localcontext(prec=28):
        return (Decimal(variance.numerator) / Decimal(variance.denominator)).sqrt()


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
        error = standard_deviation(intervals) / Decimal(len(intervals)).sqrt()
        half_width = student_t(len(intervals) - 1) * error * 60_000 / mean_ms**2
        return max(_TENTH, half_width.quantize(_TENTH, rounding=ROUND_CEILING))


def first_gap(intervals: Sequence[int]) -> GapHint | None:
    """Return the first interval about twice, or about half, the median one.

    The bounds, 1.7 and 0.55 of the median, are our own choice: an even rhythm with
    one slip gives 2 or less than 0.5, and sinus arrhythmia with a spread of 0.2
    stays between 0.6 and 1.4 nineteen times in twenty.
    """
    middle = Fraction(median(map(Fraction, intervals)))
    for position, interval in enumerate(intervals, start=2):
        if interval >= _LONG_GAP * middle:
            text = (
                f"The time before tap {position} is about twice the others: "
                "a tap may have been missed. Count again if unsure."
            )
            return GapHint(position, Gap.MISSED_TAP, text)
        if interval <= _SHORT_GAP * middle:
            text = (
                f"Tap {position} came very soon after the one before: "
                "one beat may have been tapped twice. Count again if unsure."
            )
            return GapHint(position, Gap.DOUBLE_TAP, text)
    return None


def _mean(intervals: Sequence[int]) -> Fraction:
    return Fraction(sum(intervals), len(intervals))
