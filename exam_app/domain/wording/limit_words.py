"""The words of a flag: where a value lies, and against how many ranges.

The words say where a number lies and never what an animal has. Where ranges disagree
they say how many hold the value and how many do not: no word stands for all of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from exam_app.domain.measure.conversion import plain_number, with_unit
from exam_app.domain.protocol.limits import FlagLevel, Limits

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
    return f"{places[:1].upper()}{places[1:]} ({rows[0].source})"


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
        text = _beside_far_off(places, len(held))
    elif held:
        others = _counted([place for place in places if place != "inside"])
        text = f"inside {len(held)} of {len(rows)} published ranges, {others}"
    elif len(set(places)) == 1:
        text = f"{places[0]} {_all_of(len(rows))}"
    else:
        text = f"between the published ranges: {_counted(places)}"
    return text + _near(level, len(rows), with_unit(plain_number(step), unit), held)


def _place(value: Decimal, limits: Limits) -> str:
    if limits.holds(value):
        return "inside"
    is_high = limits.high is not None and value > limits.high
    return "above" if is_high else "below"


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


def _beside_far_off(places: Sequence[str], held: int) -> str:
    counted = _counted([place for place in places if place != "inside"])
    aside = "one" if held == 1 else str(held)
    of_all = f"{counted} of {len(places)} published ranges"
    return f"{of_all}, inside {aside} far off"


def _near(level: FlagLevel, count: int, step: str, held: Sequence[Compared]) -> str:
    if level not in _NEAR:
        return ""
    if held and not all(row.far_off for row in held):
        name = "counting step" if count == 1 else "step"
        return f", near the {_NEAR[level]} limit ({name} {step})"
    if count == 1:
        return f" by one counting step ({step}) or less"
    return f", the nearest by {step} or less"
