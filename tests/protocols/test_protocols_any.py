"""Whatever file a practice writes: if it loads, its exam can close, and can be refused.

The files are drawn anew, not taken from the species that come with the program; what
is open is judged here from the file, without the product's own review.
"""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exam_app.domain.animal.signalment import Sex
from exam_app.domain.errors import OpenPointsError
from exam_app.domain.exam.closing import close, stop_early
from exam_app.domain.exam.exam import StopReason
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
from exam_app.domain.exam.vital_transitions import MOST_SIGNS, record_vital
from exam_app.domain.exam.vitals import RateState, VitalEntry
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.protocol import Scope, VitalKind
from exam_app.domain.protocol.scales import give_grade
from exam_app.domain.wording.written_record import write_record
from exam_app.protocols.loader import load_bytes, load_content
from tests.exam_samples import ANIMAL, BY, NOW, TECHNICIAN, new_exam
from tests.protocol_files import protocol_files
from tests.samples import examples

SCOPES = [Scope.INTAKE, Scope.TECHNICIAN, Scope.VETERINARIAN, Scope.GROUP]
EVERYDAY = settings(
    max_examples=examples(40),
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
MANY = settings(EVERYDAY, max_examples=500, derandomize=False)
FILES = given(
    protocol_files(), st.sampled_from(SCOPES), st.sampled_from(Sex), st.data()
)


def begun(loaded, scope, sex, data):
    protocol = loaded.protocol
    stage = data.draw(
        st.sampled_from(["", *(s.stage_id for s in protocol.life_stages)])
    )
    scan = ChipScan(INTAKE_SLOT, (), 2, "reader", BY)
    return new_exam(
        scope,
        animal=replace(ANIMAL, species=protocol.species, sex=sex),
        protocol_id=protocol.protocol_id,
        protocol_hash=loaded.content_hash,
        life_stage=stage,
        intake=Intake(scans=(scan,)) if scope is Scope.INTAKE else None,
    )


def asked_regions(protocol, scope, sex):
    """Judge anew which region keys an exam must answer."""
    return [
        f"{region.region_id}.{side}" if side else region.region_id
        for region in protocol.regions
        if scope in region.scopes
        and (not region.sexes or not sex.kind or sex.kind in region.sexes)
        for side in region.sides or ("",)
    ]


def asked_vitals(protocol, scope):
    return [vital for vital in protocol.vitals if scope in vital.required_in]


def answer_region(exam, protocol, key, number, data):
    way = data.draw(st.sampled_from(["clean", "not examined", "not present"]))
    if way == "not examined":
        return mark_not_examined(exam, protocol, key, "unsafe", BY)
    if way == "not present":
        return mark_not_present(exam, protocol, key, "lost", BY, f"{number:032x}")
    if exam.entry(key).state is RegionState.NOT_PRESENT:
        return exam  # of the other sex than a part called free of abnormality before
    words = Role.VOLUNTEER if exam.scope is Scope.INTAKE else Role.TECHNICIAN
    return assert_no_abnormality(exam, protocol, (key,), words, BY)


def entry_for(protocol, vital, data):
    if data.draw(st.integers(0, 4)) == 0:
        return VitalEntry(reason="refused")
    if vital.kind is VitalKind.GRADE:
        scale = protocol.scale(vital.scale_id)
        grade = data.draw(st.sampled_from(scale.grades))
        return VitalEntry(grade=give_grade(scale, grade.value))
    if vital.kind is VitalKind.CHOICE:
        chosen = data.draw(
            st.lists(st.sampled_from(vital.choices), min_size=1, unique=True)
        )
        return VitalEntry(
            words=tuple(c.label for c in chosen), values=tuple(c.value for c in chosen)
        )
    number = Decimal(data.draw(st.integers(0, 100)))
    state = data.draw(st.sampled_from(RateState))
    return VitalEntry(
        reading=Reading(str(number), vital.measure.unit, number),
        state=state if vital.kind is VitalKind.RATE else None,
    )


def expected_signs(protocol, vital, entry, stage):
    """Judge anew which urgent signs an answer opens; the limit of each is 50."""
    by_words = {c.urgent_sign_id for c in vital.choices if c.value in entry.values}
    found = by_words - {""}
    for sign in protocol.urgent_signs:
        is_held = not sign.life_stages or stage in sign.life_stages
        if entry.reading and sign.vital_id == vital.vital_id and is_held:
            low, high = sign.below == "50", sign.above == "50"
            value = entry.reading.value
            if (low and value < 50) or (high and value > 50):
                found.add(sign.sign_id)
    return found


def completed(exam, protocol, data):
    """Answer all that is asked, checking that no urgent sign is lost on the way."""
    for number, key in enumerate(asked_regions(protocol, exam.scope, exam.animal.sex)):
        exam = answer_region(exam, protocol, key, number, data)
    signs = 0
    for number, vital in enumerate(asked_vitals(protocol, exam.scope)):
        entry = entry_for(protocol, vital, data)
        ids = tuple(f"{1000 + number * 10 + n:032x}" for n in range(MOST_SIGNS))
        exam = record_vital(exam, protocol, vital.vital_id, entry, BY, ids)
        opened = {u.sign_id for u in exam.urgent if u.entry_id in ids}
        assert opened <= expected_signs(protocol, vital, entry, exam.life_stage)
        signs += len(opened)
        told = {u.sign_id for u in exam.urgent}
        assert expected_signs(protocol, vital, entry, exam.life_stage) <= told
    assert len(exam.urgent) == signs
    for sign in exam.urgent:
        told = UrgentAnswer(AnswerKind.TOLD, BY, "Dr Mar Ondine")
        exam = answer_urgent(exam, sign.entry_id, told)
    return exam


def without(exam, lost):
    """Take one answer back: of a region, a vital or an urgent sign."""
    return replace(
        exam,
        regions={k: e for k, e in exam.regions.items() if k != lost},
        vitals={k: e for k, e in exam.vitals.items() if k != lost},
        urgent=tuple(
            replace(u, answers=()) if u.entry_id == lost else u for u in exam.urgent
        ),
    )


def closes_when_complete(text, scope, sex, data):
    loaded = load_bytes("own.toml", text.encode())
    assert load_content(loaded.content) == loaded
    exam = completed(begun(loaded, scope, sex, data), loaded.protocol, data)
    closed = close(exam, loaded.protocol, TECHNICIAN, NOW)
    assert closed.is_closed
    assert write_record(closed, loaded.protocol).as_text()


def is_refused_when_anything_is_missing(text, scope, sex, data):
    loaded = load_bytes("own.toml", text.encode())
    protocol = loaded.protocol
    fresh = begun(loaded, scope, sex, data)
    asked = asked_regions(protocol, scope, sex)
    asked += [vital.vital_id for vital in asked_vitals(protocol, scope)]
    if asked:
        with pytest.raises(OpenPointsError) as refused:
            close(fresh, protocol, TECHNICIAN, NOW)
        assert {point.target for point in refused.value.points} == set(asked)
    exam = completed(fresh, protocol, data)
    answers = [*asked, *(sign.entry_id for sign in exam.urgent)]
    for lost in answers:
        with pytest.raises(OpenPointsError) as refused:
            close(without(exam, lost), protocol, TECHNICIAN, NOW)
        assert [point.target for point in refused.value.points] == [lost]
    stopped = stop_early(fresh, protocol, StopReason.UNSAFE, "", BY)
    assert close(stopped, protocol, TECHNICIAN, NOW).is_closed


@EVERYDAY
@FILES
def test_exam_of_any_protocol_file_that_loads_can_be_completed_and_closed(
    text, scope, sex, data
):
    closes_when_complete(text, scope, sex, data)


@EVERYDAY
@FILES
def test_exam_of_any_protocol_file_that_loads_is_refused_while_anything_is_missing(
    text, scope, sex, data
):
    is_refused_when_anything_is_missing(text, scope, sex, data)


@pytest.mark.exhaustive
@MANY
@FILES
def test_five_hundred_drawn_protocol_files_close_and_are_refused(
    text, scope, sex, data
):
    closes_when_complete(text, scope, sex, data)
    is_refused_when_anything_is_missing(text, scope, sex, data)
