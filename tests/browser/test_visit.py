"""The visit around the exam in a real browser, at the size of a phone."""

import pytest

from tests.browser.driver import PHONE, Driver
from tests.browser.exam_drafts import prepare_exam
from tests.browser.prepared import ALEX, KIM, PIN, unlock


def start_intake(driver: Driver) -> None:
    driver.click("day-new")
    driver.click("animal-add")
    driver.click("animal-add-cat")
    driver.type("animal-name", "Smoke Demo")
    driver.type("animal-tag", "pen 4")
    driver.type("owner-name", "Nobody Known")
    driver.click("animal-save")
    driver.wait("start-go")
    driver.click("start-scope-intake")
    driver.click("start-setting-shelter")
    driver.click("start-go")
    driver.wait("exam-progress")


def stop_and_close(driver: Driver) -> None:
    driver.click("exam-stop")
    driver.click("stop-reason-unsafe")
    driver.click("stop-confirm")
    driver.wait("review-close")
    driver.click("review-close")
    driver.type("close-pin", PIN)
    driver.click("close-sign")
    driver.wait("record-signed")


def test_intake_of_a_stray_with_chip_scan_to_its_closed_record_and_kennel_card(
    prepared, open_page
):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    start_intake(driver)
    assert "Needed before closing" in driver.text("visit-scans")
    driver.click("exam-review")
    driver.wait("review-point-scan:intake")
    driver.click("review-point-scan:intake")
    driver.wait("scan-none-2")
    driver.click("scan-none-2")
    driver.gone("review-point-scan:intake")
    driver.click("back")
    driver.click("visit-intake")
    driver.click("visit-option-kind-0")
    driver.type("visit-field-found_where", "Mill Lane")
    driver.click("visit-more")
    driver.type("visit-field-hold_until", "Friday noon")
    driver.click("visit-save")
    driver.wait_text("visit-intake", "Mill Lane")
    driver.click("visit-bite")
    driver.type("bite-field-who-0", "a neighbour")
    driver.click("bite-option-when-0-1")
    driver.click("bite-option-told-0-0")
    driver.click("bite-save")
    driver.wait_text("bite-notice", "BITE OR SCRATCH: a neighbour")
    driver.shot("visit-intake-phone")
    stop_and_close(driver)
    driver.wait_text("screen", "none found on this scan (intake, 2 passes)")
    assert "BITE OR SCRATCH: a neighbour" in driver.text("bite-notice")
    driver.click("record-more")
    driver.click("record-kennel")
    driver.wait("kennel-card")
    card = driver.text("kennel-card")
    for words in ("time not known", "has not seen it yet", "pen 4"):
        assert words in card
    driver.scroll_to("kennel-line-7")
    assert "Nobody Known" not in driver.text("screen")
    driver.shot("visit-kennel-phone")
    driver.click("back")
    driver.click("back")
    driver.wait("day-new")
    assert "bite or scratch" in driver.text("screen")


@pytest.mark.chromium_only("keys come as fast as a scanner sends them")
def test_scanner_that_types_reads_two_numbers_and_changes_the_animal_only_when_told(
    prepared, open_page
):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    start_intake(driver)
    driver.click("visit-scans")
    driver.type("scan-number", "97800000000001")
    driver.press("Enter")
    driver.wait_text("scan-check", "14 digits")
    # The reader goes on typing: the field has the focus again.
    driver.page.keyboard.type("978000000000012\n", delay=8)
    driver.wait("scan-read-978000000000012")
    driver.page.keyboard.type("900123456789012\n", delay=8)
    driver.wait("scan-read-900123456789012")
    driver.gone("scan-none-1")
    driver.click("scan-save")
    driver.wait_text("scan-differs", "Nothing was changed")
    driver.click("scan-keep-not")
    driver.gone("sheet")
    assert "978 000 000 000 012" in driver.text("visit-scans")
    driver.click("visit-scans")
    driver.wait_text("scan-line-0", "900 123 456 789 012")


def test_private_note_is_shown_to_the_veterinarian_and_goes_when_another_examines(
    tmp_path, run_app, open_page
):
    app = run_app(folder=prepare_exam(tmp_path / "exams"))
    driver = open_page(PHONE)
    unlock(driver, app)
    driver.click(f"day-draft-{'e' * 32}")
    driver.wait("exam-progress")
    driver.scroll_to("visit-private")
    driver.click("visit-private")
    driver.type("private-note", "old mark of a rope")
    driver.click("private-note-save")
    driver.gone("sheet")
    stop_and_close(driver)
    assert not driver.has("record-private")
    driver.click("examiner")
    driver.click(f"person-{KIM}")
    driver.wait_text("record-private", "old mark of a rope")
    driver.click("examiner")
    driver.click(f"person-{ALEX}")
    driver.gone("record-private")


def test_what_was_given_is_added_and_taken_back(prepared, open_page):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    start_intake(driver)
    driver.scroll_to("visit-given")
    driver.click("visit-given")
    driver.click("visit-save")
    driver.wait_text("visit-problem", "Fill in: product")
    driver.type("visit-field-product", "saline rinse")
    driver.type("visit-field-dose", "5 mL")
    driver.click("visit-save")
    driver.gone("sheet")
    driver.wait_text("visit-given", "saline rinse, 5 mL")
    driver.click("visit-given")
    driver.click("visit-take-back-0")
    driver.gone("visit-line-0")


def test_record_and_its_continuation_are_read_together(prepared, open_page):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    start_intake(driver)
    stop_and_close(driver)
    driver.click("record-continue")
    driver.wait("exam-progress")
    driver.click("visit-scans")
    driver.click("scan-none-3")
    driver.gone("sheet")
    driver.scroll_to("region-nose-normal")
    driver.click("region-nose-normal")
    driver.wait("region-nose-state")
    stop_and_close(driver)
    driver.click("record-more")
    driver.click("record-together-open")
    driver.wait_text("record-together", "One view of 2 signed records")
    driver.wait_text("screen", "none found on this scan (later day, 3 passes)")
    driver.shot("visit-together-phone")
