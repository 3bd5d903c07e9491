"""Check the vitals of a protocol, their published limits and their urgent signs.

Rules kept here: a kind of vital has what it needs and nothing it cannot use; units
are known and measure the same thing; rates count beats, breaths or contractions a
minute; a published row is a limit in the measure's own unit, for stages, settings and
states that exist; an urgent sign can be reached from the button, a value, a grade or
a term.
"""

import re
from collections.abc import Iterator
from decimal import Decimal, InvalidOperation

from exam_app.domain.exam.vital_transitions import MOST_SIGNS
from exam_app.domain.exam.vitals import RateState, Setting
from exam_app.domain.measure.conversion import is_same_dimension, is_same_unit
from exam_app.domain.measure.counting import CountKind
from exam_app.domain.measure.known_units import KNOWN_UNITS, PER_MINUTE, Unit
from exam_app.domain.measure.units import Measure, StageLimits
from exam_app.domain.protocol.intervals import (
    ReferenceInterval,
    interval_problems,
    is_limit,
)
from exam_app.domain.protocol.protocol import (
    SpeciesProtocol,
    Trigger,
    UrgentSign,
    Vital,
    VitalKind,
)
from exam_app.protocols.validate_regions import SEXES, VOLUNTEER_SCOPES

Keyed = tuple[str, str]
# UCUM writes in ASCII without spaces; whether a code is theirs cannot be told here.
_UCUM = re.compile(r"[!-~]+")
RATE_UNITS = tuple(unit.unit_id for unit in KNOWN_UNITS.values() if unit.counts)
NUMBER_KINDS = (VitalKind.MEASURE, VitalKind.RATE)
SETTINGS = frozenset(setting.value for setting in Setting)
STATES = frozenset(state.value for state in RateState)


def vital_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    """Yield every fault of the vitals, as key and reason."""
    for vital in protocol.vitals:
        key = f"vitals({vital.vital_id})"
        for part, why in (*_kind_faults(vital, protocol), *_word_faults(vital)):
            yield f"{key}.{part}", why
        if vital.measure is not None:
            found = (*_measure_faults(vital.measure), *_stage_faults(vital, protocol))
            yield from ((f"{key}.measure", why) for why in found)
        for choice in vital.choices:
            sign = choice.urgent_sign_id
            if sign and protocol.sign(sign) is None:
                yield f"{key}.choices({choice.value})", f"no urgent sign {sign!r}"
        if len(_signs_of(vital, protocol)) > MOST_SIGNS:
            yield key, f"opens more than {MOST_SIGNS} urgent signs"


def _signs_of(vital: Vital, protocol: SpeciesProtocol) -> frozenset[str]:
    signs = protocol.urgent_signs
    by_value = (
        sign.sign_id
        for sign in signs
        if any(t.vital_id == vital.vital_id for t in sign.every_trigger())
    )
    by_words = (c.urgent_sign_id for c in vital.choices if c.urgent_sign_id)
    return frozenset((*by_value, *by_words))


def _kind_faults(vital: Vital, protocol: SpeciesProtocol) -> Iterator[Keyed]:
    if vital.kind in NUMBER_KINDS and vital.measure is None:
        yield "measure", f"a {vital.kind.value} needs one"
    if vital.kind not in NUMBER_KINDS and vital.measure is not None:
        yield "measure", f"a {vital.kind.value} has none"
    if vital.kind is VitalKind.CHOICE and not vital.choices:
        yield "choices", "a choice needs them"
    if vital.kind is VitalKind.GRADE and protocol.scale(vital.scale_id) is None:
        yield "scale_id", f"no scale {vital.scale_id!r}"
    if vital.kind is not VitalKind.GRADE and vital.scale_id:
        yield "scale_id", f"a {vital.kind.value} has none"
    is_rate = vital.kind is VitalKind.RATE and vital.measure is not None
    if is_rate and vital.measure and vital.measure.unit not in RATE_UNITS:
        yield "measure", f"a rate counts in {' or '.join(RATE_UNITS)}"
    yield from _declared_faults(vital)


