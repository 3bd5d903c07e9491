"""One vital while it is being entered: keys pressed, unit, site, state, words.

A form is a value; every key gives a new one. It becomes an entry only when what was
typed can be read; an implausible value is asked about once and then believed.
"""

from dataclasses import dataclass, replace

from exam_app.app.view.vital_presenter import choice_label, recent_state
from exam_app.domain.animal.history import PastValue
from exam_app.domain.animal.weight_changes import is_grown, is_unlikely_weight
from exam_app.domain.errors import MissingReasonError
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.vitals import RateState, VitalEntry
from exam_app.domain.measure.conversion import plain_number, with_unit
from exam_app.domain.measure.counting import Evidence, rate
from exam_app.domain.measure.units import (
    Measure,
    Reading,
    in_other_units,
    in_unit,
    is_plausible,
    parse_reading,
)
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital, VitalKind
from exam_app.domain.protocol.scales import give_grade
from exam_app.language.catalogue import in_english, tr

ERASE = "erase"
NONE_SEEN = "none_seen"
_LONGEST_TYPED = 40


@dataclass(frozen=True, slots=True)
class VitalForm:
    """What the screen holds before it is recorded.

    Attributes:
        typed: Text as typed or pressed, with or without a unit.
        unit: Unit chosen beside the field; empty for grades and choices.
        values: Values of the chosen words, in the order chosen.
        grade_value: Value of the chosen grade, or empty.
        evidence: A count that gave the typed rate; any key takes it away.
        is_repeat: Whether it is taken once more, beside what is recorded already.
    """

    typed: str = ""
    unit: str = ""
    site: str = ""
    state: RateState | None = None
    values: tuple[str, ...] = ()
    grade_value: str = ""
    evidence: Evidence | None = None
    rhythm: str = ""
    beats_felt: str = ""
    is_estimate: bool = False
    is_confirmed: bool = False
    note: str = ""
    is_repeat: bool = False


def form_for(
    exam: Exam,
    protocol: SpeciesProtocol,
    vital: Vital,
    now: Moment,
    usual_unit: str = "",
) -> VitalForm:
    """Open the form of a vital: what was said before, else the usual unit and site.

    A state said beside another rate within ten minutes is offered as chosen.

    Args:
        usual_unit: The unit last used on this device; one not offered is passed over.
    """
    entry = exam.vital(vital.vital_id)
    offered = vital.measure.units_offered if vital.measure else ("",)
    unit = usual_unit if usual_unit in offered else offered[0]
    is_rate = vital.kind is VitalKind.RATE
    return VitalForm(
        typed=entry.reading.typed if entry.reading else "",
        unit=entry.reading.unit if entry.reading else unit,
        site=entry.site or (vital.sites[0] if vital.sites else ""),
        state=entry.state or (recent_state(exam, protocol, now) if is_rate else None),
        values=entry.values,
        grade_value=entry.grade.value if entry.grade else "",
        evidence=entry.evidence,
        rhythm=entry.rhythm,
        beats_felt=entry.beats_felt,
        is_estimate=entry.is_estimate,
        is_confirmed=entry.was_implausible_confirmed,
        note=entry.note,
    )


def press(form: VitalForm, key: str) -> VitalForm:
    """Add one key of the number pad, or take the last one back with ``ERASE``."""
    if key == ERASE:
        return type_text(form, form.typed[:-1].rstrip())
    if key.isalpha():
        return type_text(form, f"{form.typed.rstrip()} {key} ")
    if key == "." and (not form.typed or form.typed.endswith(" ")):
        key = "0."
    return type_text(form, form.typed + key)


def type_text(form: VitalForm, typed: str) -> VitalForm:
    """Replace what was typed; a count behind the old number no longer stands."""
    return replace(
        form,
        typed=typed[:_LONGEST_TYPED],
        values=(),
        evidence=None,
        is_confirmed=False,
    )


def take_count(form: VitalForm, vital: Vital, evidence: Evidence) -> VitalForm:
    """Put the rate of a count into the form, with the count behind it.

    Raises:
        CountError: The count gives no rate.
    """
    shown = plain_number(rate(evidence).per_minute)
    unit = vital.measure.unit if vital.measure else form.unit
    typed = type_text(replace(form, unit=unit), shown)
    return replace(typed, evidence=evidence, is_repeat=True)


def once_more(form: VitalForm) -> VitalForm:
    """Empty the number for a second reading, which stands beside the first."""
    return replace(type_text(form, ""), is_repeat=True)


def choose_value(form: VitalForm, value: str, *, several: bool) -> VitalForm:
    """Choose a worded answer, or take it back.

    Several may stand together, but "none seen" never stands beside a sign.
    """
    if value in form.values:
        rest = tuple(v for v in form.values if v != value)
        return replace(form, values=rest)
    kept = tuple(v for v in form.values if NONE_SEEN not in {v, value})
    return replace(form, values=(*kept, value) if several else (value,))


