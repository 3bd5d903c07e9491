"""Word of an earlier address that comes late does not take the asked screen away."""

import pytest

from exam_app.ui.shell.page_controller import Tab
from tests.browser.in_process import unlocked
from tests.browser.prepared import prepare_folder


@pytest.fixture
def phone(tmp_path):
    with unlocked(prepare_folder(tmp_path / "exams")) as driver:
        yield driver


def test_the_screen_that_is_asked_for_stays_whatever_address_is_told_meanwhile(
    phone, monkeypatch
):
    show, late = Tab.show_route, []

    async def told_meanwhile(tab):
        if tab.page.route == "/settings" and not late:
            late.append("/animals")
            tab.page.route = "/animals"
            await tab.follow_address()
        await show(tab)

    phone.click("day-new")
    phone.wait("animal-add")
    phone.click("back")
    phone.wait("day-new")
    monkeypatch.setattr(Tab, "show_route", told_meanwhile)
    phone.click("examiner")
    phone.click("settings-open")
    phone.wait_text("screen", "Settings")
    assert late == ["/animals"]
    assert phone.route == "/settings"
