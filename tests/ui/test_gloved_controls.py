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


def nothing(*_):
    return None


def choice(size):
    return ChoiceRow("group", [("a", "A")], nothing, size=size).control.controls[0]


def pad(size):
    return number_pad(nothing, size=size).controls[0].controls[0]


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
    yield MAKERS[request.param]
    HANDS.gloved = False


def height_of(named):
    button = named.content
    if button.height:
        return button.height
    return button.style.padding.top + LABEL_LINE + button.style.padding.bottom


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
    HANDS.gloved = False
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
