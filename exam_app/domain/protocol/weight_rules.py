"""Weight without a scale: a tape around the animal, a published rule, an estimate.

A rule belongs to the animals it was made on; where rules disagree they stand side by
side and nobody chooses for the examiner. Arithmetic is decimal. An estimate is always
called one, and a rule says its population, its limits and its published error.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Context, Decimal

from exam_app.domain.errors import ExamError
from exam_app.domain.measure.conversion import convert
from exam_app.domain.measure.units import Reading
from exam_app.language.catalogue import to_translate, tr

_ARITHMETIC = Context(prec=28, rounding=ROUND_HALF_UP)
_STEP_KG = Decimal("0.1")
_WHOLE_KG_FROM = 30


class TapeError(ExamError):
    """A length is missing, or no length of an animal."""

    advice = to_translate(
        "The weight was not estimated and nothing was changed. "
        "Measure again, in cm or in, and give every length the rule names."
    )


@dataclass(frozen=True, slots=True)
class TapeMeasure:
    """One length that a rule asks for.

    Attributes:
        how: From where to where the tape goes.
    """

    measure_id: str
    label: str
    how: str


@dataclass(frozen=True, slots=True)
class RuleTerm:
    """``coefficient`` times each measure raised to its power."""

    coefficient: Decimal
    powers: Mapping[str, Decimal]


@dataclass(frozen=True, slots=True)
class WeightRule:
    """Sum of terms, divided, plus a constant: a published rule.

    Attributes:
        population: The animals the rule was made on.
        length_unit: ``cm``, ``m`` or ``inch``, as the rule is printed.
        weight_unit: ``kg`` or ``lb``, as the rule is printed.
        valid_from_kg, valid_until_kg: Weights the rule was made on, if printed.
        from_days, until_days: Ages the rule is for, if it says so.
        sexes: ``male``, ``female``; empty for both.
        error: What the source says of the rule's error; never empty.
    """

    rule_id: str
    label: str
    species: str
    population: str
    measures: tuple[str, ...]
    length_unit: str
    weight_unit: str
    terms: tuple[RuleTerm, ...]
    error: str
    source_id: str
    divisor: Decimal = Decimal(1)
    constant: Decimal = Decimal(0)
    valid_from_kg: Decimal | None = None
    valid_until_kg: Decimal | None = None
    from_days: int = 0
    until_days: int | None = None
    sexes: tuple[str, ...] = ()
    caution: str = ""

    def fits(self, age_days: int | None, sex: str = "") -> bool:
        """Whether the rule was made for this age and sex; unknown fits every rule."""
        if self.sexes and sex and sex not in self.sexes:
            return False
        if age_days is None:
            return True
        is_young = age_days < self.from_days
        return not is_young and (self.until_days is None or age_days < self.until_days)


@dataclass(frozen=True, slots=True)
class WeightEstimate:
    """What one rule makes of the tape.

    Attributes:
        kg: Rounded to 0.1 kg.
        is_outside: Whether the rule was not made on animals of this weight.
        shown: ``about 132 kg``, rounded to what a tape can tell.
    """

    rule: WeightRule
    kg: Decimal
    is_outside: bool
    shown: str


def estimate_weight(rule: WeightRule, lengths: Mapping[str, Reading]) -> WeightEstimate:
    """Estimate a weight by one rule.

    Args:
        lengths: A length for each measure of the rule, in any unit of length.

    Raises:
        TapeError: A length is missing, zero or below, or the rule gives no weight.
        UnitMismatchError: A reading is no length.
    """
    by_measure = {name: _length(rule, name, lengths) for name in rule.measures}
    total = sum((_term(term, by_measure) for term in rule.terms), Decimal(0))
    printed = _ARITHMETIC.divide(total, rule.divisor) + rule.constant
    exact = convert(printed, rule.weight_unit, "kg")
    kg = _ARITHMETIC.divide(Decimal(exact.numerator), Decimal(exact.denominator))
    kg = kg.quantize(_STEP_KG, ROUND_HALF_UP)
    if kg <= 0:
        raise TapeError(tr("the rule gives no weight for this length"))
    low, high = rule.valid_from_kg, rule.valid_until_kg
    is_outside = (low is not None and kg < low) or (high is not None and kg > high)
    return WeightEstimate(rule, kg, is_outside, f"about {_shown(kg)} kg")


def spread_percent(found: Iterable[WeightEstimate]) -> int:
    """Return how far the highest estimate lies above the lowest, in whole percent."""
    weights = [estimate.kg for estimate in found]
    if len(weights) < 2:
        return 0
    spread = 100 * (max(weights) - min(weights)) / min(weights)
    return int(spread.quantize(Decimal(1), ROUND_HALF_UP))


def how_estimated(
    estimate: WeightEstimate, lengths: Mapping[str, Reading], source: str
) -> str:
    """Say how a weight was estimated, as the record keeps it beside the value.

    Args:
        lengths: As measured, kept as typed.
        source: Title of the rule's source.
    """
    typed = ", ".join(
        f"{name.replace('_', ' ')} {lengths[name].typed} {lengths[name].unit}"
        for name in estimate.rule.measures
    )
    outside = "; outside the weights the rule was made on" * estimate.is_outside
    return f"tape: {typed}; {estimate.rule.label} ({source}){outside}"


def _length(rule: WeightRule, name: str, lengths: Mapping[str, Reading]) -> Decimal:
    if name not in lengths:
        raise TapeError(tr("{length} was not measured", length=name))
    exact = convert(lengths[name].value, lengths[name].unit, rule.length_unit)
    if exact <= 0:
        raise TapeError(tr("a length is above zero"))
    return _ARITHMETIC.divide(Decimal(exact.numerator), Decimal(exact.denominator))


def _term(term: RuleTerm, lengths: Mapping[str, Decimal]) -> Decimal:
    product = term.coefficient
    for name, power in term.powers.items():
        raised = _ARITHMETIC.power(lengths[name], power)
        product = _ARITHMETIC.multiply(product, raised)
    return product


def _shown(kg: Decimal) -> str:
    step = Decimal(1) if kg >= _WHOLE_KG_FROM else _STEP_KG
    return format(kg.quantize(step, ROUND_HALF_UP), "f")
