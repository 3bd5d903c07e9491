"""No word of a screen's title is broken, whatever the text size."""

import flet as ft
import pytest

from exam_app.ui.shell.layout import Frame
from exam_app.ui.shell.screen import Screen
from exam_app.ui.shell.theme import TEXT_SCALE, TextSize
from exam_app.ui.widgets.room import ROOM


def header_of(title):
    frame = Frame(lambda: None, lambda: None, lambda: None, lambda _: None)
    return frame._header(Screen(title, [], back="/"))


@pytest.mark.parametrize(
    ("title", "width", "size", "is_beside"),
    [
        ("Written record", 360, TextSize.NORMAL, True),
        ("Written record", 390, TextSize.LARGEST, False),
        ("Which animal?", 360, TextSize.LARGEST, False),
        ("Moss", 390, TextSize.LARGEST, True),
        ("Written record", 1280, TextSize.LARGEST, True),
    ],
)
def test_a_title_stands_beside_the_examiner_only_where_its_words_fit(
    title, width, size, is_beside, monkeypatch
):
    monkeypatch.setattr(ROOM, "width", width)
    monkeypatch.setattr(ROOM, "text_scale", TEXT_SCALE[size])
    assert isinstance(header_of(title), ft.Row) is is_beside
