"""A group is a patient, its animals are others, and nothing is filled down."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.domain.animal.groups import (
    GroupNumbersError,
    LitterMate,
    litter,
    litter_names,
    row_animal,
    set_group,
    with_age_by_teeth,
    young_word,
)
from exam_app.domain.animal.signalment import AgeBasis, Animal, Sex
from exam_app.domain.errors import OpenPointsError
from exam_app.domain.exam.closing import close
from exam_app.domain.exam.exam import (
    keys_in_scope,
    regions_outside_scope,
    required_vitals,
)
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.review import PointKind, review
from exam_app.domain.exam.transitions import assert_no_abnormality
from exam_app.domain.exam.visit import GroupFacts
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.written_record import write_record
from exam_app.protocols.loader import load_protocol
from tests.exam_samples import BY, NOW, TECHNICIAN

DOG = load_protocol("dog")
FLOCK = Animal("c" * 32, "Kennel row (demo)", "dog", is_group=True, is_demo=True)
WHOLE = GroupFacts(present=24, examined=20, affected=2, dead=0, chosen="every one")


def group_exam(animal=FLOCK, **changes):
    order = ExamOrder(animal, Scope.GROUP, Setting.FARM)
    exam = begin_exam(order, DOG.protocol, DOG.content_hash, TECHNICIAN, "d" * 32, NOW)
    return replace(exam, **changes)


def answered(exam):
    for key in keys_in_scope(exam, DOG.protocol):
        exam = assert_no_abnormality(exam, DOG.protocol, (key,), Role.TECHNICIAN, BY)
    return exam


def test_a_group_is_looked_at_from_a_distance_and_asked_for_its_numbers():
    exam = group_exam()
    assert keys_in_scope(exam, DOG.protocol) == ("distance",)
    assert required_vitals(exam, DOG.protocol) == ()
    asked = [p.message for p in review(exam, DOG.protocol)]
    assert sum("Group: say" in message for message in asked) == 3


def test_a_groups_exam_does_not_close_without_how_the_animals_were_chosen():
    exam = set_group(answered(group_exam()), replace(WHOLE, chosen=" "))
    with pytest.raises(OpenPointsError) as refused:
        close(exam, DOG.protocol, TECHNICIAN, NOW)
    assert [p.kind for p in refused.value.points] == [PointKind.GROUP]


def test_a_groups_record_writes_its_numbers_and_how_they_were_chosen():
    exam = set_group(answered(group_exam()), WHOLE)
    closed = close(exam, DOG.protocol, TECHNICIAN, NOW)
    text = write_record(closed, DOG.protocol).as_text()
    for line in ("Present: 24", "Examined: 20", "Affected: 2", "Dead: 0"):
        assert line in text
    assert "How they were chosen: every one" in text


@pytest.mark.parametrize(
    "facts",
    [
        GroupFacts(present=-1),
        GroupFacts(present=3, examined=4),
        GroupFacts(present=3, affected=4),
        GroupFacts(dead=-2),
    ],
)
def test_numbers_that_cannot_be_right_are_refused(facts):
    with pytest.raises(GroupNumbersError):
        set_group(group_exam(), facts)


def test_an_animal_of_a_group_answers_for_itself():
    row = row_animal(FLOCK, "e" * 32, "0417")
    exam = group_exam(row, group_exam="d" * 32)
    assert not exam.regions
    assert not exam.vitals
    assert len(keys_in_scope(exam, DOG.protocol)) >= 1
    with pytest.raises(OpenPointsError):
        close(exam, DOG.protocol, TECHNICIAN, NOW)


def test_columns_not_chosen_are_not_part_of_the_exam_and_said_so():
    row = row_animal(FLOCK, "e" * 32, "0417")
    exam = group_exam(row, focus=("distance",), asked_vitals=("temperature",))
    outside = {r.region_id for r in regions_outside_scope(exam, DOG.protocol)}
    assert "distance" not in outside
    assert outside
    kinds = {(p.kind, p.target) for p in review(exam, DOG.protocol)}
    assert (PointKind.VITAL, "temperature") in kinds


def test_a_row_takes_signalment_and_place_from_the_group_and_no_more():
    told = {"age_days": 900, "age_on": "2026-01-01", "age_basis": AgeBasis.TOLD}
    group = replace(FLOCK, place="Top field", chip="123456789012345", absent=("tail",))
    row = row_animal(replace(group, sex=Sex.FEMALE, **told), "e" * 32, " 0417 ")
    assert (row.species, row.place, row.tag) == ("dog", "Top field", "0417")
    assert (row.sex, row.age_days, row.age_basis) == (Sex.FEMALE, 900, AgeBasis.TOLD)
    assert not row.chip
    assert not row.absent
    assert not row.is_group


def test_a_litter_shares_signalment_and_never_a_chip_or_an_absent_part():
    first = Animal(
        "a" * 32,
        "Litter",
        "dog",
        "mixed",
        age_days=28,
        age_on="2026-01-01",
        age_basis=AgeBasis.ESTIMATED,
        chip="123456789012345",
        absent=("tail",),
    )
    mates = (LitterMate("One", Sex.MALE), LitterMate("Two", colour="black"))
    one, two = litter(first, mates, ("b" * 32, "c" * 32), dam="Tansy (demo)")
    assert (one.sex, two.sex) == (Sex.MALE, Sex.UNKNOWN)
    assert two.colour == "black"
    assert one.age_days == two.age_days == 28
    assert one.dam == two.dam == "Tansy (demo)"
    assert not one.chip
    assert not one.absent
    assert one.animal_id != two.animal_id


@pytest.mark.parametrize(
    "mates", [(), (LitterMate("One"),), (LitterMate("One"), LitterMate(" "))]
)
def test_a_litter_is_two_or_more_named_animals(mates):
    with pytest.raises(GroupNumbersError):
        litter(FLOCK, mates, tuple("abc"[: len(mates)]))


def test_a_litter_without_names_gets_the_word_of_its_young_and_numbers():
    assert litter_names(("", " ", ""), young_word("pig")) == (
        "Piglet 1",
        "Piglet 2",
        "Piglet 3",
    )
    names = litter_names(("", "Piglet 1", ""), "Piglet", {"Piglet 2"})
    assert names == ("Piglet 3", "Piglet 1", "Piglet 4")
    assert young_word("a practice's own") == "Number"


def test_a_litter_of_twenty_two_piglets_is_taken_in():
    names = litter_names([""] * 22, young_word("pig"))
    ids = tuple(f"{number:032x}" for number in range(22))
    piglets = litter(FLOCK, tuple(map(LitterMate, names)), ids)
    assert piglets[-1].name == "Piglet 22"


def test_an_age_by_teeth_is_an_estimate_with_its_method():
    seen = with_age_by_teeth(FLOCK, 49, "2026-02-01", "all milk incisors through")
    assert seen.age_basis is AgeBasis.ESTIMATED
    exam = group_exam(replace(seen, is_group=False))
    text = write_record(exam, DOG.protocol).as_text()
    assert "teeth: all milk incisors through" in text


@given(
    st.builds(
        GroupFacts,
        present=st.none() | st.integers(-1, 5),
        examined=st.none() | st.integers(-1, 5),
        affected=st.none() | st.integers(-1, 5),
        dead=st.none() | st.integers(-1, 5),
        chosen=st.sampled_from(["", "every third"]),
    )
)
def test_a_groups_exam_closes_only_with_counts_that_can_be_right(facts):
    exam = answered(group_exam())
    try:
        exam = set_group(exam, facts)
        closed = close(exam, DOG.protocol, TECHNICIAN, NOW)
    except (GroupNumbersError, OpenPointsError):
        return
    kept = closed.group
    assert kept.chosen
    assert 0 <= kept.examined <= kept.present