def _declared_faults(vital: Vital) -> Iterator[Keyed]:
    """Yield what a vital says of itself that its kind or its unit cannot be."""
    unit = vital.measure.unit if vital.measure else ""
    if vital.several and vital.kind is not VitalKind.CHOICE:
        yield "several", f"a {vital.kind.value} has one answer"
    if vital.is_body_weight and not is_same_dimension(unit, "kg"):
        yield "is_body_weight", "a weight is measured in kg or what converts to it"
    if vital.counts is None:
        return
    if vital.kind is not VitalKind.RATE:
        yield "counts", f"a {vital.kind.value} counts nothing"
    by_unit = vital.measure.counts if vital.measure else ""
    is_pulse = vital.counts is CountKind.PULSE and by_unit == CountKind.HEART
    if not (is_pulse or vital.counts == by_unit):
        yield "counts", f"{unit or 'no unit'} does not count a {vital.counts.value}"


def _word_faults(vital: Vital) -> Iterator[Keyed]:
    if not vital.label.strip() or not vital.plain_label.strip():
        yield "label", "label or plain label empty"
    if not vital.scopes:
        yield "scopes", "none given"
    for scope in vital.required_in:
        if scope not in vital.scopes:
            yield "required_in", f"{scope.value} does not offer this vital"
    if VOLUNTEER_SCOPES.isdisjoint(vital.scopes):
        return
    for choice in vital.choices:
        if not choice.plain.strip():
            yield f"choices({choice.value})", "no plain words for volunteers"


def _measure_faults(measure: Measure) -> Iterator[str]:
    if not measure.units_offered:
        yield "offers no unit"
    for unit in (measure.unit, *measure.units_offered):
        if not is_same_dimension(unit, measure.unit):
            yield f"unit {unit!r} is unknown or measures something else"
    if measure.precision <= 0:
        yield "precision is not above zero"
    low, high = measure.plausible_low, measure.plausible_high
    if low is not None and high is not None and low >= high:
        yield "plausible_low is not below plausible_high"


def _stage_faults(vital: Vital, protocol: SpeciesProtocol) -> Iterator[str]:
    measure = vital.measure
    if measure is None:
        return
    known = {stage.stage_id for stage in protocol.life_stages}
    named = [stage for limits in measure.plausible for stage in limits.life_stages]
    yield from (f"plausible: no {stage!r}" for stage in named if stage not in known)
    if len(named) > len(set(named)):
        yield "plausible: a stage stands twice"
    for limits in measure.plausible:
        if not limits.life_stages:
            yield "plausible: limits name no stage"
        if limits.low >= limits.high:
            yield "plausible: low is not below high"
        if not _is_wider(measure, limits):
            yield "plausible: goes past plausible_low or plausible_high, the widest"


def _is_wider(measure: Measure, limits: StageLimits) -> bool:
    low, high = measure.plausible_low, measure.plausible_high
    holds_low = low is None or low <= limits.low
    return holds_low and (high is None or limits.high <= high)


def interval_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    """Yield every fault of the published rows, as key and reason."""
    measures = {v.measure.measure_id: v.measure for v in protocol.vitals if v.measure}
    for row in protocol.intervals:
        key = f"intervals({row.interval_id})"
        measure = measures.get(row.measure_id)
        if measure is None:
            yield f"{key}.measure_id", f"no measure {row.measure_id!r}"
            continue
        yield from ((key, why) for why in interval_problems(row, measure))
        if row.unit != measure.unit:
            yield f"{key}.unit", f"is not the measure's own {measure.unit}"
        if not is_limit(row):
            yield f"{key}.statistic", f"a {row.statistic} is no limit"
        yield from ((f"{key}.{part}", why) for part, why in _fit_faults(row, protocol))


def _fit_faults(
    row: ReferenceInterval | Trigger, protocol: SpeciesProtocol
) -> Iterator[Keyed]:
    stages = {stage.stage_id for stage in protocol.life_stages}
    known = (
        ("life_stages", row.life_stages, stages),
        ("settings", row.settings, SETTINGS),
        ("states", row.states, STATES),
    )
    for part, words, allowed in known:
        yield from ((part, f"no {word!r}") for word in words if word not in allowed)


