"""Colours, text size, people and the passphrase, in a real browser."""

import pytest

from tests.browser.driver import LAPTOP, PHONE
from tests.browser.in_process import InProcessDriver
from tests.browser.prepared import PASSPHRASE, unlock
from tests.browser.test_people import save_volunteer

NEW = "another five words than before"


@pytest.mark.parametrize(
    "size",
    [
        pytest.param(PHONE, id="phone"),
        pytest.param(LAPTOP, id="laptop"),
    ],
)
@pytest.mark.chromium_only("places and pixels are measured")
def test_look_is_chosen_and_stays_for_the_next_start(
    size, prepared, run_app, open_page
):
    name = "phone" if size == PHONE else "laptop"
    driver = open_page(size)
    unlock(driver, prepared)
    driver.go("/settings/looks")
    driver.wait("look-dark")
    driver.shot(f"settings-{name}")
    driver.click("look-dark")
    driver.wait_text("saved", "Saved")
    before = driver.find("size-normal").first.bounding_box()
    driver.click("size-largest")
    driver.page.wait_for_function(
        """height => document.querySelector(
            '[flt-semantics-identifier="size-normal"]'
        ).getBoundingClientRect().height > height""",
        arg=before["height"],
    )
    driver.shot(f"settings-dark-largest-{name}")
    prepared.stop()
    again = run_app(folder=prepared.folder)
    unlock(driver, again)
    driver.go("/about")
    driver.wait("back")
    assert driver.corner_brightness() < 60, "the chosen dark colours did not come back"
    driver.shot(f"about-dark-largest-{name}")


@pytest.mark.parametrize(
    "size",
    [
        pytest.param(PHONE, id="phone"),
        pytest.param(LAPTOP, id="laptop"),
    ],
)
def test_added_person_can_examine(size, prepared, open_page):
    name = "phone" if size == PHONE else "laptop"
    driver = open_page(size)
    unlock(driver, prepared)
    driver.click("examiner")
    driver.shot(f"examiner-sheet-{name}")
    driver.click("people-open")
    driver.wait("person-name")
    driver.shot(f"people-{name}")
    driver.click("person-save")
    driver.wait_text("person-problem", "Write the person's name")
    driver.type("person-name", "Sam Teasel")
    save_volunteer(driver, "Sam Teasel")
    driver.click("examiner")
    driver.wait_text("sheet", "Sam Teasel · Volunteer")


def test_changed_passphrase_opens_and_the_old_one_does_not(laptop, prepared, run_app):
    unlock(laptop, prepared)
    laptop.go("/settings/access")
    laptop.type("settings-passphrase-old", "not this one")
    laptop.type("settings-passphrase-new", NEW)
    laptop.type("settings-passphrase-again", NEW)
    laptop.click("settings-passphrase-save")
    laptop.wait_text("settings-problem", "does not open these exams")
    laptop.type("settings-passphrase-old", PASSPHRASE)
    laptop.click("settings-passphrase-save")
    laptop.wait_text("told", "The passphrase was changed")
    prepared.stop()
    laptop.open(run_app(folder=prepared.folder).first_address())
    laptop.type("unlock-secret", PASSPHRASE)
    laptop.click("unlock-open")
    laptop.wait_text("unlock-problem", "does not open these exams")
    laptop.type("unlock-secret", NEW)
    laptop.click("unlock-open")
    laptop.wait("examiner")


@pytest.mark.parametrize(
    "size",
    [
        pytest.param(PHONE, id="phone"),
        pytest.param(LAPTOP, id="laptop"),
    ],
)
def test_every_source_of_a_species_and_what_is_missing_can_be_read(
    size, prepared, open_page
):
    name = "phone" if size == PHONE else "laptop"
    driver = open_page(size)
    unlock(driver, prepared)
    driver.go("/settings/sources")
    driver.wait_text("sources-species-dog", "recalled")
    driver.shot(f"sources-{name}")
    driver.click("sources-species-cattle")
    driver.wait("sources-list-ranges")
    driver.shot(f"sources-cattle-{name}")
    driver.click("sources-list-ranges")
    driver.wait_text("sources-lines", "Far off the others")
    driver.shot(f"sources-ranges-{name}")


@pytest.mark.parametrize("size", ["normal", "largest"])
def test_title_goes_away_with_the_list_in_largest_text_only(size, prepared, open_page):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    driver.go("/settings/looks")
    driver.click(f"size-{size}")
    driver.go("/plan")
    driver.wait("plan-add")
    driver.wait("examiner")
    if isinstance(driver, InProcessDriver):
        around = driver.around("examiner")
        assert any(one.get("scroll") for one in around) is (size == "largest")
        assert not any(one.get("scroll") for one in driver.around("plan-add"))
        # Above a field that stays, the title stays too.
        driver.go("/animals")
        driver.wait("animal-search")
        assert not any(one.get("scroll") for one in driver.around("examiner"))
