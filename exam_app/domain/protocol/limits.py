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
from exam_app.language.catalogue import to_translate, tr

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


# Where the numbers lie, said of one range, of both, and of every one.
_PLACES = ("above", "below")
_ALL_OF = {
    "inside": (
        to_translate("inside the published range"),
        to_translate("inside both published ranges"),
        to_translate("inside all {count} published ranges"),
    ),
    "above": (
        to_translate("above the published range"),
        to_translate("above both published ranges"),
        to_translate("above all {count} published ranges"),
    ),
    "below": (
        to_translate("below the published range"),
        to_translate("below both published ranges"),
        to_translate("below all {count} published ranges"),
    ),
}
_OF_RANGE = {
    "inside": to_translate("inside {range}"),
    "above": to_translate("above {range}"),
    "below": to_translate("below {range}"),
}
_COUNTED = {
    "above": to_translate("above {count}"),
    "below": to_translate("below {count}"),
}
# Near a limit: of one range compared, and of several.
_NEAR = {
    FlagLevel.NEAR_LOW: (
        to_translate("{place}, near the lower limit (counting step {step})"),
        to_translate("{place}, near the lower limit (step {step})"),
    ),
    FlagLevel.NEAR_HIGH: (
        to_translate("{place}, near the upper limit (counting step {step})"),
        to_translate("{place}, near the upper limit (step {step})"),
    ),
}


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
        return tr("up to {end}", end=with_unit(plain_number(high), unit))
    end = with_unit(plain_number(low or Decimal(0)), unit)
    return tr("from {end}", end=end)


def range_line(value: Decimal, rows: Sequence[Compared], unit: str) -> str:
    """Return the line of one source: ``Inside 60–120/min (Merck, 2020)``.

    Args:
        value: The value, rounded as it was compared.
        rows: The source's ranges; at least one.
        unit: Unit of value and ranges.
    """
    places = ", ".join(_of_range(value, row, unit) for row in rows)
    return f"{capital(places)} ({rows[0].source})"


def _of_range(value: Decimal, row: Compared, unit: str) -> str:
    place = _OF_RANGE[_place(value, row.limits)]
    said = tr(place, range=range_text(row.limits, unit))
    return tr("{place}, far off the others", place=said) if row.far_off else said


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
        text = _all_of("inside", len(rows))
    elif all(row.far_off for row in held) and held:
        far_off = to_translate(
            "{places} of {count} published ranges, inside one far off"
        )
        if len(held) > 1:
            far_off = to_translate(
                "{places} of {count} published ranges, inside {far_off} far off"
            )
        values = {"places": _counted(places), "count": len(places)}
        text = tr(far_off, **values, far_off=len(held))
    elif held:
        text = tr(
            "inside {inside} of {count} published ranges, {places}",
            inside=len(held),
            count=len(rows),
            places=_counted(places),
        )
    elif len(set(places)) == 1:
        text = _all_of(places[0], len(rows))
    else:
        text = tr("between the published ranges: {places}", places=_counted(places))
    return _near(text, level, len(rows), with_unit(plain_number(step), unit), held)


def _place(value: Decimal, limits: Limits) -> str:
    if limits.holds(value):
        return "inside"
    return "above" if value > limits.ends[1] else "below"


def _all_of(place: str, count: int) -> str:
    return tr(_ALL_OF[place][min(count, 3) - 1], count=count)


def _counted(places: Sequence[str]) -> str:
    """Count the places in words: ``above 2, below 1``."""
    said = [place for place in _PLACES if place in places]
    return ", ".join(tr(_COUNTED[one], count=places.count(one)) for one in said)


def _near(
    place: str, level: FlagLevel, count: int, step: str, held: Sequence[Compared]
) -> str:
    """Return where a value lies, and how near a limit that is."""
    if level not in _NEAR:
        return place
    if held and not all(row.far_off for row in held):
        return tr(_NEAR[level][count > 1], place=place, step=step)
    if count == 1:
        near = to_translate("{place} by one counting step ({step}) or less")
        return tr(near, place=place, step=step)
    return tr("{place}, the nearest by {step} or less", place=place, step=step)
