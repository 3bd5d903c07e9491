"""Every text and sign of every screen and sheet is readable, by day and by night."""

import dataclasses

import flet as ft
import pytest

from exam_app.ui.shell import appearance, theme
from exam_app.ui.shell.theme import ColourMode, TextSize, build_theme
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.notices import Tone, banner
from tests.browser.cheap_app import as_environment_asks
from tests.browser.in_process import opened, unlocked
from tests.browser.main_screens import (
    CLINIC,
    ENTRY,
    FIELD,
    PAIRED,
    QUESTIONS,
    act,
    filled_for,
    ids,
    show,
)
from tests.contrast import Colours, ratio

COMPUTERS = {
    "field": FIELD,
    "clinic": CLINIC,
    "paired": PAIRED,
    "questions": QUESTIONS,
}


@pytest.mark.reference
def test_ratio_is_that_of_the_guidelines():
    # WCAG 2.2, definition of contrast ratio: from 1 to 21.
    assert ratio("#000000", "#FFFFFF") == pytest.approx(21)
    assert ratio("#FFFFFF", "#FFFFFF") == pytest.approx(1)
    # W3C, technique G18 and failure F24 as often printed: the lightest grey on white
    # that passes, and the next one, which does not.
    assert ratio("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.005)
    assert ratio("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)
    assert ratio("#FF0000", "#FFFFFF") == pytest.approx(4.00, abs=0.005)


def unreadable(driver):
    """Give what cannot be read on the page of a driver."""

    def look():
        colours = Colours(driver._client.page)
        seen = [one for s in driver._client.shown() for one in colours.seen(s)]
        return len(seen), [dataclasses.astuple(o) for o in seen if not o.is_readable]

    return driver._look(look)


def put_on(driver, look):
    """Draw the page that is open for the other colours, as the exam's sheet does."""

    async def put():
        session = driver.app.session
        session.vault.settings.put("look", look.value)
        appearance.apply(driver._client.session.page, session)

    driver.app.run(put())


def started(computer, folder):
    """Open a demonstration, or a store made for what a demonstration has none of."""
    if computer in ("field", "clinic"):
        return opened("--demo", *(["--clinic"] if computer == "clinic" else []))
    return unlocked(filled_for(computer, folder))


@pytest.mark.slow
@pytest.mark.parametrize("computer", COMPUTERS)
def test_every_text_and_sign_of_every_screen_is_readable(computer, tmp_path):
    wrong, count, grounds, looks = {}, 0, set(), list(ColourMode)
    with as_environment_asks(), started(computer, tmp_path) as driver:
        known = ids(driver)
        put_on(driver, looks[-1])
        for place in COMPUTERS[computer]:
            # The colours of the screen before first, so that each is put on once.
            looks.reverse()
            show(driver, place, known)
            for look in looks:
                if look is not looks[0]:
                    put_on(driver, look)
                seen, bad = unreadable(driver)
                count += seen
                grounds.add(driver._client.page["theme"]["color_scheme"]["surface"])
                wrong |= {(place.name, look): bad} if bad else {}
    assert len(grounds) == len(ColourMode)
    assert not wrong
    print(f"{count} texts and signs of {computer}, in all colours, can be read")


def test_first_screens_are_readable(tmp_path):
    with opened(folder=tmp_path / "exams") as driver:
        for place in ENTRY:
            for tap in place.taps:
                act(driver, tap)
            driver.wait(place.wait)
            seen, bad = unreadable(driver)
            assert seen > 0
            assert not bad, place.name


def test_screen_in_a_colour_too_near_its_ground_is_named(monkeypatch):
    monkeypatch.setitem(theme.LIGHT, "quiet", "#9AA0A6")
    with opened("--demo") as driver:
        _, bad = unreadable(driver)
    assert bad
    assert {(colour, needed) for _, colour, _, _, needed in bad} <= {
        ("#9AA0A6", 4.5),
        ("#9AA0A6", 3.0),
    }


KINDS = ("other", "main", "lead", "quiet", "urgent", "icon", "tile", "main tile")


@pytest.mark.parametrize("disabled", [False, True], ids=["enabled", "disabled"])
@pytest.mark.parametrize("look", list(ColourMode), ids=lambda look: look.value)
@pytest.mark.parametrize("tone", [None, *Tone], ids=str)
def test_every_button_is_readable_on_every_notice(tone, look, disabled, tmp_path):

    async def put(page):
        made = [
            button(f"made-{number}", "Words", print, kind=kind, icon=ft.Icons.ADD)
            for number, kind in enumerate(KINDS)
        ]
        for one in made:
            one.content.disabled = disabled
        drawn = ft.Column(made) if tone is None else banner("said", "Said", tone, *made)
        page.theme = build_theme(look, TextSize.NORMAL)
        page.views[-1].controls = [drawn]
        page.update()

    with opened(folder=tmp_path / "exams") as driver:
        driver.app.run(put(driver._client.session.page))
        seen, bad = unreadable(driver)
    assert seen > len(KINDS)
    assert not bad
