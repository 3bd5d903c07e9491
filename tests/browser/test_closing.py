"""Review, stopping early, closing with a PIN, and the written record, in a browser."""

import pytest

from exam_app.domain.exam.closing import stop_early
from exam_app.domain.exam.exam import StopReason, keys_in_scope, words_for
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.transitions import assert_no_abnormality
from exam_app.domain.protocol.protocol import Scope
from exam_app.protocols.loader import load_protocol
from tests.browser.exam_drafts import EXAM_ID, STARTER, prepare_exam
from tests.browser.prepared import PIN, unlock


def answered(exam, protocol):
    """Answer every part, each on its own, as a person would."""
    by = Attribution(STARTER.person_id, STARTER.person_id, exam.started, exam.started)
    for key in keys_in_scope(exam, protocol):
        exam = assert_no_abnormality(exam, protocol, (key,), words_for(exam), by)
    return exam


def stopped(exam, protocol):
    """Stop it before anything was done."""
    by = Attribution(STARTER.person_id, STARTER.person_id, exam.started, exam.started)
    return stop_early(exam, protocol, StopReason.UNSAFE, "", by)


@pytest.fixture
def done(tmp_path, run_app):
    """An app over a focused exam in which every part is answered."""
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("nose", "eyes"), answered)
    return run_app(folder=folder)


def test_every_open_point_leads_to_its_place_and_closing_waits(
    phone, tmp_path, run_app
):
    app = run_app(folder=prepare_exam(tmp_path / "exams"))
    unlock(phone, app)
    phone.go(f"/exam/{EXAM_ID}/review")
    phone.wait_text("review-status", "points are open")
    phone.shot("review-open-phone")
    phone.gone("review-close")
    phone.click("review-point-temperature")
    phone.click("vital-reason-unsafe")
    phone.gone("review-point-temperature")


def test_an_answered_exam_is_closed_by_two_taps_and_a_pin(phone, done):
    unlock(phone, done)
    phone.go(f"/exam/{EXAM_ID}/review")
    phone.wait_text("review-status", "Nothing is open")
    phone.shot("review-done-phone")
    phone.click("review-close")
    for digit in PIN:
        phone.click(f"pad-{digit}")
    phone.shot("close-pin-phone")
    phone.click("close-sign")
    phone.wait_text("record-signed", "the signature fits")
    phone.wait_text("record-text", "Everything")
    phone.shot("record-phone")
    phone.go("/")
    phone.wait("examiner")
    phone.shot("day-after-closing-phone")


def test_a_wrong_pin_closes_nothing(phone, done):
    unlock(phone, done)
    phone.go(f"/exam/{EXAM_ID}/review")
    phone.click("review-close")
    phone.type("close-pin", "1111")
    phone.click("close-sign")
    phone.wait_text("close-pin", "does not fit")
    phone.shot("close-wrong-pin-phone")
    phone.click("sheet-close")
    phone.wait("review-close")


def test_a_closed_record_survives_a_restart_and_reads_the_same(
    phone, laptop, tmp_path, run_app
):
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("nose", "eyes"), answered)
    app = run_app(folder=folder)
    unlock(phone, app)
    phone.go(f"/exam/{EXAM_ID}/review")
    phone.click("review-close")
    phone.type("close-pin", PIN)
    phone.click("close-sign")
    phone.wait("record-signed")
    before = phone.text("record-text")
    app.stop()
    again = run_app(folder=folder)
    unlock(laptop, again)
    laptop.go(f"/record/{EXAM_ID}")
    laptop.wait_text("record-signed", "the signature fits")
    laptop.shot("record-laptop")
    assert laptop.text("record-text") == before


def test_stopping_early_takes_three_taps_from_the_exam(phone, tmp_path, run_app):
    app = run_app(
        folder=prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("nose", "eyes"))
    )
    unlock(phone, app)
    phone.go(f"/exam/{EXAM_ID}")
    phone.wait("exam-stop")
    phone.click("exam-stop")
    phone.click("stop-reason-unsafe")
    phone.shot("stop-early-phone")
    phone.click("stop-confirm")
    phone.wait_text("review-status", "Nothing is open")
    phone.shot("stopped-phone")


def test_many_parts_in_a_moment_are_asked_about_and_can_still_be_closed(
    phone, tmp_path, run_app
):
    regions = tuple(
        region.region_id
        for region in load_protocol("dog").protocol.regions
        if Scope.TECHNICIAN in region.scopes and not region.sexes
    )
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, regions, answered)
    unlock(phone, run_app(folder=folder))
    phone.go(f"/exam/{EXAM_ID}/review")
    phone.wait_text("review-haste", "Look again, or close as it is")
    phone.shot("review-haste-phone")
    phone.wait("review-close")


def test_a_continuation_asks_only_for_what_was_left_open(phone, tmp_path, run_app):
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("nose", "eyes"), stopped)
    app = run_app(folder=folder)
    unlock(phone, app)
    phone.go(f"/exam/{EXAM_ID}/review")
    phone.click("review-close")
    phone.type("close-pin", PIN)
    phone.click("close-sign")
    phone.wait("record-continue")
    # The foot is one row: all but what comes next lies behind more.
    assert not phone.has("record-copy")
    phone.click("record-more")
    for name in ("record-copy", "record-correct", "record-hand-over"):
        phone.wait(name)
    phone.click("sheet-close")
    phone.gone("sheet")
    phone.shot("record-stopped-phone")
    phone.click("record-continue")
    phone.wait_text("exam-progress", "0 of 3")
    phone.shot("continuation-phone")


def test_the_unsigned_draft_says_that_it_is_not_closed(laptop, tmp_path, run_app):
    app = run_app(folder=prepare_exam(tmp_path / "exams"))
    unlock(laptop, app)
    laptop.go(f"/record/{EXAM_ID}")
    laptop.wait_text("record-text", "NOT CLOSED")
    laptop.gone("record-signed")
    laptop.shot("record-draft-laptop")
