"""Numbers as typed, their units, and exact conversion between units.

Rules kept here: what was typed is kept; arithmetic is exact (fractions, never
floats), so 101.3 °F is 38.5 °C and nothing else; a result is rounded once, to the
item's own step, halves away from zero; a unit of another dimension is refused,
and beats, breaths and contractions are dimensions of their own.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Any

import pint

from exam_app.domain.errors import UnitMismatchError

_UNIT_LABELS = {
    "degC": "°C",
    "degF": "°F",
    "inch": "in",
    "beat/min": "/min",
    "breath/min": "/min",
    "contraction/min": "/min",
}


@dataclass(frozen=True, slots=True)
class Measure:
    """One thing that is measured, as a protocol describes it.

    Args:
        measure_id: The protocol's id.
        label: The trade's term.
        plain_label: The same in plain words.
        unit: The unit readings are compared in, such as ``kg`` or ``beat/min``.
        units_offered: Units on the screen, in order; the first is the default.
        precision: The step a value is rounded to before comparing, in ``unit``.
        plausible_low: Below this the typing is asked about, in ``unit``.
        plausible_high: Above this the typing is asked about, in ``unit``.
    """

    measure_id: str
    label: str
    plain_label: str
    unit: str
    units_offered: tuple[str, ...]
    precision: Decimal
    plausible_low: Decimal | None = None
    plausible_high: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """One value as typed.

    Args:
        typed: The text as typed, without the spaces around it.
        unit: The unit typed, or the one chosen beside the field.
        value: The number typed, in ``unit``, with its digits unchanged.
    """

    typed: str
    unit: str
    value: Decimal


@cache
def registry() -> pint.UnitRegistry[Any]:
    """Return the one unit registry, built at the first call.

    Magnitudes are fractions, so that a conversion is exact. Pint's own pound is
    the international one, 0.45359237 kg.
    """
    units: pint.UnitRegistry[Any] = pint.UnitRegistry(non_int_type=Fraction)
    units.define("beat = [heartbeat]")
    units.define("breath = [respiration]")
    units.define("contraction = [contraction]")
    return units


def is_same_dimension(unit: str, other: str) -> bool:
    """Say whether two units measure the same thing; an unknown unit never does."""
    try:
        return bool(registry().Unit(unit).is_compatible_with(other))
    except (pint.UndefinedUnitError, pint.DefinitionSyntaxError):
        return False


def require_unit(item: str, given: str, expected: str) -> None:
    """Refuse a unit that does not measure what ``expected`` measures.

    Raises:
        UnitMismatchError: The dimensions differ, or the unit is not known.
    """
    if not is_same_dimension(given, expected):
        raise UnitMismatchError(item, given, expected)


def convert(value: Decimal, unit: str, to_unit: str) -> Fraction:
    """Return a value in another unit, exactly.

    Raises:
        UnitMismatchError: The units measure different things.
    """
    require_unit("value", unit, to_unit)
    quantity = registry().Quantity(Fraction(value), unit)
    return Fraction(quantity.to(to_unit).magnitude)


def round_to_step(value: Fraction, step: Decimal) -> Decimal:
    """Return the multiple of ``step`` nearest to a value, halves away from zero.

    The result carries as many decimals as the step. Halves away from zero is what
    a person does on paper; half-even would turn 38.45 into 38.4.

    Raises:
        ValueError: The step is not above zero.
    """
    if step <= 0:
        message = "a step is above zero"
        raise ValueError(message)
    doubled = 2 * abs(value) / Fraction(step)
    steps = (doubled.numerator + doubled.denominator) // (2 * doubled.denominator)
    return (-steps if value < 0 else steps) * step


def in_unit(reading: Reading, unit: str, precision: Decimal) -> Decimal:
    """Return a reading in a unit, rounded once to the item's step.

    Args:
        reading: A value as typed.
        unit: The unit wanted, of the same dimension.
        precision: The step to round to, in ``unit``; halves go away from zero.

    Returns:
        The value with the step's own number of decimals.

    Raises:
        UnitMismatchError: The reading measures something else.
    """
    return round_to_step(convert(reading.value, reading.unit, unit), precision)


def is_plausible(reading: Reading, measure: Measure) -> bool:
    """Say whether a reading lies within the measure's typing guard, ends included.

    An implausible reading is asked about, never refused, and is no finding.

    Raises:
        UnitMismatchError: The reading measures something else.
    """
    value = convert(reading.value, reading.unit, measure.unit)
    low, high = measure.plausible_low, measure.plausible_high
    is_low = low is not None and value < Fraction(low)
    is_high = high is not None and value > Fraction(high)
    return not is_low and not is_high


def unit_label(unit: str) -> str:
    """Return a unit as it is printed: ``°C``, ``/min``, ``kg``."""
    return _UNIT_LABELS.get(unit, unit)


def with_unit(number: str, unit: str) -> str:
    """Return a number and its unit as printed: ``10.2 kg``, ``124/min``."""
    label = unit_label(unit)
    return number + label if label.startswith("/") else f"{number} {label}"


def plain_number(value: Decimal) -> str:
    """Return a number without exponent, its digits as given."""
    return format(value, "f")


def show(reading: Reading, measure: Measure) -> str:
    """Return the text as typed with its unit, and the compared value if it differs.

    Returns:
        ``10.2 kg``, or ``22 lb 9 oz (10.2 kg)`` when the unit is not the measure's.

    Raises:
        UnitMismatchError: The reading measures something else.
    """
    value = in_unit(reading, measure.unit, measure.precision)
    text = reading.typed
    if text[-1:].isdigit():
        text = with_unit(text, reading.unit)
    if reading.unit == measure.unit:
        return text
    return f"{text} ({with_unit(plain_number(value), measure.unit)})"
