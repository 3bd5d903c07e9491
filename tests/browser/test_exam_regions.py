"""An exam from nose to tail in a real browser: taps, saves, restarts, both sizes."""

import pytest

from tests.browser.driver import LAPTOP, PHONE, Driver
from tests.browser.prepared import prepare_folder, unlock

SIZES = pytest.mark.parametrize(
    "size",
    [
        pytest.param(PHONE, id="phone"),
        pytest.param(LAPTOP, id="laptop"),
    ],
)


def add_dog(driver: Driver, name: str = "Bruno Demo") -> None:
    driver.click("day-new")
    driver.click("animal-add")
    driver.click("animal-add-dog")
    driver.type("animal-name", name)
    driver.click("animal-sex-male")
    driver.click("animal-save")
    driver.wait("start-go")


def start_exam(driver: Driver, scope: str = "technician") -> None:
    add_dog(driver)
    driver.click(f"start-scope-{scope}")
    driver.click("start-go")
    driver.wait("exam-progress")


@SIZES
def test_one_tap_records_the_sentence_that_the_row_showed(size, prepared, open_page):
    driver = open_page(size)
    unlock(driver, prepared)
    start_exam(driver)
    name = "phone" if size == PHONE else "laptop"
    driver.shot(f"exam-start-{name}")
    driver.scroll_to("region-nose-normal")
    assert "Not answered yet. One tap records:" in driver.text("region-nose-row")
    driver.click("region-nose-normal")
    driver.wait_text("region-nose-state", "No abnormality")
    driver.wait_text("exam-progress", "1 of 31 parts")
    driver.wait_text("saved", "Saved")
    driver.shot(f"exam-nose-{name}")


@pytest.mark.chromium_only("taps land on a place, whatever is drawn there")
def test_second_tap_on_the_same_spot_answers_no_other_region(
    tmp_path, run_app, open_page, monkeypatch
):
    # Longer than a hand's own: a click takes long where many things run.
    monkeypatch.setenv("TEST_GUARD", "4")
    prepared = run_app(folder=prepare_folder(tmp_path / "exams"))
    driver = open_page(PHONE)
    unlock(driver, prepared)
    start_exam(driver)
    driver.scroll_to("region-nose-normal")
    box = driver.find("region-nose-normal").first.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def is_answered():
        driver.page.mouse.click(x, y, delay=20)
        return "1 of 31 parts" in driver.text("exam-progress")

    driver.until(is_answered, "answered by a tap on its place")
    for _ in range(2):
        driver.page.mouse.click(x, y, delay=20)
    driver.wait("region-nose-state")
    assert "1 of 31 parts" in driver.text("exam-progress")


@pytest.mark.chromium_only("a place far beside the sheet is clicked")
def test_a_click_anywhere_beside_a_sheet_closes_it(prepared, open_page):
    driver = open_page(LAPTOP)
    unlock(driver, prepared)
    start_exam(driver)
    driver.click("exam-urgent")
    driver.wait("sheet")
    driver.shot("sheet-shade-laptop")
    for x in (40, LAPTOP["width"] - 40):
        driver.page.mouse.click(x, 400)
        driver.gone("sheet")
        driver.click("exam-urgent")
        driver.wait("sheet")


@SIZES
def test_same_small_find_on_both_sides_is_saved_at_the_third_tap(
    size, prepared, open_page
):
    driver = open_page(size)
    unlock(driver, prepared)
    start_exam(driver)
    driver.scroll_to("region-eyes-finding")
    driver.click("region-eyes-finding")
    driver.click("finding-side-both")
    driver.click("finding-term-red")
    driver.wait("finding-done")
    driver.shot(f"finding-details-{'phone' if size == PHONE else 'laptop'}")
    driver.click("finding-severity-slight")
    driver.type("finding-note", "after the walk")
    driver.click("finding-done")
    driver.gone("sheet")
    driver.wait_text("exam-progress", "2 of 31 parts")
    row = driver.text("region-eyes-row")
    assert row.count("Red, slight, note: after the walk") == 2


def test_undo_takes_the_last_step_back_and_says_which(prepared, open_page):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    start_exam(driver)
    driver.click("region-ears-normal")
    driver.wait_text("exam-progress", "2 of 31 parts")
    driver.click("exam-undo")
    driver.wait_text("told", "Taken back: Ears, both: no abnormality")
    driver.wait_text("exam-progress", "0 of 31 parts")


