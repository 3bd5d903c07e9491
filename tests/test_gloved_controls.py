"""What sheets are made of grows for dirty gloves, to the height the design asks for."""

import flet as ft
import pytest

from exam_app.ui.shell.theme import (
    EXAM_CONTROL_HEIGHT,
    GLOVED_CONTROL_HEIGHT,
    LABEL_LINE,
)
from exam_app.ui.widgets.buttons import main_button, other_button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.exam_parts import tile
from exam_app.ui.widgets.number_pad import number_pad
from exam_app.ui.widgets.picks import pick
from exam_app.ui.widgets.slot import Slot


def nothing(*_):
    return None


def choice(*, tall):
    return ChoiceRow("group", [("a", "A")], nothing, tall=tall).control.controls[0]


def pad(*, tall):
    return number_pad(nothing, tall=tall).controls[0].controls[0]


MAKERS = {
    "main": lambda tall: main_button("a", "A", nothing, exam=True, tall=tall),
    "other": lambda tall: other_button("a", "A", nothing, exam=True, tall=tall),
    "tile": lambda tall: tile("a", "A", nothing, tall=tall),
    "pick": lambda tall: pick("a", "A", nothing, is_chosen=False, tall=tall),
    "choice": lambda tall: choice(tall=tall),
    "pad": lambda tall: pad(tall=tall),
}


def height_of(named):
    button = named.content
    if button.height:
        return button.height
    return button.style.padding.top + LABEL_LINE + button.style.padding.bottom


@pytest.mark.parametrize("maker", MAKERS.values(), ids=MAKERS)
def test_control_is_as_high_as_bare_or_gloved_hands_need(maker):
    assert height_of(maker(tall=False)) == EXAM_CONTROL_HEIGHT
    assert height_of(maker(tall=True)) == GLOVED_CONTROL_HEIGHT


def test_empty_notice_takes_no_room_until_there_is_something_to_say():
    shown = [ft.Container()]
    slot = Slot(lambda: shown[0], hides_empty=True)
    assert not slot.control.visible
    shown[0] = ft.Container(ft.Text("urgent"))
    slot.refresh()
    assert slot.control.visible


def test_slot_that_may_be_empty_on_purpose_keeps_its_room():
    assert Slot(ft.Container).control.visible
