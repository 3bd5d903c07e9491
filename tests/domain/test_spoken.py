"""What is read on the telephone is heard right: words for units, every urgent thing."""

from dataclasses import replace
from decimal import Decimal

import pytest

from exam_app.app.view.urgent_presenter import (
    answer_asks,
    answered,
    heard_note,
    heard_words,
    to_answer,
    told_by_telephone,
)
from exam_app.domain.exam.findings import Call, Finding
from exam_app.domain.exam.people import Attribution, Role
from exam_app.domain.exam.region_states import RegionEntry
from exam_app.domain.exam.urgent import AnswerKind, UrgentEntry
from exam_app.domain.exam.visit import Given, Procedure
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.intervals import Flag
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.domain.wording.spoken import spelled, spoken_lines
from tests.exam_samples import PROTOCOL
from tests.small_dog import DOG, NINE_O_CLOCK, TECHNICIAN, new_exam

BY = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, NINE_O_CLOCK, NINE_O_CLOCK)
BLEEDS = UrgentEntry("a" * 32, "Bleeding that will not stop", BY, note="left hind leg")
SWOLLEN = UrgentEntry("b" * 32, "Swollen belly", BY)


def urgent_exam():
    return replace(new_exam(), urgent=(BLEEDS, SWOLLEN))


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("39.9 °C", "39 point 9 degrees Celsius"),
        (
            "101.3 °F (38.5 °C)",
            "101 point 3 degrees Fahrenheit (38 point 5 degrees Celsius)",
        ),
        ("88/min", "88 a minute"),
        ("600 kg", "600 kilograms"),
        ("400 ml", "400 millilitres"),
        ("400 mL", "400 millilitres"),
        ("0.5 mg/kg", "0 point 5 milligrams per kilogram"),
        ("about 22 lb 9 oz", "about 22 pounds 9 ounces"),
        ("3 s", "3 seconds"),
        ("12 mmHg", "12 millimetres of mercury"),
        ("2 sides, 5 legs", "2 sides, 5 legs"),
        ("lame 3 grades", "lame 3 grades"),
    ],
)
def test_units_and_decimal_points_are_words(written, said):
    assert spelled(written) == said


def test_five_lines_say_animal_seen_done_asked_and_who_calls():
    exam = record_visit(
        urgent_exam(), Given("Calcium", BY, "400 ml", "under the skin", at=NINE_O_CLOCK)
    )
    exam = record_visit(exam, Procedure("pressure bandage", BY, "left hind leg"))
    lines = spoken_lines(exam, DOG, TECHNICIAN)
    assert [heading for heading, _ in lines] == [
        "Animal and place",
        "What was seen",
        "What was done",
        "What is asked",
        "Who calls",
    ]
    said = [sentence for _, sentence in lines]
    assert exam.animal.name in said[0]
    assert "Bleeding that will not stop, left hind leg; Swollen belly" in said[1]
    assert "Given: Calcium, 400 millilitres, under the skin, at 09:00" in said[2]
    assert "pressure bandage, left hind leg" in said[2]
    assert said[4] == f"{TECHNICIAN.name}, technician."


def test_findings_for_the_veterinarian_and_values_outside_are_read_others_are_not():
    red = Finding("1" * 32, "redness", BY, call=Call.VETERINARIAN_TO_LOOK)
    calm = Finding("2" * 32, "old scar", BY)
    hot = VitalEntry(
        Reading("41.2", "degC", Decimal("41.2")),
        flag=Flag(FlagLevel.ABOVE, "41.2 °C: above", ("t1",), ("s1",), unchecked=False),
        attribution=BY,
    )
    exam = replace(
        new_exam(),
        regions={"nose": RegionEntry(findings=(red, calm))},
        vitals={"temperature": hot},
    )
    seen = dict(spoken_lines(exam, PROTOCOL, TECHNICIAN))["What was seen"]
    assert "Nose: redness" in seen
    assert "scar" not in seen
    assert "temperature 41 point 2 degrees Celsius, above the published range" in seen


def test_an_exam_without_anything_says_so_and_leaves_no_line_empty():
    said = [sentence for _, sentence in spoken_lines(new_exam(), DOG, TECHNICIAN)]
    assert said[1] == "Nothing urgent was recorded."
    assert said[2] == "Nothing was given or done yet."


def test_who_hears_it_is_told_of_every_sign_of_which_nobody_was():
    tried = to_answer({"kind": "tried"}, BY, NINE_O_CLOCK)
    told = to_answer({"kind": "told", "whom": "Dr Elm"}, BY, NINE_O_CLOCK)
    signs = (
        BLEEDS,
        replace(SWOLLEN, answers=(tried,)),
        UrgentEntry("c" * 32, "Pale gums", BY, answers=(told,)),
    )
    exam = told_by_telephone(replace(new_exam(), urgent=signs), "Dr Ash", BY)
    last = [(len(one.answers), one.answers[-1].whom) for one in exam.urgent]
    assert last == [(1, "Dr Ash"), (2, "Dr Ash"), (1, "Dr Elm")]
    assert exam.urgent[0].answers[0].how == "phone"
    assert exam.urgent[0].answers[0].at == NINE_O_CLOCK


def test_the_veterinarian_who_is_here_says_so_once_for_every_open_sign():
    exam = urgent_exam()
    mine = to_answer({"kind": "am-veterinarian"}, BY, NINE_O_CLOCK)
    answers = [one.answers for one in answered(exam, BLEEDS.entry_id, mine).urgent]
    assert [one[0].kind for one in answers] == [AnswerKind.AM_VETERINARIAN] * 2
    told = to_answer({"kind": "told", "whom": "Dr Ash"}, BY, NINE_O_CLOCK)
    only = [one.is_answered for one in answered(exam, BLEEDS.entry_id, told).urgent]
    assert only == [True, False]


@pytest.mark.parametrize("role", list(Role))
def test_only_a_veterinarian_is_offered_to_be_one(role):
    labels = [label for _, label in answer_asks((), role, 3)[0].choices]
    is_offered = "I am the veterinarian: all 3 signs" in labels
    assert is_offered is (role is Role.VETERINARIAN)
    assert labels[:2] == ["Told", "Tried, not reached"]


def test_a_note_of_who_heard_it_is_found_again_among_others():
    note = heard_note("Dr Ash", NINE_O_CLOCK)
    assert heard_words(["Looked again", note]) == f"{note}."
    assert "2025-11-25 09:00" in note
    assert heard_words(["Looked again"]) == ""
