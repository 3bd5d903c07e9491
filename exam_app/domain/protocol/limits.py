"""Where a number lies against one or more pairs of limits, and the words that say so.

The words say where a number lies and never what an animal has. Where ranges disagree
they say how many hold the value and how many do not: no word stands for all of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from exam_app.domain.measure.conversion import plain_number, with_unit
from exam_app.domain.wording.phrases import capital

_INFINITE = Decimal("Infinity")


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

    @property
    def ends(self) -> tuple[Decimal, Decimal]:
        """Both ends as numbers; an open one is infinite."""
        low = _INFINITE.copy_negate() if self.low is None else self.low
        return low, _INFINITE if self.high is None else self.high

    def holds(self, value: Decimal) -> bool:
        """Say whether a value lies between the ends, ends included."""
        low, high = self.ends
        return low <= value <= high


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
        above = [value - r.ends[1] for r in ranges if value > r.ends[1]]
        below = [r.ends[0] - value for r in ranges if value < r.ends[0]]
        if above and (not below or min(above) <= min(below)):
            return FlagLevel.NEAR_HIGH if min(above) <= step else FlagLevel.ABOVE
        return FlagLevel.NEAR_LOW if min(below) <= step else FlagLevel.BELOW
    if all(limits.ends[1] - value < step for limits in holding):
        return FlagLevel.NEAR_HIGH
    if all(value - limits.ends[0] < step for limits in holding):
        return FlagLevel.NEAR_LOW
    return FlagLevel.WITHIN


_NEAR = {FlagLevel.NEAR_LOW: "lower", FlagLevel.NEAR_HIGH: "upper"}


@dataclass(frozen=True, slots=True)
class Compared:
    """A range that was compared.

    Attributes:
        source: Its source as printed between brackets.
        far_off: Whether it stands far off the others.
    """

    limits: Limits
    source: str
    far_off: bool = False


def range_text(limits: Limits, unit: str) -> str:
    """Return a range as printed: ``60–120/min``, ``up to 2 s``, ``from 220/min``."""
    low, high = limits.low, limits.high
    if low is not None and high is not None:
        return with_unit(f"{plain_number(low)}–{plain_number(high)}", unit)
    if high is not None:
        return f"up to {with_unit(plain_number(high), unit)}"
    return f"from {with_unit(plain_number(low or Decimal(0)), unit)}"


def range_line(value: Decimal, rows: Sequence[Compared], unit: str) -> str:
    """Return the line of one source: ``Inside 60–120/min (Merck, 2020)``.

    Args:
        value: The value, rounded as it was compared.
        rows: The source's ranges; at least one.
        unit: Unit of value and ranges.
    """
    places = ", ".join(
        f"{_place(value, row.limits)} {range_text(row.limits, unit)}"
        f"{', far off the others' * row.far_off}"
        for row in rows
    )
    return f"{capital(places)} ({rows[0].source})"


def summary(
    level: FlagLevel,
    value: Decimal,
    rows: Sequence[Compared],
    step: Decimal,
    unit: str,
) -> str:
    """Return where a value lies and against how many ranges, in a dozen words.

    Args:
        level: The level found for the value.
        value: The value, rounded as it was compared.
        rows: The ranges compared; at least one.
        step: One counting step; 0 for what is not counted.
        unit: Unit of value and step.
    """
    places = [_place(value, row.limits) for row in rows]
    held = [row for row in rows if row.limits.holds(value)]
    if len(held) == len(rows):
        text = f"inside {_all_of(len(rows))}"
    elif all(row.far_off for row in held) and held:
        aside = "one" if len(held) == 1 else str(len(held))
        of_all = f"{_counted(places)} of {len(places)} published ranges"
        text = f"{of_all}, inside {aside} far off"
    elif held:
        inside = f"inside {len(held)} of {len(rows)} published ranges"
        text = f"{inside}, {_counted(places)}"
    elif len(set(places)) == 1:
        text = f"{places[0]} {_all_of(len(rows))}"
    else:
        text = f"between the published ranges: {_counted(places)}"
    return text + _near(level, len(rows), with_unit(plain_number(step), unit), held)


def _place(value: Decimal, limits: Limits) -> str:
    if limits.holds(value):
        return "inside"
    return "above" if value > limits.ends[1] else "below"


def _all_of(count: int) -> str:
    if count == 1:
        return "the published range"
    return f"{'both' if count == 2 else f'all {count}'} published ranges"


def _counted(places: Sequence[str]) -> str:
    """Count the places in words: ``above 2, below 1``."""
    return ", ".join(
        f"{place} {places.count(place)}"
        for place in ("above", "below")
        if place in places
    )


def _near(level: FlagLevel, count: int, step: str, held: Sequence[Compared]) -> str:
    if level not in _NEAR:
        return ""
    if held and not all(row.far_off for row in held):
        name = "counting step" if count == 1 else "step"
        return f", near the {_NEAR[level]} limit ({name} {step})"
    if count == 1:
        return f" by one counting step ({step}) or less"
    return f", the nearest by {step} or less"
