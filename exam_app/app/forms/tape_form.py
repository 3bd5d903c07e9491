"""A tape around an animal while it is typed: lengths asked, and what they give."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from exam_app.app.forms.form import choice
from exam_app.app.forms.vital_form import VitalForm
from exam_app.domain.animal.ages import age_on
from exam_app.domain.errors import ReadingError, UnitMismatchError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.measure.conversion import plain_number
from exam_app.domain.measure.units import Measure, Reading, parse_reading
from exam_app.domain.protocol.weight_rules import (
    TapeError,
    TapeMeasure,
    WeightEstimate,
    WeightRule,
    estimate_weight,
    how_estimated,
    spread_percent,
)
from exam_app.language.catalogue import in_english, tr
from exam_app.protocols.loader import table_sources, weight_tables

LENGTH_UNITS = (("cm", "cm"), ("inch", "in"))
UNIT = choice("unit", "", LENGTH_UNITS, start="cm", identifier="tape-unit")
_LENGTH = Measure("length", "Length", "Length", "cm", ("cm", "inch"), Decimal("0.1"))
_DISAGREE_PERCENT = 10


@dataclass(frozen=True, slots=True)
class TapeResult:
    """What one rule says.

    Attributes:
        shown: The estimate, or what is missing or wrong.
        details: Population, limits, error and source.
        estimate: ``None`` while there is none.
    """

    rule: WeightRule
    shown: str
    details: str
    estimate: WeightEstimate | None


def rules_for(exam: Exam) -> tuple[WeightRule, ...]:
    """Return the published rules made for this animal's species, age and sex."""
    age = age_on(exam.animal, exam.started.local().date())
    sex = exam.animal.sex.kind
    rules = weight_tables().for_species(exam.animal.species)
    return tuple(rule for rule in rules if rule.fits(age, sex))


def measures_of(rules: tuple[WeightRule, ...]) -> tuple[TapeMeasure, ...]:
    """Return every length the rules ask for, the most asked first, each once."""
    asked = [name for rule in rules for name in rule.measures]
    ordered = sorted(dict.fromkeys(asked), key=lambda name: -asked.count(name))
    return tuple(weight_tables().measures[name] for name in ordered)


def read_lengths(
    typed: Mapping[str, str], unit: str
) -> tuple[dict[str, Reading], dict[str, str]]:
    """Return the lengths that can be read, and what is wrong with the others.

    Args:
        typed: Text by measure; an empty one is left out.
        unit: ``cm`` or ``inch``; a unit in the text wins.
    """
    lengths: dict[str, Reading] = {}
    problems: dict[str, str] = {}
    for name, text in typed.items():
        if not text.strip():
            continue
        try:
            lengths[name] = parse_reading(text, unit, _LENGTH)
        except (ReadingError, UnitMismatchError) as refusal:
            problems[name] = tr(getattr(refusal, "reason", "") or refusal.advice)
    return lengths, problems


def results(
    rules: tuple[WeightRule, ...], lengths: Mapping[str, Reading]
) -> tuple[TapeResult, ...]:
    """Return what each rule says, side by side, in the table's order."""
    return tuple(_result(rule, lengths) for rule in rules)


def disagreement(found: tuple[TapeResult, ...]) -> str:
    """Say how far the rules disagree; empty where they do not."""
    spread = spread_percent(r.estimate for r in found if r.estimate is not None)
    if spread < _DISAGREE_PERCENT:
        return ""
    return tr(
        "The rules differ by {spread} %. Take the one whose animals are most like "
        "this one, and say so to whoever doses by it.",
        spread=spread,
    )


def with_estimate(
    form: VitalForm, estimate: WeightEstimate, lengths: Mapping[str, Reading]
) -> VitalForm:
    """Return the weight's form holding an estimate, marked as one, and how it came."""
    with in_english():
        how = how_estimated(estimate, lengths, source_words(estimate.rule))
    return replace(
        form,
        typed=_number(estimate),
        unit="kg",
        is_estimate=True,
        site=how,
        values=(),
        is_confirmed=False,
    )


def source_words(rule: WeightRule) -> str:
    """Name a rule's source, with its year; a recalled one says so."""
    source = table_sources()[rule.source_id]
    recalled = tr(", not checked") if source.provenance == "memory" else ""
    year = f", {source.year}" if source.year[:4].isdigit() else ""
    return f"{source.title}{year}{recalled}"


def _number(estimate: WeightEstimate) -> str:
    return estimate.shown.removeprefix("about ").removesuffix(" kg")


def _result(rule: WeightRule, lengths: Mapping[str, Reading]) -> TapeResult:
    missing = [name for name in rule.measures if name not in lengths]
    if missing:
        names = ", ".join(
            tr(weight_tables().measures[name].label).lower() for name in missing
        )
        return TapeResult(rule, tr("needs {names}", names=names), _details(rule), None)
    try:
        estimate = estimate_weight(rule, lengths)
    except TapeError as refusal:
        return TapeResult(rule, tr(str(refusal)), _details(rule), None)
    number = _number(estimate)
    shown = (
        tr(
            "about {number} kg (outside the weights this rule was made on)",
            number=number,
        )
        if estimate.is_outside
        else tr("about {number} kg", number=number)
    )
    return TapeResult(rule, shown, _details(rule), estimate)


def _details(rule: WeightRule) -> str:
    parts = (
        tr("Made on: {population}.", population=tr(rule.population)),
        _range(rule),
        tr(rule.error),
        tr(rule.caution),
        tr("Source: {title}.", title=source_words(rule)),
    )
    return " ".join(part for part in parts if part)


def _range(rule: WeightRule) -> str:
    low, high = rule.valid_from_kg, rule.valid_until_kg
    if low is not None and high is not None:
        return tr(
            "For {low} to {high} kg.", low=plain_number(low), high=plain_number(high)
        )
    return tr("From {low} kg.", low=plain_number(low)) if low is not None else ""
