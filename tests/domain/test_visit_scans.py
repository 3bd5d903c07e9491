"""Chip scans: an intake needs one, each is added, and none found claims no more."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.app.forms import scan_form
from exam_app.app.forms.scan_form import ScanForm
from exam_app.domain.animal.chips import SCAN_GAP, difference_words, scans_of
from exam_app.domain.errors import OpenPointsError
from exam_app.domain.exam.closing import close, continuation, gaps, stop_early
from exam_app.domain.exam.continued import combined
from exam_app.domain.exam.exam import StopReason
from exam_app.domain.exam.review import PointKind, review
from exam_app.domain.exam.visit import SCAN_SLOTS, ChipScan, Intake
from exam_app.domain.exam.visit_transitions import keep_chip, record_visit
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.written_record import write_record
from tests.exam_samples import BY, NOW, PROTOCOL, TECHNICIAN, VETERINARIAN, new_exam

NUMBER = "978000000000012"
OTHER = "900123456789012"
NONE_FOUND = ChipScan("intake", (), 2, "wand", BY)
NOT_DONE = ChipScan("intake", (), 0, "", BY, not_done="no scanner here")


def open_kinds(exam):
    return [point.kind for point in review(exam, PROTOCOL)]


def stopped(exam):
    return stop_early(exam, PROTOCOL, StopReason.UNSAFE, "", BY)


def test_intake_without_a_chip_scan_is_not_closed():
    exam = stopped(new_exam(Scope.INTAKE))
    exam = replace(exam, intake=None)
    with pytest.raises(OpenPointsError) as refused:
        close(exam, PROTOCOL, TECHNICIAN, NOW)
    assert [p.kind for p in refused.value.points] == [PointKind.SCAN]


@pytest.mark.parametrize(
    "scan",
    [ChipScan("intake", (NUMBER,), 0, "wand", BY), NONE_FOUND, NOT_DONE],
    ids=["number", "none found", "not scanned"],
)
def test_number_none_found_or_a_reason_answers_the_intake_scan(scan):
    exam = record_visit(new_exam(Scope.INTAKE), scan)
    assert PointKind.SCAN not in open_kinds(exam)


@pytest.mark.parametrize("slot", SCAN_SLOTS[1:])
def test_scan_of_another_day_does_not_answer_the_intake_scan(slot):
    exam = record_visit(new_exam(Scope.INTAKE), replace(NONE_FOUND, slot=slot))
    assert PointKind.SCAN in open_kinds(exam)


@pytest.mark.parametrize("scope", [Scope.TECHNICIAN, Scope.VETERINARIAN, Scope.FOCUSED])
def test_other_scopes_ask_for_no_scan(scope):
    assert PointKind.SCAN not in open_kinds(new_exam(scope))


def test_stopping_early_says_why_there_was_no_scan_and_drops_none():
    exam = stopped(new_exam(Scope.INTAKE))
    assert [s.not_done for s in scans_of(exam)] == ["stopped early: unsafe"]
    assert SCAN_GAP in gaps(exam, PROTOCOL)
    text = write_record(exam, PROTOCOL).as_text()
    assert "chip scan (stopped early: unsafe)" in text
    assert "none found" not in text
    scanned = stopped(record_visit(new_exam(Scope.INTAKE), NONE_FOUND))
    assert scans_of(scanned) == (NONE_FOUND,)


def test_continuation_asks_for_the_scan_left_undone_and_closes_the_gap():
    first = close(stopped(new_exam(Scope.INTAKE)), PROTOCOL, TECHNICIAN, NOW)
    second = continuation(first, PROTOCOL, "d" * 32, VETERINARIAN, NOW)
    assert PointKind.SCAN in open_kinds(second)
    later = replace(NONE_FOUND, slot="later day")
    second = record_visit(second, later)
    assert PointKind.SCAN not in open_kinds(second)
    view = combined(first, (second,), PROTOCOL)
    assert [s.slot for s in scans_of(view)] == ["intake", "later day"]
    assert SCAN_GAP not in gaps(view, PROTOCOL)


def test_continuation_of_a_scanned_intake_asks_for_no_scan():
    exam = stopped(record_visit(new_exam(Scope.INTAKE), NONE_FOUND))
    first = close(exam, PROTOCOL, TECHNICIAN, NOW)
    second = continuation(first, PROTOCOL, "d" * 32, VETERINARIAN, NOW)
    assert PointKind.SCAN not in open_kinds(second)


@given(
    st.lists(
        st.builds(
            ChipScan,
            st.sampled_from(SCAN_SLOTS),
            st.lists(st.sampled_from([NUMBER, OTHER]), max_size=2).map(tuple),
            st.integers(0, 4),
            st.just("wand"),
            st.just(BY),
        ),
        max_size=6,
    )
)
def test_every_scan_is_added_and_none_is_replaced(scans):
    exam = new_exam(Scope.INTAKE)
    for scan in scans:
        exam = record_visit(record_visit(exam, scan), Intake(kind="stray"))
    assert scans_of(exam) == tuple(scans)


def test_scanned_number_that_is_not_the_recorded_one_is_said_and_changes_nothing():
    exam = new_exam(Scope.INTAKE)
    exam = replace(exam, animal=replace(exam.animal, chip=NUMBER))
    exam = record_visit(exam, ChipScan("intake", (OTHER,), 0, "", BY))
    assert "900 123 456 789 012" in difference_words(exam)
    assert "CHIP NUMBERS DIFFER" in write_record(exam, PROTOCOL).as_text()
    assert exam.animal.chip == NUMBER
    number, question = scan_form.question_about(exam)
    assert number == OTHER
    assert "Nothing was changed" in question
    assert keep_chip(exam, number).animal.chip == OTHER


def test_same_number_with_spaces_differs_from_nothing():
    exam = new_exam()
    exam = replace(exam, animal=replace(exam.animal, chip="978 000 000 000 012"))
    exam = record_visit(exam, ChipScan("intake", (NUMBER,), 0, "", BY))
    assert difference_words(exam) == ""
    assert scan_form.question_about(exam) == ("", "")


def test_number_cut_short_is_kept_only_when_somebody_says_so():
    form = scan_form.with_read(ScanForm("intake"), "97800000000001")
    assert form.numbers == ()
    assert "14 digits" in scan_form.number_words(form.refused)
    kept = scan_form.kept_as_read(form)
    assert (kept.numbers, kept.refused) == (("97800000000001",), "")


def test_two_chips_in_one_animal_are_both_read_and_the_same_one_once():
    form = ScanForm("intake")
    for typed in (f"{NUMBER}\n", OTHER, NUMBER):
        form = scan_form.with_read(form, typed)
    assert form.numbers == (NUMBER, OTHER)
    assert scan_form.without_number(form, NUMBER).numbers == (OTHER,)


def test_scan_without_a_number_of_passes_does_not_speak_of_passes():
    exam = record_visit(new_exam(), ChipScan("intake", (NUMBER,), 0, "wand", BY))
    line = "Chip scan: 978 000 000 000 012 (intake, wand)"
    assert line in write_record(exam, PROTOCOL).as_text()
    once = record_visit(new_exam(), replace(NONE_FOUND, passes=1))
    text = write_record(once, PROTOCOL).as_text()
    assert "none found on this scan (intake, 1 pass, wand)" in text


def test_next_occasion_is_offered_first():
    assert scan_form.next_slot(new_exam()) == "intake"
    assert scan_form.next_slot(record_visit(new_exam(), NOT_DONE)) == "later day"
