"""An animal has the parts of one sex: a record never says both are free of disease."""

from dataclasses import replace

import pytest

from exam_app.app.view.rest_presenter import sentence_to_say
from exam_app.domain.animal.signalment import Sex
from exam_app.domain.errors import OtherSexError
from exam_app.domain.exam.closing import stop_early
from exam_app.domain.exam.exam import StopReason
from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.review import review
from exam_app.domain.exam.transitions import (
    assert_no_abnormality,
    clauses_for,
    mark_not_examined,
    mark_not_present,
)
from exam_app.domain.protocol.protocol import Clause
from exam_app.domain.wording.written_record import write_record
from tests.exam_samples import ALL, ANIMAL, BY, PROTOCOL, new_exam, region

NUMBER = "number of testes"
TESTES = (
    Clause("testes_two", f"{NUMBER}: two, even", "two", ALL, neutered="no"),
    Clause("testes_none", f"{NUMBER}: none felt", "none", ALL, neutered="yes"),
)
MALE = region("male_part", "Sheath", sexes=("male",))
MALE = replace(MALE, clauses=(*MALE.clauses, *TESTES))
FEMALE = region("female_part", "Vulva", sexes=("female",))
OTHERS = tuple(r for r in PROTOCOL.regions if r.region_id != "male_part")
TWO = replace(PROTOCOL, regions=(*OTHERS, MALE, FEMALE))


def unknown():
    return new_exam(animal=replace(ANIMAL, sex=Sex.UNKNOWN))


def clean(exam, key):
    return assert_no_abnormality(exam, TWO, (key,), Role.TECHNICIAN, BY)


def found(key, exam, number="1"):
    finding = Finding(number * 32, "wound", BY)
    return add_finding(exam, TWO, key, finding, "9" * 32)


def section(exam, heading):
    record = write_record(exam, TWO)
    return next((s.lines for s in record.sections if s.heading == heading), ())


@pytest.mark.parametrize(
    ("mine", "other"), [("male_part", "female_part"), ("female_part", "male_part")]
)
def test_the_parts_of_one_sex_free_of_abnormality_leave_none_of_the_other(mine, other):
    exam = clean(unknown(), mine)
    label = TWO.region(other).label
    assert section(exam, "Not present") == (f"{label}: other sex",)
    assert len(section(exam, "No abnormality found")) == 1
    assert not any(point.target == other for point in review(exam, TWO))
    with pytest.raises(OtherSexError):
        clean(clean(unknown(), other), mine)


def test_both_at_once_are_refused_and_nothing_is_changed():
    exam = clean(unknown(), "male_part")
    exam = replace(
        exam, regions={k: v for k, v in exam.regions.items() if k == "male_part"}
    )
    with pytest.raises(OtherSexError) as refused:
        clean(exam, "female_part")
    assert str(refused.value) == "male_part"
    assert "Nothing was changed" in refused.value.advice


def test_a_find_takes_back_what_was_said_of_the_other_sex():
    exam = found("female_part", clean(unknown(), "male_part"))
    assert exam.entry("male_part").state is RegionState.NOT_PRESENT or (
        exam.entry("male_part").state is RegionState.UNEXAMINED
    )
    assert not any("Sheath" in line for line in section(exam, "No abnormality found"))
    assert any("Vulva: wound" in line for line in section(exam, "Findings"))


def test_a_find_in_a_part_leaves_the_unasked_part_of_the_other_sex_not_present():
    exam = found("female_part", unknown())
    assert section(exam, "Not present") == ("Sheath: other sex",)


def test_what_is_found_in_both_stands():
    exam = found("male_part", found("female_part", unknown()), "2")
    assert len(exam.entry("female_part").findings) == 1
    assert len(exam.entry("male_part").findings) == 1
    with pytest.raises(OtherSexError):
        clean(exam, "male_part")


def test_not_examined_says_nothing_of_the_sex():
    exam = mark_not_examined(unknown(), TWO, "male_part", "unsafe", BY)
    exam = clean(exam, "female_part")
    assert section(exam, "Not present") == ("Sheath: other sex",)
    stopped = stop_early(unknown(), TWO, StopReason.ESCAPED, "", BY)
    assert stopped.entry("male_part").state is RegionState.NOT_EXAMINED


def test_the_parts_of_both_sexes_are_not_both_those_of_the_other():
    exam = mark_not_present(unknown(), TWO, "male_part", "other sex", BY, "3" * 32)
    with pytest.raises(OtherSexError):
        mark_not_present(exam, TWO, "female_part", "other sex", BY, "4" * 32)
    removed = mark_not_present(exam, TWO, "female_part", "removed", BY, "4" * 32)
    assert removed.entry("female_part").reason == "removed"


def test_a_known_sex_is_asked_for_its_own_parts_only():
    exam = new_exam(animal=replace(ANIMAL, sex=Sex.MALE))
    exam = clean(exam, "male_part")
    assert "female_part" not in exam.regions
    assert not section(exam, "Not present")


def test_a_part_called_that_of_the_other_sex_stands_beside_the_noted_sex():
    exam = new_exam(animal=replace(ANIMAL, sex=Sex.MALE))
    exam = mark_not_present(exam, TWO, "male_part", "other sex", BY, "3" * 32)
    headline = write_record(exam, TWO).headline
    assert "SEX NOTED AS male, but not present (other sex): sheath" in headline


@pytest.mark.parametrize(
    ("sex", "said"),
    [
        (Sex.MALE, "two, even"),
        (Sex.MALE_NEUTERED, "none felt"),
        (Sex.UNKNOWN, "two, even"),
    ],
)
def test_neuter_status_chooses_the_words_of_the_claim(sex, said):
    exam = new_exam(animal=replace(ANIMAL, sex=sex))
    assert f"{NUMBER}: {said}" in sentence_to_say(exam, MALE, "male_part")
    exam = clean(exam, "male_part")
    text = write_record(exam, TWO).as_text()
    assert text.count(NUMBER) == 1
    assert f"{NUMBER}: {said}" in text


@pytest.mark.parametrize("sex", Sex)
def test_a_claim_of_one_sex_in_a_part_of_every_sex_is_made_of_no_other(sex):
    nose = region("nose", "Nose")
    bull = Clause("bull", "ring sits loosely", "", ALL, sexes=("male",))
    nose = replace(nose, clauses=(*nose.clauses, bull))
    made = clauses_for(new_exam(animal=replace(ANIMAL, sex=sex)), nose)
    assert (bull in made) is (sex.kind == "male")


SECOND = region("second_female_part", "Udder", sexes=("female",))
THREE = replace(TWO, regions=(*TWO.regions, SECOND))


def test_two_parts_of_one_sex_are_both_there_or_both_of_the_other():
    exam = mark_not_present(unknown(), THREE, "female_part", "other sex", BY, "3" * 32)
    words = Role.TECHNICIAN
    exam = assert_no_abnormality(exam, THREE, ("second_female_part",), words, BY)
    assert exam.entry("female_part").state is RegionState.UNEXAMINED
    assert exam.entry("male_part").reason == "other sex"
    with pytest.raises(OtherSexError):
        mark_not_present(exam, THREE, "female_part", "other sex", BY, "4" * 32)
    again = mark_not_present(exam, THREE, "female_part", "removed", BY, "4" * 32)
    assert again.entry("female_part").reason == "removed"
