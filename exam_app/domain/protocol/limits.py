"""Where a number lies against one or more pairs of limits, arithmetic only."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class FlagLevel(StrEnum):
    """Where a reading lies against the published ranges that apply to it."""

    BELOW = "below"
    NEAR_LOW = "near_low"
    WITHIN = "within"
    NEAR_HIGH = "near_high"
    ABOVE = "above"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Limits:
    """A pair of limits, either end open when None; both ends count as within."""

    low: Decimal | None
    high: Decimal | None

    def holds(self, value: Decimal) -> bool:
        """Say whether a value lies between the ends, ends included."""
        is_low = self.low is not None and value < self.low
        is_high = self.high is not None and value > self.high
        return not is_low and not is_high


def level_of(value: Decimal, ranges: Sequence[Limits], step: Decimal) -> FlagLevel:
    """Place a value against all ranges at once.

    Inside any range is inside, and near only when every range that holds the value
    has its limit less than one step away: beyond it the value would be outside all.
    Outside all is near up to one whole step away, where one step less would be
    inside. Between two ranges the nearer end names the side, the lower range first.

    Args:
        value: The value.
        ranges: The ranges that apply, in the same unit; at least one.
        step: One counting step; 0 for what is not counted.
    """
    holding = [limits for limits in ranges if limits.holds(value)]
    if not holding:
        return _level_outside(value, ranges, step)
    if all(_room_above(value, limits, step) < step for limits in holding):
        return FlagLevel.NEAR_HIGH
    if all(_room_below(value, limits, step) < step for limits in holding):
        return FlagLevel.NEAR_LOW
    return FlagLevel.WITHIN


def _level_outside(
    value: Decimal, ranges: Sequence[Limits], step: Decimal
) -> FlagLevel:
    above = [
        value - limits.high
        for limits in ranges
        if limits.high is not None and value > limits.high
    ]
    below = [
        limits.low - value
        for limits in ranges
        if limits.low is not None and value < limits.low
    ]
    if above and (not below or min(above) <= min(below)):
        return FlagLevel.NEAR_HIGH if min(above) <= step else FlagLevel.ABOVE
    return FlagLevel.NEAR_LOW if min(below) <= step else FlagLevel.BELOW


def _room_above(value: Decimal, limits: Limits, step: Decimal) -> Decimal:
    return step if limits.high is None else limits.high - value


def _room_below(value: Decimal, limits: Limits, step: Decimal) -> Decimal:
    return step if limits.low is None else value - limits.low
