"""Exact conversion between units, on fractions and never on floats.

Floats would turn 101.3 °F into 38.50000000000006 °C and so flag it above 38.5. A
result is rounded once, to the item's own step, halves away from zero. Beats,
breaths and contractions are dimensions of their own, so none passes as another.
"""

import re
from decimal import Decimal
from fractions import Fraction
from functools import cache, lru_cache
from typing import Any

import pint

from exam_app.domain.errors import UnitMismatchError
from exam_app.domain.measure.known_units import unit_label

# Pint reckons what it reads: "9**9**9" of a stranger's file would never end.
_NAME = r"[^\W\d]\w{0,39}(?:\*\*[2-9])?"
_UNIT = re.compile(rf"(?:(?:1/)?{_NAME}(?:[*/]{_NAME}){{0,5}})?")


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
    units.define("international_unit = [biological_activity]")
    return units


@lru_cache(maxsize=512)
def is_same_dimension(unit: str, other: str) -> bool:
    """Say whether two units measure the same thing, and one becomes the other exactly.

    An unknown unit never does, nor a logarithmic one, which is no fraction.
    """
    if not (_UNIT.fullmatch(unit) and _UNIT.fullmatch(other)):
        return False
    try:
        converted = registry().Quantity(Fraction(1), unit).to(other).magnitude
    except (pint.PintError, TypeError, ValueError):
        return False
    # Where NumPy is absent, a logarithmic unit comes back as a float and unrefused.
    return isinstance(converted, Fraction)


@lru_cache(maxsize=512)
def is_same_unit(unit: str, other: str) -> bool:
    """Say whether two spellings name one unit: ``lb`` and ``pound`` do."""
    if not is_same_dimension(unit, other):
        return False
    return bool(registry().Unit(unit) == registry().Unit(other))


def require_unit(item: str, given: str, expected: str) -> None:
    """Refuse a unit that does not measure what ``expected`` measures.

    Raises:
        UnitMismatchError: The dimensions differ, or the unit is not known.
    """
    if not is_same_dimension(given, expected):
        raise UnitMismatchError(f"{item}: {given} is no unit of {expected}")


def convert(value: Decimal, unit: str, to_unit: str) -> Fraction:
    """Return a value in another unit, exactly.

    Raises:
        UnitMismatchError: The units measure different things.
    """
    require_unit("value", unit, to_unit)
    if unit == to_unit:
        # Most values are; pint would take as long as reading the whole record.
        return Fraction(value)
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


def with_unit(number: str, unit: str) -> str:
    """Return a number and its unit as printed: ``10.2 kg``, ``124/min``.

    Args:
        number: As printed.
        unit: Its id, or how it is printed where a practice's file brought it.
    """
    label = unit_label(unit)
    return number + label if label.startswith("/") else f"{number} {label}"


def plain_number(value: Decimal) -> str:
    """Return a number without exponent, its digits as given."""
    return format(value, "f")
