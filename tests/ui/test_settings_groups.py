"""Settings are a list of groups, each one tap away, beside it where there is room."""

import pytest

from tests.browser.driver import LAPTOP, PHONE
from tests.browser.in_process import unlocked
from tests.browser.prepared import prepare_folder

# Each line of the list in its order, where it leads, and what is there.
LINES = {
    "settings-people": ("/people", "person-add"),
    "settings-group-practice": ("/settings/practice", "settings-save"),
    "settings-group-access": ("/settings/access", "settings-recovery"),
    "settings-group-looks": ("/settings/looks", "look-dark"),
    "settings-group-language": ("/settings/language", "language-es"),
    "settings-group-hand-over": ("/settings/hand-over", "pair-open"),
    "settings-care": ("/settings/upkeep", "screen"),
    "settings-export": ("/settings/export", "export-begin"),
    "settings-table": ("/settings/table", "table-file"),
    "settings-retention": ("/settings/owners", "screen"),
    "settings-sources": ("/settings/sources", "sources-species-dog"),
    "settings-about": ("/about", "settings-sources"),
}
GROUPS = {name: to for name, to in LINES.items() if "-group-" in name}


@pytest.fixture(params=[PHONE, LAPTOP], ids=["phone", "laptop"])
def driver(tmp_path, request):
    with unlocked(prepare_folder(tmp_path / "exams"), request.param) as driver:
        yield driver


def test_lines_stand_in_one_order_and_each_leads_on(driver):
    driver.go("/settings")
    driver.wait("settings-about")
    listed = [name for name in driver.names("settings-") if name in LINES]
    assert listed == list(LINES)
    for name, (route, there) in LINES.items():
        driver.go("/settings")
        driver.click(name)
        driver.wait(there)
        assert driver.route == route


def test_a_group_stands_beside_the_list_on_a_laptop_and_alone_on_a_phone(driver):
    is_wide = driver.size == LAPTOP
    for name, (route, there) in GROUPS.items():
        driver.go("/settings")
        driver.wait("settings-about")
        driver.click(name)
        driver.wait(there)
        assert driver.has("settings-about") is is_wide
        driver.click("back")
        driver.until(lambda r=route: driver.route != r, "left")
        assert driver.route == ("/" if is_wide else "/settings")


def test_each_line_says_what_is_set(driver):
    driver.go("/settings")
    driver.wait_text("settings-people", "can examine here")
    driver.wait_text("settings-group-practice", "555 0123")
    driver.wait_text("settings-group-looks", "Dark on light · normal text")
    driver.wait_text("settings-group-hand-over", "Not paired with a clinic yet")


def test_each_line_says_what_was_just_set(driver):
    def back_to_list():
        if driver.size == PHONE:
            driver.click("back")

    driver.go("/settings/looks")
    driver.click("look-dark")
    back_to_list()
    driver.wait_text("settings-group-looks", "Light on dark · normal text")
    driver.go("/settings/looks")
    driver.click("size-large")
    back_to_list()
    driver.wait_text("settings-group-looks", "Light on dark · large text")
    driver.go("/settings/practice")
    driver.type("settings-practice", "The Other Shelter")
    driver.click("settings-save")
    driver.wait_text("told", "were saved")
    back_to_list()
    driver.wait_text("settings-group-practice", "The Other Shelter · 555 0123")
    # The list stands as it stood: what is shown beside it, and every way.
    driver.click("settings-group-looks")
    driver.wait("look-dark")


def test_words_typed_in_one_group_are_there_again_after_another(driver):
    driver.go("/settings/practice")
    driver.type("settings-practice", "Half a na")
    driver.go("/settings/looks")
    driver.wait("look-dark")
    driver.go("/settings/practice")
    driver.wait("settings-save")
    assert driver.value("settings-practice") == "Half a na"
    driver.click("settings-save")
    driver.wait_text("told", "were saved")
    assert not driver.app.session.typed.words("settings-practice")


def test_an_unknown_group_is_the_list(driver):
    driver.go("/settings/nothing")
    driver.wait("settings-about")


def test_settings_do_not_offer_the_settings(driver):
    driver.app.session.vault.settings.put("recovery_confirmed", value=False)
    driver.go("/plan")
    driver.wait("code-missing-open")
    driver.click("code-missing-open")
    driver.wait("settings-recovery")
    assert driver.has("code-missing")
    assert not driver.has("code-missing-open")
    driver.click("examiner")
    driver.wait("lock-now")
    assert not driver.has("settings-open")