def test_exam_comes_back_after_the_server_was_ended(prepared, run_app, open_page):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    start_exam(driver)
    driver.click("region-nose-normal")
    driver.wait_text("exam-progress", "1 of 31 parts")
    driver.wait_text("saved", "Saved")
    unlock(driver, run_app(folder=prepared.killed()))
    driver.click(driver.named("day-draft-"))
    driver.wait_text("exam-progress", "1 of 31 parts")
    driver.scroll_to("region-nose-row")
    driver.wait_text("region-nose-state", "No abnormality")


def test_not_examined_needs_a_reason_and_shows_it(prepared, open_page):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    start_exam(driver)
    driver.click("region-mouth-more")
    driver.click("more-choice-not-examined")
    driver.click("more-words-save")
    driver.wait_text("more-words", "Type a few words")
    driver.click("more-reason-0")
    driver.wait_text("region-mouth-row", "unsafe")
    driver.wait_text("region-mouth-state", "Not examined")


def test_struck_claim_makes_the_region_partly_examined(prepared, open_page):
    driver = open_page(LAPTOP)
    unlock(driver, prepared)
    start_exam(driver)
    driver.click("region-mouth-open")
    driver.wait("exam-next")
    driver.click(driver.named("strike-"))
    driver.click("strike-reason-0")
    driver.wait_text("region-mouth-normal", "but 1 not seen")
    driver.click("region-mouth-normal")
    driver.wait_text("region-mouth-state", "Partly examined")
    driver.wait_text("region-mouth-row", "refused")


def test_a_strike_is_there_after_leaving_the_page_and_after_a_kill(
    prepared, run_app, open_page
):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    start_exam(driver)
    driver.click("region-nose-open")
    driver.wait("exam-next")
    driver.shot("region-page-phone")
    driver.click(driver.named("strike-"))
    driver.click("strike-reason-0")
    driver.wait_text("region-nose-normal", "but 1 not seen")
    driver.shot("region-struck-phone")
    driver.click("back")
    driver.scroll_to("region-nose-row")
    driver.wait_text("region-nose-row", "(refused)")
    driver.shot("exam-struck-phone")
    exam = driver.route
    unlock(driver, run_app(folder=prepared.killed()))
    driver.go(exam)
    driver.scroll_to("region-nose-normal")
    driver.wait_text("region-nose-row", "(refused)")
    driver.click("region-nose-normal")
    driver.wait_text("region-nose-state", "Partly examined")
    driver.go(f"/record/{exam.split('/')[-1]}")
    driver.click("record-not-done")
    driver.read_down_to("(refused)")


def test_urgent_sign_stays_in_view_on_every_screen_until_answered(prepared, open_page):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    start_exam(driver)
    driver.click("exam-urgent")
    driver.type("urgent-words", "hit by a car")
    driver.click("urgent-words-save")
    driver.wait("urgent-kind-told")
    driver.click("sheet-close")
    driver.wait_text("urgent-banner", "URGENT, not yet told: hit by a car")
    driver.click("back")
    driver.wait("day-new")
    driver.named("urgent-banner-")
    driver.shot("day-urgent-phone")


def test_volunteer_look_over_speaks_plain_words_and_leaves_the_heart_out(
    prepared, open_page
):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    start_exam(driver, "intake")
    assert "Intake look-over" in driver.text("screen")
    driver.scroll_to("region-distance-row")
    assert "at ease" in driver.text("region-distance-row")
    assert "of 31" not in driver.text("exam-progress")
    driver.shot("intake-phone")


def test_animal_without_a_name_is_asked_for_one(prepared, open_page):
    driver = open_page(LAPTOP)
    unlock(driver, prepared)
    driver.click("day-new")
    driver.click("animal-add")
    driver.click("animal-add-dog")
    driver.click("animal-edit")
    driver.wait_text("animal-problem", "Give the animal a name")


def test_scanned_chip_opens_its_animal_at_the_scanners_enter(prepared, open_page):
    driver = open_page(LAPTOP)
    unlock(driver, prepared)
    driver.click("day-new")
    driver.click("animal-add")
    driver.click("animal-add-dog")
    driver.type("animal-name", "Bruno Demo")
    driver.type("animal-chip", "276098102123456")
    driver.click("animal-edit")
    driver.wait("animal-search")
    driver.type("animal-search", "276098102123456")
    driver.press("Enter")
    driver.wait("start-go")
    assert "Bruno Demo" in driver.text("screen")


def test_address_of_an_exam_that_is_not_here_shows_the_day_and_why(prepared, open_page):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    driver.go(f"/exam/{'0' * 32}")
    driver.wait_text("told", "not open on this device")
    driver.wait("day-new")
