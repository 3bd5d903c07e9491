"""What stands between an exam and its closing, decided without a screen."""

from dataclasses import replace

import pytest

from exam_app.app.view import urgent_presenter as urgent
from exam_app.app.view.review_presenter import (
    HEADINGS,
    haste_text,
    open_count_text,
    point_groups,
    stop_preview,
)
from exam_app.domain.exam.closing import gaps, stop_early
from exam_app.domain.exam.exam import Exam, StopReason
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.region_states import Conclusion, RegionEntry
from exam_app.domain.exam.review import PointKind
from exam_app.domain.exam.transitions import assert_no_abnormality, park
from exam_app.domain.exam.urgent import UrgentEntry
from tests.exam_samples import BY, NOW, PROTOCOL, new_exam


def with_urgent(exam: Exam) -> Exam:
    return replace(exam, urgent=(UrgentEntry("f" * 32, "Bleeding", BY),))


def test_urgent_signs_stand_above_vitals_and_vitals_above_parts():
    groups = point_groups(with_urgent(new_exam()), PROTOCOL)
    assert [heading for heading, _ in groups] == [
        "Urgent signs not answered",
        "Vitals with no value and no reason",
        "Parts not answered",
    ]


def test_every_open_point_is_listed_once_and_counted():
    exam = with_urgent(new_exam())
    points = [p for _, points in point_groups(exam, PROTOCOL) for p in points]
    # One urgent sign, weight and temperature, nose, both eyes, heart, tail.
    assert len(points) == len(set(points)) == 8
    assert open_count_text(exam, PROTOCOL).startswith("8 points are open")


def test_what_a_heading_says_is_not_said_again_in_each_row():
    exam = park(new_exam(), PROTOCOL, "nose", parked=True)
    rows = {
        point.label: point.message
        for _, points in point_groups(exam, PROTOCOL)
        for point in points
    }
    assert rows["Weight"] == "Weight: no value and no reason"
    assert rows["Eyes, left"] == "Eyes, left: unexamined"
    assert rows["Nose: parked"] == "Nose: parked, still unexamined"


def test_every_kind_of_open_point_has_its_heading():
    assert {kind for kind, _ in HEADINGS} == set(PointKind)


def test_twelve_parts_within_ten_seconds_are_asked_about_and_eleven_are_not():
    parts = [f"part{number}" for number in range(12)]
    entry = RegionEntry(Conclusion.ASSERTED, ("looked at",), attribution=BY)
    hasty = replace(new_exam(), regions=dict.fromkeys(parts, entry))
    assert haste_text(hasty).startswith("12 parts were called free of abnormality")
    slower = replace(hasty, regions=dict.fromkeys(parts[1:], entry))
    assert haste_text(slower) == ""


def test_an_answered_part_leaves_the_list():
    exam = assert_no_abnormality(new_exam(), PROTOCOL, ("nose",), Role.TECHNICIAN, BY)
    targets = {p.target for _, points in point_groups(exam, PROTOCOL) for p in points}
    assert "nose" not in targets
    assert "tail" in targets


def test_stopping_early_is_announced_with_what_it_records_and_never_as_normal():
    text = stop_preview(new_exam(), PROTOCOL, StopReason.UNSAFE)
    assert text.startswith("5 parts and 2 vitals will be recorded as not examined")
    assert "None as normal" in text


def test_what_stopping_early_announced_is_what_it_records():
    exam = stop_early(new_exam(), PROTOCOL, StopReason.ESCAPED, "", BY)
    assert open_count_text(exam, PROTOCOL).startswith("Nothing is open")
    assert len(gaps(exam, PROTOCOL)) == 7
    assert exam.vital("temperature").reason == "stopped early: escaped"
    assert "Nothing is left" in stop_preview(exam, PROTOCOL, StopReason.ESCAPED)


def test_an_answer_that_somebody_was_told_names_them():
    form = {"kind": "told", "how": "phone"}
    with pytest.raises(urgent.NobodyNamedError):
        urgent.to_answer(form, BY, NOW)
    named = form | {"whom": " Dr Mar Ondine ", "read-back": "yes"}
    answer = urgent.to_answer(named, BY, NOW)
    assert (answer.whom, answer.at, answer.was_read_back) == (
        "Dr Mar Ondine",
        NOW,
        True,
    )


def test_somebody_told_ten_minutes_ago_is_recorded_at_that_time():
    form = {"kind": "told", "whom": "Dr Mar Ondine", "when": "10"}
    answer = urgent.to_answer(form, BY, NOW)
    assert answer.at is not None
    assert NOW.utc_ms - answer.at.utc_ms == 600_000
    assert answer.attribution.entered == NOW


def test_a_veterinarian_answers_for_themselves_without_naming_anybody():
    form = {
        "kind": "am-veterinarian",
        "whom": "x",
        "how": "phone",
        "instruction": "oxygen",
    }
    answer = urgent.to_answer(form, BY, NOW)
    assert (answer.whom, answer.how, answer.instruction) == ("", "", "oxygen")


def test_nobody_reached_cannot_have_read_anything_back():
    form = {"kind": "tried", "read-back": "yes"}
    assert not urgent.to_answer(form, BY, NOW).was_read_back


def test_the_clinics_number_is_shown_or_its_absence_is():
    assert urgent.clinic_line("Valley Demo", "555 0100") == "Valley Demo: 555 0100"
    assert "No clinic number" in urgent.clinic_line("Valley Demo", "")


def test_the_banner_names_every_unanswered_sign_and_vanishes_with_the_last():
    entry = UrgentEntry("f" * 32, "Bleeding", BY)
    assert urgent.banner_text((entry,)) == "URGENT, not yet told: Bleeding"
    assert urgent.banner_text(()) == ""
    tried = replace(entry, answers=(urgent.to_answer({"kind": "tried"}, BY, NOW),))
    assert urgent.answered_text(tried).startswith("Tried, not reached")
    assert urgent.answered_text(entry) == "No answer yet"
