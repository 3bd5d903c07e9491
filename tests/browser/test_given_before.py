"""What was given lately is one tap, with its lot; what is typed survives a kill."""

import pytest

from exam_app.domain.exam.vitals import Setting
from tests.browser.driver import PHONE
from tests.browser.exam_drafts import prepare_exam
from tests.browser.phone_steps import in_view
from tests.browser.prepared import unlock
from tests.browser.test_people import open_draft
from tests.browser.test_telephone import COW


def give_calcium(driver):
    driver.click("visit-given")
    driver.type("visit-field-product", "Calcium")
    driver.type("visit-field-dose", "400 ml")
    driver.click("visit-option-route-1")
    driver.type("visit-field-lot", "A12")
    driver.type("visit-field-withdrawal", "zero days")
    driver.click("visit-save")
    driver.gone("sheet")
    driver.wait_text("visit-given", "lot A12")


def test_product_given_before_brings_its_lot_and_offers_its_dose(
    tmp_path, run_app, open_page
):
    folder = prepare_exam(tmp_path / "exams", animal=COW, setting=Setting.FARM)
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=folder))
    open_draft(driver)
    give_calcium(driver)
    driver.click("visit-given")
    driver.click("given-before-0")
    driver.wait_text("sheet", "400 ml")
    driver.shot("given-before-phone")
    driver.click("given-dose-0")
    driver.scroll_to("visit-field-lot")
    driver.shot("given-before-lot-phone")
    driver.click("sheet-close")
    driver.gone("sheet")
    # Closed by mistake: all of it stands when it is opened again.
    driver.click("visit-given")
    driver.click("visit-save")
    driver.gone("sheet")
    text = driver.text("visit-given")
    assert text.count("Calcium, 400 ml, under the skin") == 2
    assert text.count("lot A12") == 2
    assert text.count("withdrawal zero days") == 2


@pytest.mark.chromium_only("places are measured")
def test_what_keeps_an_entry_is_in_view_below_more_fields_than_the_screen_holds(
    tmp_path, run_app, open_page
):
    folder = prepare_exam(tmp_path / "exams", animal=COW, setting=Setting.FARM)
    driver = open_page(PHONE)
    unlock(driver, run_app(folder=folder))
    open_draft(driver)
    # The bites' sheet is not among them: between it and a foot the screen would show,
    # and a tap there closes the sheet.
    for sheet, keeps in (("visit-given", "visit-save"),):
        driver.click(sheet)
        driver.wait(keeps)
        driver.frames(6)
        in_view(driver, keeps)
        driver.click("sheet-close")
        driver.gone("sheet")
