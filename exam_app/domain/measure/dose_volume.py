"""How many millilitres a prescribed dose makes: arithmetic only.

There is no list of drugs here and no dose is proposed. The prescriber's name, the
prescribed dose, the concentration on the label and the weight are typed; units must
cancel to millilitres or the sum is refused; the result is rounded to what the syringe
can show, and how far that is from the exact volume is said.
"""

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pint

from exam_app.domain.errors import ExamError
from exam_app.domain.measure.conversion import (
    convert,
    plain_number,
    registry,
    round_to_step,
)
from exam_app.domain.measure.typed_numbers import read_parts
from exam_app.domain.measure.units import Reading

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

    advice = (
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
        raise DoseError("say who prescribed it")
    if syringe_step <= 0:
        raise DoseError("the marks of a syringe are above zero apart")
    kg = convert(weight.value, weight.unit, "kg")
    if kg <= 0:
        raise DoseError("the weight is above zero")
    dose = _amount(prescription.dose, "dose")
    strength = _amount(prescription.concentration, "concentration")
    exact = _millilitres(dose * registry().Quantity(kg, "kilogram") / strength)
    drawn = round_to_step(exact, syringe_step)
    if drawn <= 0:
        raise DoseError("the volume is below the first mark of this syringe")
    off = 100 * (Fraction(drawn) - exact) / exact
    return DoseVolume(
        round_to_step(exact, _EXACT_STEP),
        drawn,
        _decimal(off).quantize(Decimal("0.1"), ROUND_HALF_UP),
        f"{prescription.dose.strip()} × {plain_number(weight.value)} {weight.unit}"
        f" / {prescription.concentration.strip()}",
    )


def _amount(typed: str, name: str) -> pint.Quantity:  # type: ignore[type-arg]
    parts = read_parts(typed.replace("%", " percent"))
    ratio = _RATIO.fullmatch(parts[0][1].lower()) if len(parts) == 1 else None
    if ratio is None or any(word not in _UNITS for word in ratio.groups()):
        raise DoseError(
            f"write the {name} with its units, as "
            f"{'0.2 mg/kg' if name == 'dose' else '5 mg/mL'}"
        )
    number = parts[0][0]
    if number <= 0:
        raise DoseError(f"the {name} is above zero")
    above, below = (_UNITS[word] for word in ratio.groups())
    return registry().Quantity(Fraction(number), f"{above}/{below}")


def _millilitres(volume: pint.Quantity) -> Fraction:  # type: ignore[type-arg]
    try:
        return Fraction(volume.to("milliliter").magnitude)
    except pint.DimensionalityError as error:
        raise DoseError("the units do not cancel to millilitres") from error


def _decimal(value: Fraction) -> Decimal:
    return Decimal(value.numerator) / Decimal(value.denominator)
