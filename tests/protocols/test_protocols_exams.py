"""Any protocol that passes its checks gives an exam that closes and one refused.

Protocols are drawn from those that come with the program: whole, or with regions,
vitals and choices taken away, as a practice might. Openness is judged here anew.
"""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from exam_app.domain.animal.signalment import Sex
from exam_app.domain.errors import OpenPointsError
from exam_app.domain.exam.closing import close
from exam_app.domain.exam.exam import keys_in_scope, required_vitals
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.transitions import (
    answer_urgent,
    assert_no_abnormality,
    mark_not_examined,
    mark_not_present,
)
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer
from exam_app.domain.exam.visit import INTAKE_SLOT, ChipScan, Intake
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import RateState, VitalEntry
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.protocol import Scope, VitalKind
from exam_app.domain.protocol.scales import give_grade
from exam_app.domain.wording.written_record import write_record
from exam_app.protocols.loader import available, load_protocol
from exam_app.protocols.validate import check_protocol
from tests.exam_samples import ANIMAL, BY, NOW, TECHNICIAN, new_exam
from tests.samples import examples

SCOPES = (Scope.INTAKE, Scope.TECHNICIAN, Scope.VETERINARIAN, Scope.GROUP)
WAYS = ("no abnormality", "not examined", "not present")
QUICK = settings(
    max_examples=examples(60),
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)


@st.composite
def protocols(draw):
    """Draw a protocol that passes its checks, whole or with parts taken away."""
    whole = load_protocol(draw(st.sampled_from(available()))).protocol
    if draw(st.booleans()):
        return whole
    kept = draw(st.lists(st.booleans(), min_size=60, max_size=60))
    regions = tuple(r for r, k in zip(whole.regions, kept, strict=False) if k)
    vitals = tuple(v for v, k in zip(whole.vitals, kept[30:], strict=False) if k)
    measured = {v.measure.measure_id for v in vitals if v.measure}
    vital_ids = {v.vital_id for v in vitals}
    less = replace(
        whole,
        regions=regions,
        vitals=vitals,
        intervals=tuple(i for i in whole.intervals if i.measure_id in measured),
        urgent_signs=tuple(
            replace(s, on_button=True)
            if s.vital_id in vital_ids
            else replace(s, on_button=True, vital_id="", below="", above="")
            for s in whole.urgent_signs
        ),
    )
    assume(check_protocol("drawn", less) == ())
    return less


def begun(protocol, scope, sex, life_stage):
    animal = replace(ANIMAL, species=protocol.species, sex=sex)
    scan = ChipScan(INTAKE_SLOT, (), 2, "reader", BY)
    intake = Intake(scans=(scan,)) if scope is Scope.INTAKE else None
    return new_exam(scope, animal=animal, life_stage=life_stage, intake=intake)


def answered_region(exam, protocol, key, way, number):
    if way == "not examined":
        return mark_not_examined(exam, protocol, key, "unsafe", BY)
    if way == "not present":
        return mark_not_present(exam, protocol, key, "lost", BY, f"{number:032x}")
    words = Role.VOLUNTEER if exam.scope is Scope.INTAKE else Role.TECHNICIAN
    return assert_no_abnormality(exam, protocol, (key,), words, BY)


def vital_answer(protocol, vital, pick):
    """Answer a vital by value, grade or words, or by its honest reason."""
    if pick == 0 and vital.not_done_reasons:
        return VitalEntry(reason=vital.not_done_reasons[0])
    if vital.kind is VitalKind.GRADE:
        scale = protocol.scale(vital.scale_id)
        grade = scale.grades[pick % len(scale.grades)].value
        return VitalEntry(grade=give_grade(scale, grade))
    if vital.kind is VitalKind.CHOICE:
        choice = vital.choices[pick % len(vital.choices)]
        return VitalEntry(words=(choice.label,), values=(choice.value,))
    state = RateState.RESTING if vital.kind is VitalKind.RATE else None
    reading = Reading(str(pick), vital.measure.unit, Decimal(pick))
    return VitalEntry(reading=reading, state=state)


def completed(exam, protocol, ways, picks):
    """Answer everything that must be answered, then every urgent sign it opened."""
    for number, key in enumerate(keys_in_scope(exam, protocol)):
        if exam.entry(key).state is not RegionState.UNEXAMINED:
            continue  # the part of the other sex was answered with it
        way = ways[number % len(ways)]
        exam = answered_region(exam, protocol, key, way, number)
    for number, vital in enumerate(required_vitals(exam, protocol)):
        entry = vital_answer(protocol, vital, picks[number % len(picks)])
        ids = tuple(f"{9000 + number * 10 + n:032x}" for n in range(9))
        exam = record_vital(exam, protocol, vital.vital_id, entry, BY, ids)
    for sign in exam.urgent:
        told = UrgentAnswer(AnswerKind.TOLD, BY, "Dr Mar Ondine")
        exam = answer_urgent(exam, sign.entry_id, told)
    return exam


EXAMS = {
    "protocol": protocols(),
    "scope": st.sampled_from(SCOPES),
    "sex": st.sampled_from(Sex),
    "ways": st.lists(st.sampled_from(WAYS), min_size=1, max_size=7),
    "picks": st.lists(st.integers(0, 60), min_size=1, max_size=7),
    "data": st.data(),
}


@QUICK
@given(**EXAMS)
def test_exam_of_any_valid_protocol_can_be_completed_and_closed(
    protocol, scope, sex, ways, picks, data
):
    stage = data.draw(st.sampled_from(protocol.life_stages)).stage_id
    exam = completed(begun(protocol, scope, sex, stage), protocol, ways, picks)
    closed = close(exam, protocol, TECHNICIAN, NOW)
    assert closed.is_closed
    assert write_record(closed, protocol).as_text()


@QUICK
@given(**EXAMS)
def test_exam_with_one_answer_missing_is_refused_and_the_missing_one_is_named(
    protocol, scope, sex, ways, picks, data
):
    stage = data.draw(st.sampled_from(protocol.life_stages)).stage_id
    exam = completed(begun(protocol, scope, sex, stage), protocol, ways, picks)
    items = [*exam.regions, *exam.vitals, *(u.entry_id for u in exam.urgent)]
    assume(items)
    lost = data.draw(st.sampled_from(items))
    exam = replace(
        exam,
        regions={k: e for k, e in exam.regions.items() if k != lost},
        vitals={k: e for k, e in exam.vitals.items() if k != lost},
        urgent=tuple(
            replace(u, answers=()) if u.entry_id == lost else u for u in exam.urgent
        ),
    )
    with pytest.raises(OpenPointsError) as refused:
        close(exam, protocol, TECHNICIAN, NOW)
    assert [point.target for point in refused.value.points] == [lost]


@pytest.mark.parametrize("species", available())
@pytest.mark.parametrize("scope", SCOPES)
def test_every_scope_of_every_species_closes_once_everything_is_answered(
    species, scope
):
    protocol = load_protocol(species).protocol
    exam = begun(protocol, scope, Sex.FEMALE, protocol.life_stages[-1].stage_id)
    assert keys_in_scope(exam, protocol)
    with pytest.raises(OpenPointsError):
        close(exam, protocol, TECHNICIAN, NOW)
    exam = completed(exam, protocol, ("no abnormality",), (1,))
    assert close(exam, protocol, TECHNICIAN, NOW).is_closed
