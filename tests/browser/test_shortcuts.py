"""The keys of a screen are listed by a key, from the table that answers them."""

from tests.browser.clinic_pages import enter_clinic
from tests.browser.driver import LAPTOP
from tests.browser.exam_drafts import prepare_exam
from tests.browser.test_hand import begin


def listed(driver):
    """Give the keys that stand in the list that is open."""
    driver.wait("sheet")
    return {name.removeprefix("key-") for name in driver.names("key-")}


def leave(driver):
    driver.press("Escape")
    driver.gone("sheet")


def test_the_keys_of_an_exam_are_listed_by_one_of_them_and_by_the_menu(
    laptop, tmp_path, run_app
):
    begin(laptop, prepare_exam(tmp_path / "exams"), run_app)
    laptop.wait_text("exam-urgent", "F4")
    laptop.press("F9")
    laptop.wait_text("key-F2", "Review: what is still open")
    laptop.wait_text("key-F4", "Urgent signs")
    assert listed(laptop) == {"F2", "F4", "F8", "F9", "down", "up"}
    laptop.shot("keys-exam-laptop")
    # While the list lies over the exam, no key does anything else.
    laptop.press("F2")
    laptop.wait("key-F2")
    leave(laptop)
    laptop.click("exam-more")
    laptop.click("exam-shortcuts")
    laptop.wait_text("key-F9", "Show these keys")
    leave(laptop)
    laptop.press("F4")
    laptop.wait("urgent-words")
    leave(laptop)
    laptop.press("F8")
    laptop.wait("find-name")
    leave(laptop)
    laptop.press("F2")
    laptop.wait("review-status")


def test_arrows_bring_up_the_place_below_and_above_in_the_list(
    laptop, tmp_path, run_app
):
    begin(laptop, prepare_exam(tmp_path / "exams"), run_app)
    laptop.wait("region-distance-normal")
    laptop.press("ArrowUp")
    laptop.wait("region-distance-normal")
    laptop.press("ArrowDown")
    laptop.wait("vital-weight-line")
    laptop.press("ArrowDown")
    laptop.wait("vital-respiratory_rate-line")
    laptop.press("ArrowUp")
    laptop.wait("vital-weight-line")
    assert "0 of 31" in laptop.text("exam-progress")


def test_a_phone_is_offered_no_keys(phone, tmp_path, run_app):
    begin(phone, prepare_exam(tmp_path / "exams"), run_app)
    assert "F4" not in phone.text("exam-urgent")
    phone.click("exam-more")
    phone.wait("exam-gloves")
    assert not phone.has("exam-shortcuts")


def test_the_keys_of_the_clinics_review_are_listed_by_the_question_mark(
    run_app, open_page
):
    driver = open_page(LAPTOP)
    enter_clinic(driver, run_app("--demo", "--clinic").first_address())
    driver.go("/clinic/review")
    driver.wait("record-signed")
    driver.press("?")
    driver.wait_text("key-A", "Acknowledge the record that is shown")
    assert listed(driver) == {*"ARNJKSF", "help"}
    driver.shot("keys-clinic-laptop")
    leave(driver)
    driver.press("f")
    driver.wait("sheet")
    assert not driver.names("key-")
