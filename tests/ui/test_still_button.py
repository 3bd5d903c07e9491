"""What a finger taps does not move; once a key leads there it is a button."""

import contextlib
import tempfile
from pathlib import Path

import flet as ft
import pytest

from exam_app.ui.widgets.buttons import FilledButton, button, colour_button
from exam_app.ui.widgets.hands import HANDS
from exam_app.ui.widgets.room import ROOM, least_width
from exam_app.ui.widgets.still_button import (
    StillButton,
    button_of,
)
from tests.browser.cheap_app import as_environment_asks
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.in_process import unlocked


@pytest.fixture(autouse=True)
def a_phone_without_keys(monkeypatch):
    monkeypatch.setattr(ROOM, "width", 390)
    monkeypatch.setattr(ROOM, "text_scale", 1.0)
    monkeypatch.setattr(HANDS, "has_keys", False)


@contextlib.contextmanager
def unlocked_exam():
    with contextlib.ExitStack() as ending:
        folder = ending.enter_context(tempfile.TemporaryDirectory())
        ending.enter_context(as_environment_asks())
        driver = ending.enter_context(unlocked(prepare_exam(Path(folder) / "exams")))
        driver.go(f"/exam/{EXAM_ID}")
        driver.wait("exam-progress")
        yield driver


def kinds_of(driver, identifier):
    """Give what is drawn under an identifier now."""

    def look():
        drawn = driver._client.session.index.values()
        named = [one for one in drawn if getattr(one, "identifier", "") == identifier]
        return {type(one.content) for one in named}

    return driver._look(look)


def tapped():
    """Be what a button does."""


def tile(**more):
    return button("made", "No abnormality", tapped, kind="main tile", **more)


def test_tile_of_a_phone_is_still_and_does_what_its_button_does():
    made = tile(spoken="Nose: no abnormality")
    assert isinstance(made.content, StillButton)
    assert made.content.on_click is tapped
    assert made.content.tooltip == "Nose: no abnormality"
    assert made.button, "a screen reader is told that it is a button"
    assert button_of(made).on_click is tapped


@pytest.mark.parametrize("kind", ["tile", "main tile"])
def test_still_one_is_as_wide_and_as_high_as_its_button(monkeypatch, kind):
    made = button("made", "Finding", tapped, kind=kind)
    drawn, frame = made.content, 2 if kind == "tile" else 0
    style = button_of(made).style
    assert drawn.padding.left + frame == style.padding.left
    upright = drawn.content.controls[0]
    assert upright.height + 2 * (drawn.padding.top + frame) == 64
    monkeypatch.setattr(HANDS, "has_keys", True)
    assert least_width(button("made", "Finding", tapped, kind=kind)) == least_width(
        made
    )


def test_a_known_key_and_a_tile_that_is_off_get_buttons(monkeypatch):
    assert isinstance(tile(disabled=True).content, FilledButton)
    monkeypatch.setattr(HANDS, "has_keys", True)
    assert isinstance(tile().content, FilledButton)


def test_tile_that_is_coloured_for_its_ground_is_a_button():
    made = button("made", "Put back", tapped, kind="tile")
    colour_button(made, "#123456")
    assert isinstance(made.content, ft.OutlinedButton)
    assert made.content.style.color == "#123456"
    assert not made.button


def test_first_key_that_leads_makes_buttons_of_all_that_is_drawn():
    with unlocked_exam() as driver:
        for place in ("distance", "head", "eyes"):
            driver.bring_up(f"region-{place}-normal")
            driver.click(f"region-{place}-normal")
        driver.bring_up("region-ears-normal")
        assert kinds_of(driver, "region-ears-normal") == {StillButton}
        driver.press("Tab")
        driver.wait("region-ears-normal")
        assert kinds_of(driver, "region-ears-normal") == {FilledButton}
        driver.click("region-ears-normal")
        driver.wait_text("region-ears-row", "no abnormality")
        driver.click("exam-more")
        driver.wait("sheet")
        assert StillButton not in kinds_of(driver, "exam-late")


def test_on_a_sheet_the_first_key_makes_buttons_too():
    with unlocked_exam() as driver:
        driver.click("exam-more")
        driver.wait("exam-late")
        assert kinds_of(driver, "exam-late") == {StillButton}
        driver.press("Tab")
        driver.wait("exam-late")
        assert StillButton not in kinds_of(driver, "exam-late")
        driver.click("exam-late")
        driver.wait("seen-earlier-save")
