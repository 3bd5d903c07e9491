"""Words keep off the frames of buttons, and what stands in a row is equally high."""

import flet as ft
import pytest

from exam_app.ui.shell.layout import _bottom
from exam_app.ui.shell.theme import (
    LABEL_LINE,
    LARGEST_SIGN,
    TEXT_SCALE,
    ColourMode,
    build_theme,
)
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ToggleRow, pick
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.room import ROOM, fitting_columns, least_width
from exam_app.ui.widgets.still_button import StillButton, button_of
from exam_app.ui.widgets.texts import side_by_side
from tests.browser.driver import PHONE, SMALL
from tests.browser.in_process import opened
from tests.browser.main_screens import FIELD, show
from tests.ui.test_words_fit import inside

# So much that a frame of three pixels stands clear of a letter.
LEAST_SIDE = 8


@pytest.fixture(autouse=True)
def a_phone(monkeypatch):
    monkeypatch.setattr(ROOM, "width", 390)
    monkeypatch.setattr(ROOM, "text_scale", 1.0)


def sides(named):
    drawn = named.content
    if isinstance(drawn, StillButton):
        frame = drawn.border.left.width if drawn.border else 0
        return drawn.padding.left + frame, drawn.padding.right + frame
    padding = drawn.style.padding
    return padding.left, padding.right


def tile(words):
    return button(f"made-{words}", words, print, kind="tile")


def test_tile_that_is_as_wide_as_its_words_keeps_them_off_its_frame():
    narrow = least_width(tile("refused"))
    row = side_by_side(tile("refused"), tile("unsafe"))
    for made in row.controls:
        assert min(sides(made)) >= LEAST_SIDE
    assert least_width(row.controls[0]) == narrow + 2 * (
        sides(row.controls[0])[0] - sides(tile("refused"))[0]
    )


def test_tile_that_is_ticked_keeps_its_words_off_its_frame():
    row = ToggleRow("signs", [("a", "dry gums"), ("b", "sunken eyes")])
    tiles = [one for line in row.control.controls for one in line.controls]
    assert len(tiles) == 2
    assert all(min(sides(one)) >= LEAST_SIDE for one in tiles)


def test_choice_that_is_ticked_keeps_its_words_off_its_frame_and_its_width():
    open_, chosen = (pick("a", "Weeks", print, is_chosen=one) for one in (False, True))
    assert min(sides(chosen)) >= LEAST_SIDE
    assert sum(sides(chosen)) + LABEL_LINE + 8 == sum(sides(open_))
    tops = [button_of(one).style.padding.top for one in (open_, chosen)]
    assert tops[0] == tops[1]


def test_cell_keeps_its_words_off_its_frame_and_three_share_a_low_phone(monkeypatch):
    cell = pick("a", "restrained or stressed", print, is_chosen=False, is_cell=True)
    assert min(sides(cell)) >= 6
    monkeypatch.setattr(ROOM, "width", SMALL["width"])
    assert fitting_columns([cell], 3, min(ROOM.zone, ROOM.sheet)) == 3


@pytest.mark.parametrize("text", list(TEXT_SCALE))
def test_button_with_an_icon_is_no_higher_than_one_without(text):
    theme = build_theme(ColourMode.LIGHT, text)
    for one in (theme.filled_button_theme, theme.outlined_button_theme):
        assert one.style.icon_size <= LABEL_LINE * TEXT_SCALE[text]


def test_only_button_of_a_phones_foot_has_its_whole_width():
    foot = _bottom([button("made-add", "Add an animal", print)], is_wide=False)
    (row,) = foot.controls
    assert row.controls[0].expand


def test_buttons_of_a_phones_foot_share_rows_that_are_full():
    made = [button(f"made-{n}", "Read the first one", print) for n in range(3)]
    foot = _bottom(made, is_wide=False)
    assert [len(row.controls) for row in foot.controls] == [2, 1]
    assert all(one.expand for row in foot.controls for one in row.controls)


def test_foot_of_a_laptop_stands_at_the_right():
    foot = _bottom([button("made-add", "Add an animal", print)], is_wide=True)
    assert foot.content.alignment is ft.MainAxisAlignment.END


@pytest.mark.parametrize("scale", [1.0, 1.4, 2.0])
def test_sign_of_a_line_is_larger_than_that_of_a_label(scale, monkeypatch):
    monkeypatch.setattr(ROOM, "text_scale", scale)
    made = line_button("made", "Wick", "pale gums", print, icon=ft.Icons.PRIORITY_HIGH)
    signs = [one for one in everything(made) if isinstance(one, ft.Icon)]
    assert len(signs) == 2
    label = LABEL_LINE * min(scale, LARGEST_SIGN)
    assert all(one.size > label for one in signs)


def everything(control):
    yield control
    for one in inside(control):
        yield from everything(one)


def rows_in(control):
    if isinstance(control, ft.Row):
        yield control
    for one in inside(control):
        yield from rows_in(one)


def test_species_stand_in_rows_of_three_that_are_equally_wide():
    def look():
        over = driver._client.session.page.overlay
        (sheet,) = (one for one in over if getattr(one, "open", False))
        return [
            [one.expand for one in row.controls]
            for row in rows_in(sheet)
            if "animal-add-"
            in str([getattr(c, "identifier", "") for c in row.controls])
        ]

    place = next(one for one in FIELD if one.name == "species")
    with opened("--demo", size=PHONE) as driver:
        show(driver, place, {})
        rows = driver._look(look)
    assert len(rows) > 3
    assert all(row == [1, 1, 1] for row in rows)
