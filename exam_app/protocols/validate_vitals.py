"""Check the vitals of a protocol, their published limits and their urgent signs.

Rules kept here: a kind of vital has what it needs and nothing it cannot use; units
are known and measure the same thing; rates count beats, breaths or contractions a
minute; a published row is a limit in the measure's own unit, for stages, settings and
states that exist; an urgent sign can be reached from the button, a value, a grade or
a term.
"""

import re
from collections.abc import Iterator
from typing import TypeVar

from exam_app.domain.exam.vital_transitions import MOST_SIGNS
from exam_app.domain.exam.vitals import RateState, Setting
from exam_app.domain.measure.conversion import is_same_dimension, is_same_unit
from exam_app.domain.measure.counting import CountKind
from exam_app.domain.measure.known_units import KNOWN_UNITS, PER_MINUTE, Unit
from exam_app.domain.protocol.intervals import (
    ReferenceInterval,
    interval_problems,
    is_limit,
)
from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol, Vital, VitalKind
from exam_app.domain.protocol.scales import grade_number
from exam_app.domain.protocol.urgent_signs import Trigger

Keyed = tuple[str, str]
VOLUNTEER_SCOPES = frozenset({Scope.INTAKE, Scope.GROUP})
# UCUM writes in ASCII without spaces; whether a code is theirs cannot be told here.
_UCUM = re.compile(r"[!-~]+")
RATE_UNITS = tuple(unit.unit_id for unit in KNOWN_UNITS.values() if unit.counts)
NUMBER_KINDS = (VitalKind.MEASURE, VitalKind.RATE)
SETTINGS = frozenset(setting.value for setting in Setting)
T = TypeVar("T")
STATES = frozenset(state.value for state in RateState)


def met(*checks: tuple[bool, T]) -> Iterator[T]:
    """Yield what is told of each check that is met, in their order."""
    return (told for is_met, told in checks if is_met)


def vital_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    """Yield every fault of the vitals, as key and reason."""
    for vital in protocol.vitals:
        key = f"vitals({vital.vital_id})"
        for part, why in (*_kind_faults(vital, protocol), *_word_faults(vital)):
            yield f"{key}.{part}", why
        yield from ((f"{key}.measure", why) for why in _measure_faults(vital, protocol))
        chosen = [c for c in vital.choices if c.urgent_sign_id]
        for choice in chosen:
            if protocol.sign(choice.urgent_sign_id) is None:
                told = f"no urgent sign {choice.urgent_sign_id!r}"
                yield f"{key}.choices({choice.value})", told
        by_value = {
            sign.sign_id
            for sign in protocol.urgent_signs
            if any(t.vital_id == vital.vital_id for t in sign.every_trigger())
        }
        if len(by_value.union(c.urgent_sign_id for c in chosen)) > MOST_SIGNS:
            yield key, f"opens more than {MOST_SIGNS} urgent signs"


def _kind_faults(vital: Vital, protocol: SpeciesProtocol) -> Iterator[Keyed]:
    """Yield what a vital has, or says of itself, that its kind or unit cannot be."""
    kind, measure, counts = vital.kind.value, vital.measure, vital.counts
    unit, by_unit = (measure.unit, measure.counts) if measure else ("", "")
    is_number, is_rate = vital.kind in NUMBER_KINDS, vital.kind is VitalKind.RATE
    is_grade, is_choice = kind == VitalKind.GRADE, kind == VitalKind.CHOICE
    rates = f"a rate counts in {' or '.join(RATE_UNITS)}"
    heavy = "a weight is measured in kg or what converts to it"
    is_pulse = counts is CountKind.PULSE and by_unit == CountKind.HEART
    is_counted = counts is None or counts == by_unit or is_pulse
    return met(
        (is_number and measure is None, ("measure", f"a {kind} needs one")),
        (not is_number and measure is not None, ("measure", f"a {kind} has none")),
        (is_choice and not vital.choices, ("choices", "a choice needs them")),
        (
            is_grade and protocol.scale(vital.scale_id) is None,
            ("scale_id", f"no scale {vital.scale_id!r}"),
        ),
        (not is_grade and bool(vital.scale_id), ("scale_id", f"a {kind} has none")),
        (
            is_rate and measure is not None and unit not in RATE_UNITS,
            ("measure", rates),
        ),
        (vital.several and not is_choice, ("several", f"a {kind} has one answer")),
        (
            vital.is_body_weight and not is_same_dimension(unit, "kg"),
            ("is_body_weight", heavy),
        ),
        (bool(counts) and not is_rate, ("counts", f"a {kind} counts nothing")),
        (not is_counted, ("counts", f"{unit or 'no unit'} does not count a {counts}")),
    )


