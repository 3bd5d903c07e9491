"""What sheets are made of grows for dirty gloves, to the height the design asks for."""

import flet as ft
import pytest

from exam_app.ui.shell.theme import (
    CONTROL_HEIGHT,
    EXAM_CONTROL_HEIGHT,
    GLOVED_CONTROL_HEIGHT,
    LABEL_LINE,
)
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow, pick
from exam_app.ui.widgets.hands import HANDS
from exam_app.ui.widgets.number_pad import number_pad
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.still_button import StillButton
from tests.browser.in_process import opened
from tests.browser.main_screens import FIELD, ids, show


def nothing(*_):
    return None


def choice(size):
    rows = ChoiceRow("group", [("a", "A")], nothing, size=size).control.controls
    return rows[0].controls[0]


def pad(size):
    return number_pad(nothing, size=size).controls[0].controls[0].controls[0]


MAKERS = {
    "main": lambda size: button("a", "A", nothing, kind="main", size=size),
    "other": lambda size: button("a", "A", nothing, size=size),
    "tile": lambda size: button("a", "A", nothing, kind="tile", size=size),
    "pick": lambda size: pick("a", "A", nothing, is_chosen=False, size=size),
    "choice": choice,
    "pad": pad,
}


@pytest.fixture(params=MAKERS)
def maker(request):
    return MAKERS[request.param]


def height_of(named):
    drawn = named.content
    if drawn.height:
        return drawn.height
    if isinstance(drawn, StillButton):
        # Its first part keeps the height, whatever the words; a frame takes room too.
        frame = drawn.border.top.width if drawn.border else 0
        return drawn.content.controls[0].height + 2 * (drawn.padding.top + frame)
    return drawn.style.padding.top + LABEL_LINE + drawn.style.padding.bottom


def test_control_is_as_high_as_bare_or_gloved_hands_need(maker):
    assert height_of(maker("hands")) == EXAM_CONTROL_HEIGHT
    HANDS.gloved = True
    assert height_of(maker("hands")) == GLOVED_CONTROL_HEIGHT


def test_only_what_is_made_for_the_hands_grows_for_gloves(maker):
    HANDS.gloved = True
    assert height_of(maker("exam")) == EXAM_CONTROL_HEIGHT
    assert height_of(maker("usual")) == CONTROL_HEIGHT


def test_tile_and_urgent_button_have_the_exams_height_without_being_told():
    for kind in ("tile", "main tile", "urgent"):
        assert height_of(button("a", "A", nothing, kind=kind)) == EXAM_CONTROL_HEIGHT


def test_icon_button_is_square_and_larger_for_gloves_only():
    bare = button("a", "A", nothing, kind="icon", size="hands").content
    assert (bare.width, bare.height) == (CONTROL_HEIGHT, CONTROL_HEIGHT)
    HANDS.gloved = True
    gloved = button("a", "A", nothing, kind="icon", size="hands").content
    assert (gloved.width, gloved.height) == (GLOVED_CONTROL_HEIGHT,) * 2


def test_empty_notice_takes_no_room_until_there_is_something_to_say():
    shown = [ft.Container()]
    slot = Slot(lambda: shown[0], hides_empty=True)
    assert not slot.control.visible
    shown[0] = ft.Container(ft.Text("urgent"))
    slot.refresh()
    assert slot.control.visible


def test_slot_that_may_be_empty_on_purpose_keeps_its_room():
    assert Slot(ft.Container).control.visible


# As anywhere: the header, what takes a sheet away, a line of several lines of text,
# the title that leads to a part's own page.
AS_ANYWHERE = {
    "region-distance-open",
    "back",
    "examiner",
    "sheet-close",
    "handling-notice",
    "round-row-DEMO-0103",
}
GLOVED_PLACES = ["exam-given", "exam-bite", "round"]


def low_ones(driver):
    """Name every button and field on the page that is lower than a glove needs."""
    low, count = [], 0
    for shown in driver._client.shown():
        control = shown.control
        names = [one.get("identifier") for one in (*shown.around, control)]
        if not control["_c"].endswith(("Button", "TextField")):
            continue
        style = control.get("_internals", {}).get("style") or control.get("style") or {}
        padding = control.get("content_padding") or style.get("padding") or {}
        # Words that may wrap have the height beside them.
        held = control.get("content")
        beside = held.get("controls", []) if isinstance(held, dict) else []
        line = max([LABEL_LINE, *(one.get("height") or 0 for one in beside)])
        high = control.get("height") or padding.get("top", 0) * 2 + line
        count += 1
        if high < GLOVED_CONTROL_HEIGHT - 4 and not AS_ANYWHERE & set(names):
            low.append((list(filter(None, names))[-1], high))
    return count, low


@pytest.mark.slow
def test_rounds_and_what_was_given_have_large_targets_for_gloves():
    with opened("--demo") as driver:
        known, found = ids(driver), {}
        driver.go("/settings/looks")
        driver.click("hands-gloved")
        for place in FIELD:
            if place.name in GLOVED_PLACES:
                show(driver, place, known)
                found[place.name] = driver._look(lambda: low_ones(driver))
    assert len(found) == len(GLOVED_PLACES)
    assert all(count > 4 and not low for count, low in found.values()), found


def test_keys_of_the_number_pad_are_large_for_gloves_without_being_told():
    HANDS.gloved = True
    key = number_pad(nothing).controls[0].controls[0].controls[0]
    assert height_of(key) == GLOVED_CONTROL_HEIGHT
