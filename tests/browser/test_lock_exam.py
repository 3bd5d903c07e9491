"""A lock in the middle of an exam: afterwards everything stands as it stood."""

import pytest

from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.prepared import PIN, unlock

pytestmark = pytest.mark.chromium_only("places are measured")

# Longer than any one step takes on a busy machine.
IDLE_SECONDS = "15"
HALF = "warm, left of the"


def unlock_with_pin(driver):
    driver.wait("lock-pin")
    driver.type("lock-pin", PIN)
    driver.press("Enter")
    driver.gone("lock-pin")


def place_of(driver, identifier):
    return driver.wait(identifier).first.bounding_box()


def test_half_typed_note_its_sheet_and_the_scroll_outlast_a_lock(
    phone, tmp_path, run_app, monkeypatch
):
    monkeypatch.setenv("TEST_LOCK_AFTER", IDLE_SECONDS)
    unlock(phone, run_app(folder=prepare_exam(tmp_path / "exams")))
    phone.go(f"/exam/{EXAM_ID}")
    phone.click("region-eyes-finding")
    phone.click("finding-side-both")
    phone.click("finding-term-red")
    phone.type("finding-note", HALF)
    before = place_of(phone, "finding-note")
    phone.shot("lock-note-before-phone")
    phone.wait("lock-pin")
    phone.gone("finding-note")
    unlock_with_pin(phone)
    assert place_of(phone, "finding-note") == before
    phone.shot("lock-note-after-phone")
    assert phone.value("finding-note") == HALF
    phone.click("finding-done")
    phone.wait_text("region-eyes-row", HALF)


def test_locking_from_the_examiners_sheet_keeps_the_note_and_the_place(
    phone, tmp_path, run_app
):
    unlock(phone, run_app(folder=prepare_exam(tmp_path / "exams")))
    phone.go(f"/exam/{EXAM_ID}")
    phone.click("region-eyes-finding")
    phone.click("finding-side-both")
    phone.click("finding-term-red")
    phone.type("finding-note", HALF)
    phone.scroll_to("sheet-close")
    phone.click("sheet-close")
    phone.gone("sheet")
    phone.scroll_to("region-eyes-row")
    before = place_of(phone, "region-eyes-row")
    phone.click("examiner")
    # Looking for a button that is not there yet would turn the wheel over the list.
    phone.wait("lock-now")
    phone.click("lock-now")
    unlock_with_pin(phone)
    if phone.has("sheet-close"):
        phone.click("sheet-close")
    phone.wait_text("region-eyes-row", HALF)
    assert place_of(phone, "region-eyes-row") == before
