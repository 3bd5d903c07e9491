"""The rest beside a find, results in a claim's place, and what a practice adds."""

import pytest

from tests.browser.driver import LAPTOP, PHONE
from tests.browser.prepared import unlock
from tests.browser.test_exam_regions import start_exam

SIZES = pytest.mark.parametrize(
    "size",
    [
        pytest.param(PHONE, id="phone"),
        pytest.param(LAPTOP, id="laptop"),
    ],
)


def name_of(size):
    return "phone" if size == PHONE else "laptop"


@SIZES
def test_the_rest_beside_a_murmur_leaves_the_murmur_out(size, prepared, open_page):
    driver = open_page(size)
    unlock(driver, prepared)
    start_exam(driver)
    driver.scroll_to("region-heart-finding")
    driver.click("region-heart-finding")
    driver.click("finding-term-murmur")
    driver.click("finding-done")
    driver.gone("sheet")
    driver.scroll_to("region-heart-rest")
    shown = driver.text("region-heart-row")
    assert "The rest: no abnormality found" in shown
    assert "no murmur" not in shown
    driver.shot(f"rest-of-heart-{name_of(size)}")
    driver.click("region-heart-rest")
    driver.gone("region-heart-rest")
    driver.wait_text("region-heart-row", "the rest: no abnormality found")
    assert "no murmur" not in driver.text("region-heart-row")


@SIZES
def test_felt_for_and_not_felt_is_one_tap(size, prepared, open_page):
    driver = open_page(size)
    unlock(driver, prepared)
    start_exam(driver)
    node = "node_popliteal"
    driver.scroll_to(f"region-{node}-finding")
    driver.shot(f"felt-for-open-{name_of(size)}")
    driver.click(f"region-{node}-result-size")
    driver.wait_text(f"region-{node}-row", "Both: felt for, not felt")
    driver.gone(f"region-{node}-result-size")
    driver.shot(f"felt-for-said-{name_of(size)}")
    driver.wait_text("saved", "Saved")


@SIZES
def test_own_words_are_asked_what_they_deny(size, prepared, open_page):
    driver = open_page(size)
    unlock(driver, prepared)
    start_exam(driver)
    driver.scroll_to("region-nose-finding")
    driver.click("region-nose-finding")
    driver.type("finding-words", "dried blood at the left nostril")
    driver.click("finding-words-save")
    driver.click("finding-done")
    driver.gone("sheet")
    driver.scroll_to("region-nose-rest")
    driver.click("region-nose-rest")
    driver.wait_text("screen", "What do your own words deny?")
    driver.click("strike-dry")
    driver.click("strike-reason-0")
    driver.shot(f"own-words-{name_of(size)}")
    driver.click("region-nose-rest")
    driver.wait_text("region-nose-row", "the rest: no abnormality found")
    assert "no discharge" not in driver.text("region-nose-row").partition("rest:")[2]


@SIZES
def test_what_a_routine_exam_does_not_do_is_added_after_its_caution(
    size, prepared, open_page
):
    driver = open_page(size)
    unlock(driver, prepared)
    start_exam(driver, "veterinarian")
    driver.click("region-ears-open")
    driver.wait_text("screen", "Beyond a routine exam")
    driver.scroll_to("claim-add-canal")
    assert "Caution: " in driver.text("screen")
    driver.shot(f"claims-to-add-{name_of(size)}")
    driver.gone("strike-canal")
    driver.click("claim-add-canal")
    driver.wait_text("strike-canal", "otoscope")
    driver.click("claim-always-canal")
    driver.wait_text("claim-always-canal", "Not in every exam any more")
    driver.go("/settings/practice")
    driver.scroll_to("settings-claim-dog-ears-canal")
    driver.shot(f"claims-of-practice-{name_of(size)}")
    driver.click("settings-claim-dog-ears-canal")
    driver.gone("settings-claim-dog-ears-canal")
