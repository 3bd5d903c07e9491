"""Which place of an exam comes up next, and when the hand can leave one."""

from dataclasses import replace
from itertools import count

import pytest

from exam_app.app import exam_view
from exam_app.app import region_changes as changes
from exam_app.app.exam_editor import Edit
from exam_app.app.exam_view import CurrentView
from exam_app.app.region_changes import Found
from exam_app.app.view.exam_places import (
    Status,
    next_place,
    open_counts,
    place_to_go_on,
    places_named,
    sections,
    status,
)
from exam_app.app.view.region_presenter import answer_of, answered_words, tap_label
from exam_app.domain.exam.findings import EarlierFinding, EarlierOutcome
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.moments import Moment
from tests.small_dog import (
    DOG,
    NINE_O_CLOCK,
    NOSE,
    TECHNICIAN,
    new_exam,
    no_abnormality,
)

BOTH_EYES = ("eyes.left", "eyes.right")
DISCHARGE = Found(NOSE, (("nose", "5" * 32),), NOSE.terms[0])


def made(exam, *steps):
    numbers = count(1)
    for step in steps:
        at = Moment(NINE_O_CLOCK.utc_ms + 1000 * next(numbers), 0)
        by = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, at, at)
        exam = step(exam, Edit(DOG, by, lambda: f"{next(numbers):032x}"))
    return exam


def not_weighed(exam, edit):
    entry = VitalEntry(reason="no scale")
    return record_vital(exam, DOG, "weight", entry, edit.by, ("9" * 32,))


def test_vitals_come_before_the_first_touch_and_parts_from_head_to_tail():
    listed = [(one.title, one.places) for one in sections(new_exam(), DOG)]
    assert listed == [
        ("Vitals", ("vital:weight",)),
        ("Head", ("nose", "eyes")),
        ("Chest", ("heart",)),
    ]


def test_next_place_goes_head_to_tail_and_around_until_nothing_is_open():
    exam = made(new_exam(), no_abnormality(BOTH_EYES))
    assert next_place(exam, DOG) == "vital:weight"
    assert next_place(exam, DOG, "vital:weight") == "nose"
    assert next_place(exam, DOG, "nose") == "heart"
    assert next_place(exam, DOG, "heart") == "vital:weight"
    done = made(exam, no_abnormality(("nose",)), no_abnormality(("heart",)))
    assert next_place(made(done, not_weighed), DOG, "nose") == ""


def test_what_was_put_off_comes_up_after_everything_else():
    exam = made(new_exam(), changes.later(("nose",), parked=True))
    assert status(exam, DOG, "nose") is Status.PARKED
    assert next_place(exam, DOG, "vital:weight") == "eyes"
    exam = made(exam, no_abnormality(BOTH_EYES), no_abnormality(("heart",)))
    assert next_place(made(exam, not_weighed), DOG, "heart") == "nose"


def test_one_answered_side_keeps_a_pair_where_it_is():
    exam = made(new_exam(), no_abnormality(("eyes.left",)))
    assert status(exam, DOG, "eyes") is Status.OPEN
    exam = made(exam, no_abnormality(("eyes.right",)))
    assert status(exam, DOG, "eyes") is Status.DONE


def test_a_find_keeps_its_part_until_the_rest_is_said():
    exam = made(new_exam(), changes.found(DISCHARGE))
    assert status(exam, DOG, "nose") is Status.OPEN
    exam = made(exam, changes.what_is_left(("nose",), (), (), ()))
    assert status(exam, DOG, "nose") is Status.DONE


def test_an_earlier_find_keeps_its_part_until_it_is_compared():
    earlier = EarlierFinding("e" * 32, "f" * 32, "nose", "2026-01-02", "discharge")
    exam = made(replace(new_exam(), earlier=(earlier,)), no_abnormality(("nose",)))
    assert status(exam, DOG, "nose") is Status.OPEN
    assert next_place(exam, DOG, "vital:weight") == "nose"
    gone = changes.earlier_answered(("f" * 32,), EarlierOutcome.GONE)
    assert status(made(exam, gone), DOG, "nose") is Status.DONE


def test_after_a_restart_the_exam_goes_on_behind_what_was_entered_last():
    assert place_to_go_on(new_exam(), DOG) == "vital:weight"
    exam = made(new_exam(), no_abnormality(BOTH_EYES))
    assert place_to_go_on(exam, DOG) == "heart"
    exam = made(new_exam(), no_abnormality(("eyes.right",)))
    assert place_to_go_on(exam, DOG) == "eyes"


def test_heading_counts_what_is_open_below_it():
    listed = sections(new_exam(), DOG)
    assert open_counts(new_exam(), DOG, listed) == {"Vitals": 1, "Head": 3, "Chest": 1}
    exam = made(new_exam(), no_abnormality(("nose",)), not_weighed)
    assert open_counts(exam, DOG, listed) == {"Vitals": 0, "Head": 2, "Chest": 1}


def test_the_button_names_the_part_its_side_and_what_it_leaves_out():
    assert tap_label("Nose", "", "", 0) == "Nose: no abnormality"
    assert tap_label("Eyes", "Both", "", 1) == (
        "Eyes, both: no abnormality, but 1 not seen"
    )
    assert tap_label("Node", "Left", "Felt for, not felt", 0) == (
        "Node, left: felt for, not felt"
    )


def test_folded_line_says_both_sides_in_one_only_where_nothing_was_found():
    def folded(exam, *keys):
        return answered_words([answer_of(exam, DOG, k, exam.entry(k)) for k in keys])

    assert folded(new_exam(), *BOTH_EYES) == ()
    exam = made(new_exam(), no_abnormality(BOTH_EYES))
    assert folded(exam, *BOTH_EYES) == (("eyes.left", "Both: no abnormality"),)
    exam = made(new_exam(), no_abnormality(("eyes.left",)))
    assert folded(exam, *BOTH_EYES) == (("eyes.left", "Left: no abnormality"),)
    exam = made(new_exam(), changes.found(DISCHARGE))
    assert "discharge" in folded(exam, "nose")[0][1]


@pytest.mark.parametrize(("seconds", "is_refused"), [(0.2, True), (0.6, False)])
def test_a_tap_right_after_the_list_moved_is_not_taken(
    seconds, is_refused, monkeypatch
):
    current = CurrentView("nose", moved_at=100.0)
    monkeypatch.setattr(exam_view.time, "monotonic", lambda: 100.0 + seconds)
    assert current.is_settling is is_refused


def test_a_place_is_found_by_the_beginning_of_its_name_before_what_is_said_in_it():
    exam = new_exam()
    assert places_named(exam, DOG, "nos") == ("nose",)
    assert places_named(exam, DOG, "  EYE ") == ("eyes",)
    assert places_named(exam, DOG, "wei") == ("vital:weight",)
    # "red eye" is a find of the eyes, "murmur" one of the heart.
    assert places_named(exam, DOG, "red") == ("eyes",)
    assert places_named(exam, DOG, "murmur") == ("heart",)
    assert places_named(exam, DOG, "heart mur") == ("heart",)
    for nothing in ("", "  ", "ose", "wing"):
        assert places_named(exam, DOG, nothing) == ()
