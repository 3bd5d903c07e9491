"""What a tap on a drawing asks stands at the foot, or below it with large text."""

from dataclasses import dataclass, field

import flet as ft
import pytest

from exam_app.ui.finding.drawing_sheet import open_over_drawing
from exam_app.ui.shell.theme import TEXT_SCALE, TextSize
from exam_app.ui.widgets.room import ROOM


@dataclass
class _Tab:
    opened: list[tuple] = field(default_factory=list)

    def open_sheet(self, title, *controls, grows=False, foot=()):
        self.opened.append((title, list(controls), grows, list(foot)))


@pytest.mark.parametrize("size", TextSize)
def test_what_is_asked_of_a_drawing_is_never_scrolled_past_for_a_legend(
    size, monkeypatch
):
    monkeypatch.setattr(ROOM, "text_scale", TEXT_SCALE[size])
    tab, drawn, asked, legend = _Tab(), *(ft.Container() for _ in range(3))
    open_over_drawing(tab, "Body", drawn, asked, legend)
    ((title, controls, grows, foot),) = tab.opened
    assert (title, grows) == ("Body", True)
    if size is TextSize.NORMAL:
        assert (controls, foot) == ([drawn, legend], [asked])
    else:
        assert (controls, foot) == ([drawn, asked, legend], [])
