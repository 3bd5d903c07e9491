"""Choices stand in rows of equal cells, as many as their words have room for."""

import flet as ft
import pytest

from exam_app.ui.shell.theme import TEXT_SCALE, TextSize
from exam_app.ui.widgets.buttons import button, loosen
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.even_rows import columns_for, even_rows, evenly
from exam_app.ui.widgets.room import ROOM, least_width

# Of a low phone, a phone and a laptop, in pixels.
SMALL, PHONE, LAPTOP = 360, 390, 1280

LABELS = (
    ("by mouth", "under the skin", "into a muscle", "into a vein", "on the skin"),
    ("06:45", "06:35", "06:15"),
    ("2026-11-30 06:45", "2026-11-30, time not known", "2026-11-29, time not known"),
    ("Veterinarian", "Technician", "Volunteer"),
    ("The 25 this device saw last", "None: notes and receipts only"),
)


def tiles(labels):
    return [button(f"made-{n}", x, print, kind="tile") for n, x in enumerate(labels)]


def columns_of(*labels, icon=None):
    made = [button("made", one, print, kind="tile", icon=icon) for one in labels]
    return columns_for([loosen(one).data for one in made], 306)


def cells_of(column):
    return [
        [one for one in row.controls if isinstance(one, ft.Semantics)]
        for row in column.controls
    ]


@pytest.mark.parametrize("size", [SMALL, PHONE, LAPTOP])
@pytest.mark.parametrize("text", TextSize)
@pytest.mark.parametrize("labels", LABELS)
def test_cells_of_a_row_are_equal_and_cut_no_word(labels, text, size, monkeypatch):
    monkeypatch.setattr(ROOM, "width", size)
    monkeypatch.setattr(ROOM, "text_scale", TEXT_SCALE[text])
    made = tiles(labels)
    column = evenly(made)
    columns = {len(row.controls) for row in column.controls}
    assert len(columns) == 1, "rows of different numbers of cells do not line up"
    assert all(one.expand == 1 for row in column.controls for one in row.controls)
    assert [one for row in cells_of(column) for one in row] == made
    count, room = columns.pop(), min(ROOM.zone, ROOM.sheet)
    cell = (room - 6 * (count - 1)) / count
    assert count == 1 or max(map(least_width, made)) <= cell


def test_as_many_columns_as_words_have_room_for_and_the_last_row_is_full():
    assert columns_of("06:45", "06:35", "06:15") == 3
    assert columns_of("a", "b", "c", "d", "e") == 3
    assert columns_of("a", "b", "c", "d") == 4
    assert columns_of(*("The 25 this device saw last, and more",) * 2) == 1


def test_a_sign_before_words_takes_its_room_from_them():
    words = ("As a file", "By a code", "In person")
    assert columns_of(*words) == 3
    assert columns_of(*words, icon=ft.Icons.SAVE) == 2


def test_one_of_two_lines_makes_its_neighbour_as_high():
    (row,) = even_rows(tiles(("refused", "too stressed to judge")), 2, 338).controls
    assert row.intrinsic_height
    assert row.vertical_alignment is ft.CrossAxisAlignment.STRETCH


def test_a_choice_keeps_its_columns_when_another_is_chosen(monkeypatch):
    monkeypatch.setattr(ROOM, "width", PHONE)
    options = [("a", "by mouth"), ("b", "under the skin"), ("c", "into a muscle")]
    rows = [
        ChoiceRow("route", options, chosen=chosen).control.controls
        for chosen in (None, "a", "c")
    ]
    assert len({tuple(len(row.controls) for row in one) for one in rows}) == 1
