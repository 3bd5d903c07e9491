"""The driver in this process does only what a person could do at the page."""

import flet as ft
import pytest

from exam_app.ui.shell import routes
from exam_app.ui.shell.screen import Route, Screen
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import identified
from tests.browser import in_process
from tests.browser.in_process import unlocked
from tests.browser.prepared import prepare_folder

OUT_OF_REACH = ("off", "in-off", "hidden", "faint", "untouched", "words", "missing")


async def build_tried(tab) -> Screen:
    tapped = ft.Text("nothing")
    other = ft.Text("")

    def tap(name, *, is_told=True):
        def on_tap():
            tapped.value = name
            (tapped if is_told else other).update()

        return on_tap

    def named(name):
        return button(name, name.capitalize(), tap(name))

    def cover():
        tab.open_sheet("Over it", button("on-top", "On top", tap("on-top")))

    return Screen(
        "Tried",
        [
            identified("tapped", tapped),
            identified("words", other),
            named("plain"),
            button("forgetful", "Forgetful", tap("forgetful", is_told=False)),
            button("cover-up", "Cover", cover),
            button("off", "Off", tap("off"), disabled=True),
            ft.Container(named("in-off"), disabled=True),
            ft.Container(named("hidden"), visible=False),
            ft.Container(named("faint"), opacity=0),
            ft.Container(named("untouched"), ignore_interactions=True),
        ],
    )


@pytest.fixture
def tried(tmp_path, monkeypatch):
    """A page that shows a screen of buttons, most of them out of reach."""
    tried = Route("/tried", build_tried)
    monkeypatch.setattr(routes, "ROUTES", (*routes.ROUTES, tried))
    with unlocked(prepare_folder(tmp_path / "exams")) as driver:
        driver.go("/tried")
        driver.wait("plain")
        monkeypatch.setattr(in_process, "PATIENCE_SECONDS", 0.05)
        yield driver


def test_a_button_that_can_be_reached_is_tapped(tried):
    tried.click("plain")
    tried.wait_text("tapped", "plain")


@pytest.mark.parametrize("name", OUT_OF_REACH)
def test_what_cannot_be_reached_cannot_be_tapped(tried, name):
    with pytest.raises(AssertionError, match=f"{name} is not here, or nothing in it"):
        tried.click(name)
    assert tried.text("tapped") == "nothing"


@pytest.mark.parametrize("name", ["hidden", "faint"])
def test_what_cannot_be_seen_is_not_there(tried, name):
    assert not tried.has(name)


def test_what_lies_below_a_sheet_is_not_there_until_the_sheet_is_gone(tried):
    tried.click("cover-up")
    tried.wait("on-top")
    with pytest.raises(AssertionError, match="plain is not here"):
        tried.click("plain")
    tried.press("Escape")
    tried.gone("on-top")
    tried.click("plain")
    tried.wait_text("tapped", "plain")


def test_a_change_that_was_never_sent_is_not_seen(tried):
    tried.click("forgetful")
    with pytest.raises(AssertionError, match="tapped does not say 'forgetful'"):
        tried.wait_text("tapped", "forgetful")


def test_nothing_is_typed_where_no_field_is(tried):
    with pytest.raises(AssertionError, match="plain is no field"):
        tried.type("plain", "some words")