def _word_faults(vital: Vital) -> Iterator[Keyed]:
    if not vital.label.strip() or not vital.plain_label.strip():
        yield "label", "label or plain label empty"
    for scope in vital.required_in:
        if scope not in vital.scopes:
            yield "required_in", f"{scope.value} does not offer this vital"
    is_for_volunteers = not VOLUNTEER_SCOPES.isdisjoint(vital.scopes)
    for choice in vital.choices if is_for_volunteers else ():
        if not choice.plain.strip():
            yield f"choices({choice.value})", "no plain words for volunteers"


def _measure_faults(vital: Vital, protocol: SpeciesProtocol) -> Iterator[str]:
    measure = vital.measure
    if measure is None:
        return
    for unit in (measure.unit, *measure.units_offered):
        if not is_same_dimension(unit, measure.unit):
            yield f"unit {unit!r} is unknown or measures something else"
    low, high = measure.plausible_low, measure.plausible_high
    is_backwards = low is not None and high is not None and low >= high
    yield from met(
        (not measure.units_offered, "offers no unit"),
        (measure.precision <= 0, "precision is not above zero"),
        (is_backwards, "plausible_low is not below plausible_high"),
    )
    known = {stage.stage_id for stage in protocol.life_stages}
    named = [stage for limits in measure.plausible for stage in limits.life_stages]
    yield from (f"plausible: no {stage!r}" for stage in named if stage not in known)
    if len(named) > len(set(named)):
        yield "plausible: a stage stands twice"
    past = "plausible: goes past plausible_low or plausible_high, the widest"
    for limits in measure.plausible:
        is_past_low = low is not None and limits.low < low
        yield from met(
            (not limits.life_stages, "plausible: limits name no stage"),
            (limits.low >= limits.high, "plausible: low is not below high"),
            (is_past_low or (high is not None and limits.high > high), past),
        )


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
    terms = (term for region in protocol.regions for term in region.terms)
    choices = (choice for vital in protocol.vitals for choice in vital.choices)
    opened = {*(t.urgent_sign_id for t in terms), *(c.urgent_sign_id for c in choices)}
    for sign in protocol.urgent_signs:
        key = f"urgent_signs({sign.sign_id})"
        if (sign.below or sign.above) and not sign.vital_id:
            yield f"{key}.vital_id", "a limit needs the vital it belongs to"
        for trigger in sign.every_trigger():
            for part, why in _limit_faults(trigger, protocol):
                yield f"{key}.{part}", why
        if not (sign.on_button or sign.every_trigger() or sign.sign_id in opened):
            yield key, "nothing opens it: no button, value, term or choice"


def _limit_faults(trigger: Trigger, protocol: SpeciesProtocol) -> Iterator[Keyed]:
    limits = {"below": trigger.below, "above": trigger.above}
    for part, text in limits.items():
        if text and not _is_number(text):
            yield part, f"{text!r} is no number"
    vital = protocol.vital(trigger.vital_id)
    scale = protocol.scale(vital.scale_id) if vital else None
    is_graded = scale and any(_is_number(grade.value) for grade in scale.grades)
    if not (is_graded or (vital and vital.measure and not scale)):
        told = f"no vital {trigger.vital_id!r} with a measure or numbered grades"
        yield "vital_id", told
    if not any(limits.values()):
        yield "vital_id", "names no limit: give below or above"
    yield from _fit_faults(trigger, protocol)


def _is_number(text: str) -> bool:
    number = grade_number(text)
    return number is not None and number.is_finite()


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
