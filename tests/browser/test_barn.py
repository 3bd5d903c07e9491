"""Animals that do not hold still, in barns and shelters: at the size of a phone."""

import pytest

from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from tests.browser.driver import PHONE, Driver
from tests.browser.exam_drafts import EXAM_ID, SMOKE, prepare_exam
from tests.browser.prepared import KIM, PIN, unlock


def open_draft(driver: Driver) -> None:
    driver.click(f"day-draft-{EXAM_ID}")
    driver.wait("exam-progress")


def test_hissing_cat_is_parked_and_gone_on_with_by_another_person(
    tmp_path, run_app, open_page
):
    folder = prepare_exam(
        tmp_path / "exams", Scope.FOCUSED, ("nose", "mouth"), animal=SMOKE
    )
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=folder))
    open_draft(driver)
    driver.click("region-nose-normal")
    driver.wait("region-nose-state")
    driver.click("region-mouth-more")
    driver.click("more-choice-later")
    driver.scroll_to("exam-parked")
    driver.wait_text("exam-parked", "Parked: Mouth")
    driver.shot("barn-parked-phone")
    driver.click("back")
    driver.wait("day-new")
    driver.click("examiner")
    driver.click(f"person-{KIM}")
    open_draft(driver)
    driver.wait_text("exam-begun", "Alex Rowan began")
    driver.click("exam-parked-parked-mouth")
    driver.click("region-mouth-normal")
    driver.gone("exam-parked-parked-mouth")
    driver.click("exam-review")
    driver.click("review-close")
    driver.type("close-pin", PIN)
    driver.click("close-sign")
    driver.wait_text("record-signed", "the signature fits")
    driver.read_down_to("Examined by Kim Sorrel (veterinarian): Mouth")


def test_farm_call_is_stopped_early_as_urgent_and_told_by_phone(
    tmp_path, run_app, open_page
):
    folder = prepare_exam(tmp_path / "exams", setting=Setting.FARM)
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=folder))
    open_draft(driver)
    driver.click("region-distance-normal")
    driver.click("exam-urgent")
    driver.wait_text("sheet", "Deep wound")
    driver.click("urgent-sign-trauma")
    driver.click("urgent-kind-told")
    driver.wait_text("urgent-clinic", "555 0123")
    driver.click("urgent-whom-known-Kim Sorrel")
    driver.click("urgent-how-phone")
    driver.type("urgent-instruction", "keep it lying, drive in")
    driver.click("urgent-read-back")
    driver.shot("barn-told-phone")
    driver.click("urgent-answer-save")
    driver.gone("urgent-banner")
    driver.click("exam-stop")
    driver.click("stop-reason-urgent")
    driver.click("stop-confirm")
    driver.click("review-close")
    driver.type("close-pin", PIN)
    driver.click("close-sign")
    driver.wait_text("record-signed", "the signature fits")
    driver.read_down_to("stopped early: urgent")
    driver.read_down_to("told Kim Sorrel")
    driver.read_down_to("phone, keep it lying, drive in")
    driver.read_down_to("instruction read back")


def test_open_mouth_breathing_of_a_cat_stops_the_hands_at_once(
    tmp_path, run_app, open_page
):
    folder = prepare_exam(tmp_path / "exams", animal=SMOKE)
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=folder))
    open_draft(driver)
    driver.click("region-distance-finding")
    driver.click("finding-term-open_mouth")
    driver.wait_text("stop-handling", "Stop handling now")
    driver.wait_text("stop-handling", "Do not restrain")
    driver.shot("barn-stop-phone")
    driver.click("stop-handling-go-on")
    driver.gone("stop-handling")
    driver.click("finding-done")
    driver.wait("urgent-banner")
    driver.click("vital-mucous_membrane_colour")
    driver.click("vital-word-blue-grey")
    driver.wait_text("stop-handling", "Blue or muddy gums")
    driver.click("stop-handling-end")
    driver.click("stop-reason-unsafe")
    driver.wait("stop-confirm")


@pytest.mark.chromium_only("heights are measured")
def test_dirty_gloves_get_few_large_buttons_and_details_are_asked_for_later(
    tmp_path, run_app, open_page
):
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("eyes", "nose"))
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=folder))
    open_draft(driver)
    driver.wait("region-eyes.left-normal")
    driver.click("exam-more")
    driver.click("exam-gloves")
    driver.gone("region-eyes.left-normal")
    for name in ("exam-urgent", "exam-stop", "exam-review"):
        assert height(driver, name) >= 80, name
    for name in ("normal", "finding", "more"):
        assert height(driver, f"region-eyes-{name}") >= 80, name
    driver.shot("barn-gloves-phone")
    driver.click("exam-urgent")
    driver.wait("urgent-sign-trauma")
    assert height(driver, "urgent-sign-trauma") >= 80
    driver.click("sheet-close")
    driver.gone("sheet")
    driver.click("region-eyes-finding")
    driver.click("finding-side-left")
    driver.wait("finding-term-red")
    assert height(driver, "finding-term-red") >= 80
    driver.shot("barn-gloves-terms-phone")
    driver.click("finding-term-red")
    driver.gone("sheet")
    driver.wait_text("region-eyes.right-normal", "Eyes, right: no abnormality")
    driver.click("region-eyes.right-normal")
    driver.click("region-nose-normal")
    driver.wait_text("exam-progress", "3 of 3")
    driver.shot("barn-gloves-done-phone")
    driver.click("exam-review")
    driver.wait_text("review-status", "Nothing is open")
    driver.wait_text("review-details", "Eyes, left: Red")
    driver.shot("barn-details-phone")
    driver.click("review-details-eyes-left")
    driver.click("finding-severity-slight")
    driver.click("finding-done")
    driver.gone("review-details")
    driver.wait("review-close")


@pytest.mark.chromium_only("pixels are looked at")
def test_dark_colours_are_one_tap_away_from_the_exam(tmp_path, run_app, open_page):
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=prepare_exam(tmp_path / "exams")))
    open_draft(driver)
    assert driver.corner_brightness() > 200
    driver.click("exam-more")
    driver.click("exam-look")
    driver.page.wait_for_function("() => true")
    driver.wait_text("saved", "Saved")
    driver.shot("barn-dark-phone")
    assert driver.corner_brightness() < 60


def height(driver: Driver, identifier: str) -> float:
    # The list cuts what stands at its edge: a little further on it is whole.
    driver.scroll_to(identifier)
    heights = []
    for step in (0, 100):
        driver.page.mouse.wheel(0, step)
        driver.frames(3)
        box = driver.find(identifier).first.bounding_box()
        assert box is not None
        heights.append(box["height"])
    return max(heights)


def test_bitten_examiner_reaches_the_bite_in_two_taps(tmp_path, run_app, open_page):
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=prepare_exam(tmp_path / "exams")))
    open_draft(driver)
    driver.click("exam-urgent")
    driver.wait("urgent-bitten")
    driver.shot("barn-urgent-phone")
    driver.click("urgent-bitten")
    driver.wait("bite-field-who-0-own")
    driver.shot("barn-bitten-phone")
    driver.click("bite-save")
    driver.wait_text("bite-notice", "examiner: bitten or scratched")
    driver.wait_text("urgent-banner", "not yet told")
