"""The sentence beside a flag: where a value lies and which ranges were compared.

The words say where a number lies and never what an animal has.
"""

from collections.abc import Sequence
from decimal import Decimal

from exam_app.domain.conversion import plain_number, with_unit
from exam_app.domain.limits import FlagLevel, Limits, is_beyond_all


def range_text(limits: Limits, unit: str) -> str:
    """Return a range as printed: ``60–120/min``, ``up to 2 s``, ``from 220/min``."""
    low, high = limits.low, limits.high
    if low is not None and high is not None:
        return with_unit(f"{plain_number(low)}–{plain_number(high)}", unit)
    if high is not None:
        return f"up to {with_unit(plain_number(high), unit)}"
    return f"from {with_unit(plain_number(low or Decimal(0)), unit)}"


def place_text(level: FlagLevel, value: Decimal, ranges: Sequence[Limits]) -> str:
    """Return where a value lies, up to the ranges that are listed after it.

    Args:
        level: The level found for the value.
        value: The value, rounded as it was compared.
        ranges: The ranges compared; at least one.
    """
    is_one = len(ranges) == 1
    if level in {FlagLevel.NEAR_LOW, FlagLevel.NEAR_HIGH}:
        is_inside = any(limits.holds(value) for limits in ranges)
        low, high = ("near", "near") if is_inside else ("just below", "just above")
        place = (
            f"{low} the lower" if level is FlagLevel.NEAR_LOW else f"{high} the upper"
        )
        return f"{place} limit of the published {'range' if is_one else 'ranges'}"
    if level is FlagLevel.WITHIN:
        one_of = "" if is_one else "at least one of "
        return f"within {one_of}the published {'range' if is_one else 'ranges'}"
    if not is_beyond_all(value, ranges):
        return "between the published ranges"
    each = "the published range" if is_one else "each of the published ranges"
    return f"{level.value} {each}"
