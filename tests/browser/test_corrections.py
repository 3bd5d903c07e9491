"""Correct a closed record on the device, as its closer and as somebody else."""

from exam_app.domain.protocol.protocol import Scope
from tests.browser.driver import PHONE
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.prepared import KIM, PIN, unlock
from tests.browser.test_closing import answered


def close_it(driver):
    driver.wait("review-close")
    driver.click("review-close")
    driver.type("close-pin", PIN)
    driver.click("close-sign")
    driver.wait("record-signed")


def test_a_complete_record_is_corrected_and_shows_both_values(
    open_page, tmp_path, run_app
):
    driver = open_page(PHONE)
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("nose", "eyes"), answered)
    unlock(driver, run_app(folder=folder))
    driver.go(f"/exam/{EXAM_ID}/review")
    close_it(driver)
    driver.click("record-more")
    driver.click("record-correct")
    driver.wait("correct-answers")
    driver.shot("correct-sheet-phone")
    driver.type("correct-why", "looked again")
    driver.click("correct-answers")
    driver.wait("exam-progress")
    driver.shot("correct-exam-phone")
    driver.click("region-nose-finding")
    driver.type("finding-words", "dry and cracked")
    driver.click("finding-words-save")
    driver.wait("finding-done")
    driver.click("finding-done")
    driver.gone("sheet")
    driver.go(f"/exam/{EXAM_ID}/review")
    driver.shot("correct-review-phone")
    close_it(driver)
    driver.wait_text("record-text", "CORRECTED after closing: Nose")
    driver.shot("corrected-record-phone")
    driver.read_down_to("dry and cracked [CORRECTED, before: no abnormality found")


def test_another_role_says_in_a_note_what_should_read_otherwise(
    open_page, tmp_path, run_app
):
    driver = open_page(PHONE)
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("nose", "eyes"), answered)
    unlock(driver, run_app(folder=folder))
    driver.go(f"/exam/{EXAM_ID}/review")
    close_it(driver)
    driver.click("examiner")
    driver.click(f"person-{KIM}")
    driver.gone("sheet")
    driver.click("record-more")
    driver.click("record-correct")
    driver.wait("correct-words")
    driver.gone("correct-answers")
    driver.click("correct-words")
    driver.click("correct-item-1")
    driver.type("correct-now", "something else")
    driver.shot("correct-words-phone")
    driver.type("clinic-pin", PIN)
    driver.click("clinic-note-save")
    driver.gone("sheet")
    driver.read_down_to("A NOTE SAYS IT SHOULD READ: something else")
    driver.shot("corrected-note-phone")
