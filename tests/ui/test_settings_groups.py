"""Settings stand in groups that people ask for, and lead nowhere they are already."""

import pytest

from tests.browser.in_process import unlocked
from tests.browser.prepared import prepare_folder

GROUPS = [
    "People and PINs",
    "This device",
    "How it looks",
    "Hand-over",
    "The stored exams",
    "Sources",
]


@pytest.fixture
def driver(tmp_path):
    with unlocked(prepare_folder(tmp_path / "exams")) as driver:
        yield driver


def test_groups_stand_in_one_order_and_each_leads_on(driver):
    driver.go("/settings")
    driver.wait("look-dark")
    said = driver.text("screen").splitlines()
    ways = {
        "settings-people": "/people",
        "settings-hand-over": "/hand-over",
        "settings-care": "/settings/upkeep",
        "settings-sources": "/settings/sources",
    }
    led = {}
    for way in ways:
        driver.go("/settings")
        driver.click(way)
        driver.gone("look-dark")
        led[way] = driver.route
    assert [line for line in said if line in GROUPS] == GROUPS
    assert led == ways


def test_settings_do_not_offer_the_settings(driver):
    driver.app.session.vault.settings.put("recovery_confirmed", value=False)
    driver.go("/plan")
    driver.wait("code-missing-open")
    driver.go("/settings")
    driver.wait("look-dark")
    assert driver.has("code-missing")
    assert not driver.has("code-missing-open")
    driver.click("examiner")
    driver.wait("lock-now")
    assert not driver.has("settings-open")
