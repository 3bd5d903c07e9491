"""Sums of the trade, each with its source, its range and the sum written out.

Nothing here advises: energy, fluid and index are shown "for the veterinarian", who
decides. Arithmetic is decimal; what is shown is rounded once, at the end.
"""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Context, Decimal

from exam_app.domain.errors import ExamError
from exam_app.domain.measure.conversion import plain_number

PI = Decimal("3.14159265358979323846264338328")
_ARITHMETIC = Context(prec=28, rounding=ROUND_HALF_UP)
_THREE_QUARTERS = Decimal("0.75")
_MAINTENANCE = {"dog": 132, "cat": 80}
_LINEAR_FROM, _LINEAR_UNTIL = 2, 45


class SumError(ExamError):
    """A number that goes into a sum is outside what the sum is for."""

    advice = (
        "This sum cannot be done with these numbers. Nothing was changed. "
        "Check the numbers and their units."
    )


@dataclass(frozen=True, slots=True)
class Sum:
    """One worked sum.

    Attributes:
        value: The result, rounded as shown.
        unit: As printed: ``kcal/day``, ``mL``, ``%``; empty for an index.
        written: The sum with its numbers in place.
        note: Range of validity, and what the source warns of.
        is_for_veterinarian: Shown as "for the veterinarian", who decides.
    """

    label: str
    value: Decimal
    unit: str
    written: str
    source_id: str
    note: str = ""
    is_for_veterinarian: bool = True

    @property
    def shown(self) -> str:
        """The result with its unit."""
        return f"{plain_number(self.value)} {self.unit}".strip()


def resting_energy(weight_kg: Decimal) -> tuple[Sum, ...]:
    """Return resting energy by the exponential rule, and the linear one where it holds.

    Args:
        weight_kg: Above zero; the veterinarian says whether actual or ideal weight.

    Raises:
        SumError: The weight is not above zero.
    """
    _above_zero(weight_kg, "weight")
    kg = plain_number(weight_kg)
    power = _ARITHMETIC.power(weight_kg, _THREE_QUARTERS)
    found = Sum(
        "Resting energy",
        _rounded(70 * power, "1"),
        "kcal/day",
        f"70 × {kg} kg to the power 0.75",
        "merck_nutr",
        "The veterinarian says whether actual or ideal weight is meant.",
    )
    if not _LINEAR_FROM <= weight_kg <= _LINEAR_UNTIL:
        return (found,)
    linear = Sum(
        "Resting energy, straight-line rule",
        _rounded(30 * weight_kg + 70, "1"),
        "kcal/day",
        f"30 × {kg} kg + 70",
        "merck_nutr",
        "For 2 to 45 kg only; it differs from the other rule.",
    )
    return (found, linear)


def fluid_deficit(weight_kg: Decimal, percent: Decimal) -> Sum:
    """Return the fluid missing at a stated percentage of dehydration.

    Args:
        weight_kg: Above zero.
        percent: Above 0 and at most 15, as the veterinarian stated it; bedside
            estimates are poor, so none is offered.

    Raises:
        SumError: A number is outside.
    """
    _above_zero(weight_kg, "weight")
    if not 0 < percent <= 15:
        raise SumError("dehydration is above 0 and at most 15 percent")
    return Sum(
        "Fluid deficit",
        _rounded(weight_kg * percent * 10, "1"),
        "mL",
        f"{plain_number(weight_kg)} kg × {plain_number(percent)} %",
        "zuku",
        "Some texts multiply by 0.6. Never started without an order.",
    )


def maintenance_fluid(species: str, weight_kg: Decimal) -> Sum:
    """Return a day's maintenance fluid of a dog or a cat.

    Raises:
        SumError: There is no rule for the species, or the weight is not above zero.
    """
    _above_zero(weight_kg, "weight")
    if species not in _MAINTENANCE:
        raise SumError("the rule is for dogs and cats only")
    factor = _MAINTENANCE[species]
    power = _ARITHMETIC.power(weight_kg, _THREE_QUARTERS)
    return Sum(
        "Maintenance fluid",
        _rounded(factor * power, "1"),
        "mL/day",
        f"{factor} × {plain_number(weight_kg)} kg to the power 0.75",
        "aaha2013fluid",
        "Other rules give other amounts. Never started without an order.",
    )


def weight_change(before_kg: Decimal, now_kg: Decimal) -> Sum:
    """Return a change of weight in percent of the weight before.

    Raises:
        SumError: A weight is not above zero.
    """
    _above_zero(before_kg, "weight before")
    _above_zero(now_kg, "weight now")
    change = _ARITHMETIC.divide(100 * (now_kg - before_kg), before_kg)
    before, now = plain_number(before_kg), plain_number(now_kg)
    return Sum(
        "Change of weight",
        _rounded(change, "0.1"),
        "%",
        f"({now} kg - {before} kg) / {before} kg",
        "common_practice",
        "Common practice, no source. Two scales differ.",
        is_for_veterinarian=False,
    )


def lump_volume(dimensions_mm: tuple[Decimal, ...]) -> Sum:
    """Return a lump's volume as an ellipsoid.

    Args:
        dimensions_mm: Length and width, or length, width and height, longest first,
            each above zero.

    Raises:
        SumError: There are not two or three, or one is not above zero.
    """
    if len(dimensions_mm) not in {2, 3}:
        raise SumError("a volume needs two or three sizes")
    for size in dimensions_mm:
        _above_zero(size, "size")
    sizes = (*dimensions_mm, dimensions_mm[1])[:3]
    volume = PI / 6 * sizes[0] * sizes[1] * sizes[2]
    assumed = "Height not measured: taken as the width. "
    return Sum(
        "Lump volume",
        _rounded(volume, "1"),
        "mm³",
        f"π/6 × {' × '.join(plain_number(size) for size in sizes)} mm",
        "tumvol",
        assumed * (len(dimensions_mm) == 2)
        + "Callipers differ between people; keep one rule through a series.",
    )


_INDEX_NOTES = {
    "dog": (
        "Published for dogs: 1.0 by one study, 0.9 by another, below the median of "
        "its own healthy dogs."
    ),
    "cat": (
        "Healthy cats had a mean of 1.47 and the study's own mark was 1.54: never "
        "the dog's mark."
    ),
}


_INDEX_SOURCES = {"cat": "fadel2025"}


def shock_index(species: str, heart_rate: Decimal, systolic: Decimal) -> Sum:
    """Return heart rate divided by a measured systolic pressure.

    Args:
        species: Decides what was published beside it; other species have nothing.
        heart_rate: Beats a minute, above zero.
        systolic: In mmHg, measured, above zero.

    Raises:
        SumError: A number is not above zero.
    """
    _above_zero(heart_rate, "heart rate")
    _above_zero(systolic, "systolic pressure")
    return Sum(
        "Shock index",
        _rounded(_ARITHMETIC.divide(heart_rate, systolic), "0.01"),
        "",
        f"{plain_number(heart_rate)} / {plain_number(systolic)} mmHg",
        _INDEX_SOURCES.get(species, "porter2013"),
        _INDEX_NOTES.get(species, "Nothing was published here for this species."),
    )


def _above_zero(value: Decimal, name: str) -> None:
    if value <= 0:
        raise SumError(f"{name} is above zero")


def _rounded(value: Decimal, step: str) -> Decimal:
    return value.quantize(Decimal(step), ROUND_HALF_UP)
