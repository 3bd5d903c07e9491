"""No word of a button is cut: on any main screen, small phone, at every text size."""

from collections.abc import Iterator

import flet as ft
import pytest

from exam_app.language.catalogue import LANGUAGES, chosen, use
from exam_app.ui.shell.theme import CONTROL_HEIGHT, TextSize
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.room import (
    ROOM,
    SPACE,
    fitting_columns,
    least_width,
    rows_that_fit,
    width_of,
)
from exam_app.ui.widgets.still_button import button_of
from tests.browser.driver import PHONE, SMALL
from tests.browser.in_process import opened
from tests.browser.main_screens import CLINIC, FIELD, Place, ids, show

PART = Place("part", "/exam/{Moss}/region/nose", wait="region-nose-finding")


def inside(control: ft.BaseControl) -> Iterator[ft.BaseControl]:
    """Give what a control holds, one after the other."""
    held = [
        getattr(control, "content", None),
        *(getattr(control, "controls", None) or ()),
    ]
    return (one for one in held if isinstance(one, ft.BaseControl))


def cut(control: ft.BaseControl, width: float) -> Iterator[str]:
    """Name every button that is narrower than a word of it, and every such row."""
    if getattr(control, "visible", True) is False:
        return
    held = list(inside(control))
    buttons = [one for one in held if least_width(one) > 0]
    for one in buttons:
        if least_width(one) > width:
            yield f"{said(one)} needs {least_width(one):.0f}, has {width:.0f}"
    is_row = isinstance(control, ft.Row) and not control.wrap
    if is_row and buttons:
        yield from cut_in_row(control, width)
    for one in held:
        yield from cut(one, width)


def cut_in_row(row: ft.Row, width: float) -> Iterator[str]:
    fixed = sum(least_width(one) for one in row.controls if not one.expand)
    left = width - fixed - (row.spacing or 0) * (len(row.controls) - 1)
    weights = sum(int(one.expand or 0) for one in row.controls)
    for one in row.controls:
        share = left * int(one.expand or 0) / weights if one.expand else left
        if least_width(one) > share + 0.5:
            yield f"{said(one)} needs {least_width(one):.0f}, has {share:.0f}"


def said(control: ft.BaseControl) -> str:
    inner = button_of(control)
    words = getattr(inner, "content", inner)
    return str(getattr(words, "value", words))


def each_size():
    """Give every text size on both phones; the narrowest case every day."""
    for text in TextSize:
        for name, size in (("phone", PHONE), ("small", SMALL)):
            is_narrowest = (text, size) == (TextSize.LARGEST, SMALL)
            marks = () if is_narrowest else (pytest.mark.exhaustive,)
            yield pytest.param(text, size, id=f"{text.value}-{name}", marks=marks)


@pytest.mark.slow
@pytest.mark.parametrize(("text", "size"), list(each_size()))
def test_no_word_of_a_button_is_cut_on_any_screen(text, size):
    assert cut_on("--demo", places=(PART, *FIELD), text=text, size=size) == {}


@pytest.fixture
def environment(monkeypatch):
    yield monkeypatch.setenv
    use("en")


@pytest.mark.exhaustive
@pytest.mark.parametrize("code", [code for code in LANGUAGES if code != "en"])
@pytest.mark.parametrize("computer", ["field", "clinic"])
def test_no_word_of_a_button_is_cut_in_another_language(environment, code, computer):
    environment("LC_ALL", f"{code}.UTF-8")
    arguments = ("--demo", *(["--clinic"] if computer == "clinic" else []))
    places = CLINIC if computer == "clinic" else (PART, *FIELD)
    assert cut_on(*arguments, places=places, text=TextSize.NORMAL, size=PHONE) == {}
    assert chosen() == code


def cut_on(*arguments, places, text, size):
    """Name what is cut, by the place where it is."""

    def look():
        page = driver._client.session.page
        over = [one for one in page.overlay if getattr(one, "open", False)]
        return [
            *(one for view in page.views for one in cut(view, ROOM.zone)),
            *(one for sheet in over for one in cut(sheet, ROOM.sheet)),
        ]

    with opened(*arguments, size=size) as driver:
        known, wrong = ids(driver), {}
        driver.go("/settings/looks")
        driver.click(f"size-{text.value}")
        for place in places:
            show(driver, place, known)
            if bad := driver._look(look):
                wrong[place.name] = bad
    return wrong


def two_tiles():
    return [
        button(f"made-{n}", "Finding", print, kind="tile", expand=1) for n in (1, 2)
    ]


def test_button_that_is_narrower_than_its_word_is_named(monkeypatch):
    monkeypatch.setattr(ROOM, "text_scale", 1.0)
    made = two_tiles()
    each = least_width(made[0])
    alone, beside = ft.Column(made[:1]), ft.Row(made, spacing=SPACE)
    assert list(cut(alone, each)) == []
    assert list(cut(beside, 2 * each + SPACE)) == []
    needs = f"Finding needs {each:.0f}, has "
    assert list(cut(alone, each - 1)) == [f"{needs}{each - 1:.0f}"]
    assert list(cut(beside, 2 * each + SPACE - 2)) == [f"{needs}{each - 1:.0f}"] * 2


def test_a_row_too_narrow_for_a_word_goes_on_in_the_next(monkeypatch):
    monkeypatch.setattr(ROOM, "text_scale", 1.0)
    made = two_tiles()
    each = least_width(made[0])
    assert len(rows_that_fit(made, 2 * each + SPACE)) == 1
    assert len(rows_that_fit(made, 2 * each + SPACE - 1)) == 2
    assert fitting_columns(made, 3, 2 * each + SPACE) == 2
    assert fitting_columns(made, 3, each) == 1


def test_twice_the_text_needs_twice_the_width(monkeypatch):
    monkeypatch.setattr(ROOM, "text_scale", 1.0)
    once = width_of("no abnormality", 17)
    assert once == width_of("abnormality", 17)
    monkeypatch.setattr(ROOM, "text_scale", 2.0)
    assert width_of("no abnormality", 17) == 2 * once
    square = button("made-icon", "Back", print, kind="icon", icon=ft.Icons.ADD)
    assert least_width(square) == CONTROL_HEIGHT
