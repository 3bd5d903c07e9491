"""A focused exam names only parts of which its starter's exam says something."""

from dataclasses import replace

import pytest

from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.domain.animal.signalment import Sex
from exam_app.domain.errors import FocusError
from exam_app.domain.exam.closing import regions_to_choose, require_focus
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.protocols.loader import load_protocol
from tests.small_dog import BRUNO, COLLEAGUE, DOG, NINE_O_CLOCK, TECHNICIAN

DEEP = ("mouth_deep", "rectal")


def ids(role, animal=BRUNO, protocol=None):
    protocol = protocol or load_protocol("dog").protocol
    return {r.region_id for r in regions_to_choose(animal, protocol, role)}


def begun(starter, *focus):
    order = ExamOrder(BRUNO, Scope.FOCUSED, Setting.CLINIC, focus)
    loaded = load_protocol("dog")
    return begin_exam(
        order, loaded.protocol, loaded.content_hash, starter, "9" * 32, NINE_O_CLOCK
    )


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.VOLUNTEER])
def test_parts_only_a_veterinarian_examines_are_not_offered_to_others(role):
    assert not ids(role) & set(DEEP)
    assert {"mouth", "heart", "eyes"} <= ids(role)


def test_veterinarian_is_offered_the_deep_parts_too():
    assert set(DEEP) <= ids(Role.VETERINARIAN)


def test_part_of_the_other_sex_is_not_offered():
    male = ids(Role.TECHNICIAN, replace(BRUNO, sex=Sex.MALE))
    female = ids(Role.TECHNICIAN, replace(BRUNO, sex=Sex.FEMALE))
    assert male - female
    assert female - male


@pytest.mark.parametrize("part", DEEP)
def test_technicians_focused_exam_of_a_deep_part_cannot_be_begun(part):
    with pytest.raises(FocusError) as refused:
        begun(TECHNICIAN, "nose", part)
    assert str(refused.value) == part
    assert begun(COLLEAGUE, "nose", part).focus[0] == "nose"


def test_focused_exam_of_no_part_or_of_an_unknown_one_cannot_be_begun():
    with pytest.raises(FocusError):
        begun(TECHNICIAN)
    exam = replace(begun(TECHNICIAN, "nose"), focus=("wing",))
    with pytest.raises(FocusError):
        require_focus(exam, DOG)


def test_other_scopes_are_not_asked_for_a_focus():
    exam = replace(begun(TECHNICIAN, "nose"), scope=Scope.TECHNICIAN, focus=())
    assert require_focus(exam, DOG) is exam
