"""When handling stops: the sign's own action says so, and its source was read."""

from dataclasses import replace

import pytest

from exam_app.app.exam_editor import Edit
from exam_app.app.region_changes import Found, detailed
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.handling import newly_stopping
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.protocols.loader import load_protocol
from tests.small_dog import NINE_O_CLOCK, TECHNICIAN, new_exam

CAT = load_protocol("cat").protocol
BY = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, NINE_O_CLOCK, NINE_O_CLOCK)
IDS = tuple(str(number) * 32 for number in range(1, 9))


def cat_exam() -> Exam:
    exam = new_exam()
    return replace(exam, animal=replace(exam.animal, species="cat"))


def gums(exam: Exam, value: str) -> Exam:
    entry = VitalEntry(words=(value,), values=(value,))
    return record_vital(exam, CAT, "mucous_membrane_colour", entry, BY, IDS)


def open_mouth(exam: Exam) -> Exam:
    find = Finding("f" * 32, "Open-mouth breathing", BY, term_id="open_mouth")
    return add_finding(exam, CAT, "distance", find, "9" * 32)


def labels(before: Exam, after: Exam) -> list[str]:
    return [entry.label for entry in newly_stopping(before, after, CAT)]


def test_open_mouth_breathing_of_a_cat_stops_the_handling():
    before = cat_exam()
    assert labels(before, open_mouth(before)) == ["Open-mouth breathing"]


def test_blue_gums_stop_the_handling_and_pale_ones_do_not():
    before = cat_exam()
    assert labels(before, gums(before, "blue_grey")) == ["Blue or muddy gums"]
    assert labels(before, gums(before, "white")) == []


def test_detail_added_to_the_find_does_not_stop_the_hands_again():
    before = open_mouth(cat_exam())
    find = Found(CAT.region("distance"), (("distance", "f" * 32),))
    edit = Edit(CAT, BY, lambda: "8" * 32)
    after = detailed(find, note="since the car")(before, edit)
    assert after != before
    assert labels(before, after) == []


def test_second_sign_of_its_own_stops_it_again():
    before = open_mouth(cat_exam())
    assert labels(before, gums(before, "blue_grey")) == ["Blue or muddy gums"]


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_sign_that_stops_handling_says_not_to_restrain_by_a_source_that_was_read(
    species,
):
    protocol = load_protocol(species).protocol
    provenance = {s.source_id: s.provenance for s in protocol.sources}
    stopping = [sign for sign in protocol.urgent_signs if sign.stops_handling]
    assert stopping
    for sign in stopping:
        assert "do not restrain" in sign.action.lower()
        # Panic: common practice, no source.
        assert provenance[sign.source_id] == "read" or sign.sign_id == "panic"


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_every_action_that_forbids_restraint_stops_the_handling(species):
    for sign in load_protocol(species).protocol.urgent_signs:
        assert sign.stops_handling == ("do not restrain" in sign.action.lower())