def to_entry(
    exam: Exam, protocol: SpeciesProtocol, vital: Vital, form: VitalForm
) -> VitalEntry:
    """Turn a form into an entry.

    Raises:
        ReadingError: What was typed is no number with a unit.
        UnitMismatchError: The unit measures something else.
        MissingReasonError: Nothing was entered at all.
    """
    measure, grade, reading = vital.measure, None, None
    if measure is not None and form.typed.strip():
        reading = parse_reading(form.typed, form.unit, measure)
    scale = protocol.scale(vital.scale_id)
    if scale is not None and form.grade_value:
        grade = give_grade(scale, form.grade_value)
    chosen = [choice for choice in vital.choices if choice.value in form.values]
    words = words_for(exam)
    with in_english():
        said = tuple(choice_label(choice, words) for choice in chosen)
    entry = VitalEntry(
        reading=reading,
        grade=grade,
        words=said,
        values=tuple(choice.value for choice in chosen),
        evidence=form.evidence,
        state=form.state if vital.kind is VitalKind.RATE else None,
        site=form.site,
        rhythm=form.rhythm,
        beats_felt=form.beats_felt,
        is_estimate=form.is_estimate,
        was_implausible_confirmed=form.is_confirmed,
        note=form.note.strip(),
    )
    if not entry.is_answered:
        raise MissingReasonError
    return entry


@dataclass(frozen=True, slots=True)
class UnitChoice:
    """The number typed in another unit, in which it would be expected.

    Attributes:
        label: ``°F? 38.5 °C``: the unit, and the value it would be recorded as.
    """

    reading: Reading
    label: str


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked about a value that is not expected.

    Attributes:
        text: The question with what is expected.
        as_typed: Label of the last answer, which believes what was typed.
        units: The likelier answers, to be offered first.
    """

    text: str
    as_typed: str
    units: tuple[UnitChoice, ...] = ()


def what_is_asked(
    exam: Exam,
    protocol: SpeciesProtocol,
    vital: Vital,
    entry: VitalEntry,
    last: PastValue | None,
) -> Question | None:
    """Ask once about a value before it is recorded; ``None`` when nothing is asked.

    Args:
        exam: The open exam.
        protocol: The one it names.
        vital: What is measured.
        entry: What was entered.
        last: The animal's last weight; ``None`` of anything else.
    """
    stage = exam.life_stage
    return question(vital, entry, stage) or weight_question(
        vital, entry, last, is_grown=is_grown(protocol, stage)
    )


def question(vital: Vital, entry: VitalEntry, life_stage: str = "") -> Question | None:
    """Ask about an implausible value; ``None`` when there is nothing to ask.

    Args:
        vital: What is measured.
        entry: What the form holds.
        life_stage: The animal's stage of life; empty when its age is not known.
    """
    reading, measure = entry.reading, vital.measure
    if reading is None or measure is None or entry.was_implausible_confirmed:
        return None
    if is_plausible(reading, measure, life_stage):
        return None
    low, high = measure.expected_at(life_stage)
    start = plain_number(low) if low else "0"
    ends = with_unit(
        start if high is None else f"{start}–{plain_number(high)}",
        measure.label_of(measure.unit),
    )
    is_of_age = (low, high) != measure.expected_at("")
    shown = with_unit(plain_number(reading.value), measure.label_of(reading.unit))
    return Question(
        tr("Is {shown} right? Expected at this age: {ends}.", shown=shown, ends=ends)
        if is_of_age
        else tr("Is {shown} right? Expected here: {ends}.", shown=shown, ends=ends),
        tr("As typed: {shown}", shown=shown),
        tuple(
            UnitChoice(other, _unit_label(other, measure))
            for other in in_other_units(reading, measure, life_stage)
        ),
    )


def _unit_label(reading: Reading, measure: Measure) -> str:
    value = plain_number(in_unit(reading, measure.unit, measure.precision))
    value = with_unit(value, measure.label_of(measure.unit))
    return f"{measure.label_of(reading.unit)}? {value}"


def weight_question(
    vital: Vital, entry: VitalEntry, last: PastValue | None, *, is_grown: bool
) -> Question | None:
    """Ask about a weight far off the last one; ``None`` when there is nothing to ask.

    Args:
        vital: What is measured.
        entry: What the form holds.
        last: The last weight known from before; ``None`` where there is none.
        is_grown: As of ``is_unlikely_weight``.
    """
    reading, measure = entry.reading, vital.measure
    if reading is None or measure is None or last is None:
        return None
    if entry.was_implausible_confirmed or not vital.is_body_weight:
        return None
    if not is_unlikely_weight(last, reading, is_grown=is_grown):
        return None
    shown = with_unit(plain_number(reading.value), measure.label_of(reading.unit))
    likelier = (
        other
        for other in in_other_units(reading, measure)
        if not is_unlikely_weight(last, other, is_grown=is_grown)
    )
    return Question(
        tr(
            "Is {shown} right? The last weight was {last}, {day}.",
            shown=shown,
            last=last.shown,
            day=format(last.at.local(), "%Y-%m-%d"),
        ),
        tr("As typed: {shown}", shown=shown),
        tuple(UnitChoice(other, _unit_label(other, measure)) for other in likelier),
    )


def in_this_unit(form: VitalForm, reading: Reading) -> VitalForm:
    """Take the number in another unit than the one it was typed in."""
    return replace(form, typed=reading.typed, unit=reading.unit, is_confirmed=False)
