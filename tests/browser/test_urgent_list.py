"""The urgent list: every sign one tap away, found by its heading or by a word."""

from exam_app.domain.exam.vitals import Setting
from tests.browser.driver import PHONE
from tests.browser.exam_drafts import prepare_exam
from tests.browser.prepared import KIM, unlock
from tests.browser.test_people import examine_as, open_draft
from tests.browser.test_telephone import COW


def open_cow(tmp_path, run_app, open_page):
    folder = prepare_exam(tmp_path / "exams", animal=COW, setting=Setting.FARM)
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=folder))
    open_draft(driver)
    return driver


def test_from_an_urgent_cow_to_i_am_the_veterinarian_are_four_taps(
    tmp_path, run_app, open_page
):
    driver = open_cow(tmp_path, run_app, open_page)
    examine_as(driver, KIM)
    taps = (
        "exam-urgent",
        "urgent-sign-down",
        "urgent-kind-am-veterinarian",
        "urgent-answer-save",
    )
    for tap in taps:
        driver.click(tap)
    driver.wait_text("told", "Down, cannot rise: answer saved")
    driver.gone("urgent-banner")


def test_a_word_leaves_the_signs_that_have_it_and_enter_takes_the_only_one(
    tmp_path, run_app, open_page
):
    driver = open_cow(tmp_path, run_app, open_page)
    driver.click("exam-urgent")
    driver.wait("urgent-sign-poison")
    driver.shot("urgent-list-phone")
    driver.type("urgent-find", "zebra")
    driver.wait_text("urgent-none", "No sign has these words")
    driver.gone("urgent-sign-poison")
    driver.type("urgent-find", "poison")
    driver.wait("urgent-sign-poison")
    driver.gone("urgent-sign-seizure")
    driver.type("urgent-find", "poison sus")
    driver.press("Enter")
    driver.wait_text("sheet", "Poison suspected")
    driver.wait("urgent-kind-told")


def test_own_words_stay_beside_a_search(tmp_path, run_app, open_page):
    driver = open_cow(tmp_path, run_app, open_page)
    driver.click("exam-urgent")
    driver.type("urgent-words", "fell through the ice")
    driver.type("urgent-find", "seizure")
    driver.wait("urgent-sign-seizure")
    driver.gone("urgent-sign-poison")
    driver.click("urgent-words-save")
    driver.wait_text("sheet", "fell through the ice")
