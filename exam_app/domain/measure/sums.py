"""Sums of the trade, each with its source, its range and the sum written out.

Nothing here advises: energy, fluid and index are shown "for the veterinarian", who
decides. Arithmetic is decimal; what is shown is rounded once, at the end. There is no
list of drugs and no dose is proposed: prescriber, dose, concentration and weight are
typed; units must cancel to millilitres or the sum is refused; the volume is rounded to
what the syringe can show, and how far that is from the exact one is said.
"""

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Context, Decimal
from fractions import Fraction

import pint

from exam_app.domain.errors import ExamError
from exam_app.domain.measure.conversion import (
    convert,
    plain_number,
    registry,
    round_to_step,
)
from exam_app.domain.measure.units import Reading, read_parts
from exam_app.language.catalogue import to_translate, tr

PI = Decimal("3.14159265358979323846264338328")
_ARITHMETIC = Context(prec=28, rounding=ROUND_HALF_UP)
_THREE_QUARTERS = Decimal("0.75")
_MAINTENANCE = {"dog": 132, "cat": 80}
_LINEAR_FROM, _LINEAR_UNTIL = 2, 45


class SumError(ExamError):
    """A number that goes into a sum is outside what the sum is for."""

    advice = to_translate(
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
        tr("Resting energy"),
        _rounded(70 * power, "1"),
        "kcal/day",
        tr("70 × {weight} kg to the power 0.75", weight=kg),
        "merck_nutr",
        tr("The veterinarian says whether actual or ideal weight is meant."),
    )
    if not _LINEAR_FROM <= weight_kg <= _LINEAR_UNTIL:
        return (found,)
    linear = Sum(
        tr("Resting energy, straight-line rule"),
        _rounded(30 * weight_kg + 70, "1"),
        "kcal/day",
        f"30 × {kg} kg + 70",
        "merck_nutr",
        tr("For 2 to 45 kg only; it differs from the other rule."),
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
        raise SumError(tr("dehydration is above 0 and at most 15 percent"))
    return Sum(
        tr("Fluid deficit"),
        _rounded(weight_kg * percent * 10, "1"),
        "mL",
        f"{plain_number(weight_kg)} kg × {plain_number(percent)} %",
        "zuku",
        tr("Some texts multiply by 0.6. Never started without an order."),
    )


def maintenance_fluid(species: str, weight_kg: Decimal) -> Sum:
    """Return a day's maintenance fluid of a dog or a cat.

    Raises:
        SumError: There is no rule for the species, or the weight is not above zero.
    """
    _above_zero(weight_kg, "weight")
    if species not in _MAINTENANCE:
        raise SumError(tr("the rule is for dogs and cats only"))
    factor = _MAINTENANCE[species]
    power = _ARITHMETIC.power(weight_kg, _THREE_QUARTERS)
    return Sum(
        tr("Maintenance fluid"),
        _rounded(factor * power, "1"),
        "mL/day",
        tr(
            "{factor} × {weight} kg to the power 0.75",
            factor=factor,
            weight=plain_number(weight_kg),
        ),
        "aaha2013fluid",
        tr("Other rules give other amounts. Never started without an order."),
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
        tr("Change of weight"),
        _rounded(change, "0.1"),
        "%",
        f"({now} kg - {before} kg) / {before} kg",
        "common_practice",
        tr("Common practice, no source. Two scales differ."),
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
        raise SumError(tr("a volume needs two or three sizes"))
    for size in dimensions_mm:
        _above_zero(size, "size")
    sizes = (*dimensions_mm, dimensions_mm[1])[:3]
    volume = PI / 6 * sizes[0] * sizes[1] * sizes[2]
    note = tr("Callipers differ between people; keep one rule through a series.")
    if len(dimensions_mm) == 2:
        note = f"{tr('Height not measured: taken as the width.')} {note}"
    return Sum(
        tr("Lump volume"),
        _rounded(volume, "1"),
        "mm³",
        f"π/6 × {' × '.join(plain_number(size) for size in sizes)} mm",
        "tumvol",
        note,
    )


_INDEX_NOTES = {
    "dog": to_translate(
        "Published for dogs: 1.0 by one study, 0.9 by another, below the median of "
        "its own healthy dogs."
    ),
    "cat": to_translate(
        "Healthy cats had a mean of 1.47 and the study's own mark was 1.54: never "
        "the dog's mark."
    ),
}
_NO_INDEX = to_translate("Nothing was published here for this species.")
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
        tr("Shock index"),
        _rounded(_ARITHMETIC.divide(heart_rate, systolic), "0.01"),
        "",
        f"{plain_number(heart_rate)} / {plain_number(systolic)} mmHg",
        _INDEX_SOURCES.get(species, "porter2013"),
        tr(_INDEX_NOTES.get(species, _NO_INDEX)),
    )


_ABOVE_ZERO = {
    "weight": to_translate("weight is above zero"),
    "weight before": to_translate("weight before is above zero"),
    "weight now": to_translate("weight now is above zero"),
    "size": to_translate("size is above zero"),
    "heart rate": to_translate("heart rate is above zero"),
    "systolic pressure": to_translate("systolic pressure is above zero"),
}


def _above_zero(value: Decimal, name: str) -> None:
    if value <= 0:
        raise SumError(tr(_ABOVE_ZERO[name]))


def _rounded(value: Decimal, step: str) -> Decimal:
    return value.quantize(Decimal(step), ROUND_HALF_UP)


SYRINGE_STEPS = ("0.01", "0.02", "0.1", "0.2", "0.5", "1")
_UNITS = {
    "mg": "milligram",
    "g": "gram",
    "µg": "microgram",
    "μg": "microgram",
    "mcg": "microgram",
    "ug": "microgram",
    "iu": "international_unit",
    "ml": "milliliter",
    "l": "liter",
    "kg": "kilogram",
    "lb": "pound",
}
_RATIO = re.compile(r"\s*([a-zµμ]+)\s*/\s*([a-zµμ]+)\s*")
_EXACT_STEP = Decimal("0.0001")


class DoseError(ExamError):
    """A volume cannot be worked out from what was typed."""

    advice = to_translate(
        "No volume was worked out and nothing was given or changed. Check the dose, "
        "the concentration on the label and their units with the prescriber."
    )


@dataclass(frozen=True, slots=True)
class Prescription:
    """What somebody entitled to prescribe ordered, as typed.

    Attributes:
        prescriber: Who ordered it; never empty.
        dose: Amount by body weight, as ``0.2 mg/kg``.
        concentration: As the label says, as ``5 mg/mL``.
    """

    prescriber: str
    dose: str
    concentration: str


@dataclass(frozen=True, slots=True)
class DoseVolume:
    """The volume, exact and as the syringe shows it.

    Attributes:
        exact_ml: Rounded to 0.0001 mL.
        drawn_ml: The nearest mark of the syringe.
        off_percent: How far the mark is from the exact volume, with one decimal.
        written: The sum with its numbers in place.
    """

    exact_ml: Decimal
    drawn_ml: Decimal
    off_percent: Decimal
    written: str


def dose_volume(
    prescription: Prescription, weight: Reading, syringe_step: Decimal
) -> DoseVolume:
    """Work out the volume of one dose.

    Args:
        weight: In any unit of mass, above zero.
        syringe_step: Between two marks of the syringe, in mL.

    Raises:
        DoseError: No prescriber, an unreadable amount, units that do not cancel, or
            a volume below the syringe's first mark.
        ReadingError: A number can be read two ways or not at all.
        UnitMismatchError: The weight is no mass.
    """
    if not prescription.prescriber.strip():
        raise DoseError(tr("say who prescribed it"))
    if syringe_step <= 0:
        raise DoseError(tr("the marks of a syringe are above zero apart"))
    kg = convert(weight.value, weight.unit, "kg")
    if kg <= 0:
        raise DoseError(tr("the weight is above zero"))
    dose = _amount(prescription.dose, "dose")
    strength = _amount(prescription.concentration, "concentration")
    volume = dose * registry().Quantity(kg, "kilogram") / strength
    try:
        exact = Fraction(volume.to("milliliter").magnitude)
    except pint.DimensionalityError as error:
        raise DoseError(tr("the units do not cancel to millilitres")) from error
    drawn = round_to_step(exact, syringe_step)
    if drawn <= 0:
        raise DoseError(tr("the volume is below the first mark of this syringe"))
    off = 100 * (Fraction(drawn) - exact) / exact
    return DoseVolume(
        round_to_step(exact, _EXACT_STEP),
        drawn,
        _rounded(Decimal(off.numerator) / off.denominator, "0.1"),
        f"{prescription.dose.strip()} × {plain_number(weight.value)} {weight.unit}"
        f" / {prescription.concentration.strip()}",
    )


_WITH_UNITS = {
    "dose": to_translate("write the dose with its units, as 0.2 mg/kg"),
    "concentration": to_translate("write the concentration with its units, as 5 mg/mL"),
}
_AMOUNT_ABOVE_ZERO = {
    "dose": to_translate("the dose is above zero"),
    "concentration": to_translate("the concentration is above zero"),
}


def _amount(typed: str, name: str) -> pint.Quantity:  # type: ignore[type-arg]
    parts = read_parts(typed.replace("%", " percent"))
    ratio = _RATIO.fullmatch(parts[0][1].lower()) if len(parts) == 1 else None
    if ratio is None or any(word not in _UNITS for word in ratio.groups()):
        raise DoseError(tr(_WITH_UNITS[name]))
    number = parts[0][0]
    if number <= 0:
        raise DoseError(tr(_AMOUNT_ABOVE_ZERO[name]))
    above, below = (_UNITS[word] for word in ratio.groups())
    return registry().Quantity(Fraction(number), f"{above}/{below}")
