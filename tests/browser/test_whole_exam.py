"""The whole job in a real browser: from unlocking to the signed, written record."""

import pytest

from exam_app.domain.exam.exam import Exam
from tests.browser.driver import LAPTOP, PHONE
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.prepared import PIN, unlock
from tests.browser.whole_exam import Hand, answer_row, rows_of, take_vitals

MISSED = "nose"
SIZES = pytest.mark.parametrize(
    "size",
    [
        pytest.param(PHONE, id="phone"),
        pytest.param(LAPTOP, id="laptop"),
    ],
)


@SIZES
@pytest.mark.everyday_in_chromium
def test_dog_is_examined_refused_for_one_region_completed_signed_and_read(
    size, tmp_path, run_app, open_page
):
    started: list[Exam] = []

    def keep(exam, _protocol):
        started.append(exam)
        return exam

    app = run_app(folder=prepare_exam(tmp_path / "exams", alter=keep))
    driver = open_page(size, pixels=0.5)
    unlock(driver, app)
    driver.click(driver.named("day-draft-"))
    driver.wait("exam-progress")
    hand = Hand(driver)
    take_vitals(hand)
    for region_id, _ in rows_of(started[0]):
        if region_id != MISSED:
            answer_row(hand, region_id)
    driver.click("exam-review")
    driver.wait_text("review-status", "open")
    driver.gone("review-close")
    driver.shot(f"whole-refused-{'phone' if size == PHONE else 'laptop'}")

    driver.click(f"review-point-{MISSED}")
    driver.wait(f"region-{MISSED}-normal")
    driver.click(f"region-{MISSED}-normal")
    driver.wait_text("saved", "Saved")
    driver.go(f"/exam/{EXAM_ID}/review")
    driver.wait_text("review-status", "Nothing is open")
    driver.click("review-close")
    driver.type("close-pin", PIN)
    driver.click("close-sign")

    driver.wait_text("record-signed", "the signature fits")
    driver.wait_text("record-text", "Everything")
    driver.shot(f"whole-record-{'phone' if size == PHONE else 'laptop'}")
    for words in ("38.4", "No abnormality found", "Not part of this exam"):
        driver.read_down_to(words)