def sign_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    """Yield every fault of the urgent signs, as key and reason."""
    opened = _opened_signs(protocol)
    for sign in protocol.urgent_signs:
        key = f"urgent_signs({sign.sign_id})"
        yield from ((f"{key}.{part}", why) for part, why in _sign_faults(sign))
        for trigger in sign.every_trigger():
            for part, why in _limit_faults(trigger, protocol):
                yield f"{key}.{part}", why
        if not (sign.on_button or sign.every_trigger() or sign.sign_id in opened):
            yield key, "nothing opens it: no button, value, term or choice"


def _sign_faults(sign: UrgentSign) -> Iterator[Keyed]:
    for part in ("label", "plain", "action"):
        if not getattr(sign, part).strip():
            yield part, "empty"
    if (sign.below or sign.above) and not sign.vital_id:
        yield "vital_id", "a limit needs the vital it belongs to"
    if not set(sign.sexes) <= SEXES:
        yield "sexes", "are male, female, or none"


def _opened_signs(protocol: SpeciesProtocol) -> frozenset[str]:
    terms = (term for region in protocol.regions for term in region.terms)
    choices = (choice for vital in protocol.vitals for choice in vital.choices)
    return frozenset(
        (*(t.urgent_sign_id for t in terms), *(c.urgent_sign_id for c in choices))
    )


def _limit_faults(trigger: Trigger, protocol: SpeciesProtocol) -> Iterator[Keyed]:
    limits = {"below": trigger.below, "above": trigger.above}
    for part, text in limits.items():
        if text and not _is_number(text):
            yield part, f"{text!r} is no number"
    vital = protocol.vital(trigger.vital_id)
    if vital is None or not _is_compared(vital, protocol):
        yield (
            "vital_id",
            f"no vital {trigger.vital_id!r} with a measure or numbered grades",
        )
    if not any(limits.values()):
        yield "vital_id", "names no limit: give below or above"
    yield from _fit_faults(trigger, protocol)


def _is_compared(vital: Vital, protocol: SpeciesProtocol) -> bool:
    scale = protocol.scale(vital.scale_id)
    if scale is not None:
        return any(_is_number(grade.value) for grade in scale.grades)
    return vital.measure is not None


def _is_number(text: str) -> bool:
    try:
        return Decimal(text).is_finite()
    except InvalidOperation:
        return False


def unit_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    """Yield every fault of the units a new file names or brings, as key and reason.

    A protocol that a record already names is not held to this: it stays readable.
    """
    for vital in protocol.vitals:
        measure = vital.measure
        if measure is None:
            continue
        key = f"vitals({vital.vital_id}).measure"
        for unit in dict.fromkeys((measure.unit, *measure.units_offered)):
            if measure.unit_named(unit) is None and is_same_dimension(unit, unit):
                yield key, f"unit {unit!r} has no code: add [[units]] with id and ucum"
        others = list(KNOWN_UNITS.values())
        for own in measure.units:
            for why in (*_own_faults(own), *_clashes(own, others)):
                yield f"units({own.unit_id})", why
            others.append(own)


def _own_faults(unit: Unit) -> Iterator[str]:
    if not _UCUM.fullmatch(unit.ucum):
        yield "ucum: its code in UCUM is ASCII without spaces"
    if unit.counts or unit.smaller:
        yield "counts and smaller belong to units that come with the program"
    if unit.label != unit.label.strip():
        yield "label: begins or ends with a space"


def _clashes(unit: Unit, others: list[Unit]) -> Iterator[str]:
    words = unit.every_word()
    for other in others:
        if is_same_unit(unit.unit_id, other.unit_id):
            yield f"is {other.unit_id}, which there is already"
        elif words & other.every_word():
            shared = ", ".join(sorted(words & other.every_word()))
            yield f"{shared} means {other.unit_id} already"
    if words.intersection(PER_MINUTE):
        yield "per minute means what the vital counts"
