"""What stands beside a screen's title in large words takes the whole width."""

from types import SimpleNamespace

import flet as ft
import pytest

from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.widgets.room import ROOM

LONG = "Nothing is deleted on the device before it has a receipt."


@pytest.mark.parametrize(("scale", "is_above"), [(1.0, False), (2.0, True)])
def test_a_long_line_in_large_text_is_no_column_beside_two_buttons(
    monkeypatch, scale, is_above
):
    monkeypatch.setattr(ROOM, "width", 360)
    monkeypatch.setattr(ROOM, "text_scale", scale)
    page = SimpleNamespace(route="/", width=360, height=640)
    frame = Tab(page, SimpleNamespace(), (), None).frame
    screen = Screen(title="Receive", subtitle=LONG, back="/", body=[])
    header = frame._header(screen)
    stacked = header.controls if isinstance(header, ft.Column) else []
    said = [one.value for one in stacked if isinstance(one, ft.Text)]
    assert (LONG in said) == is_above
