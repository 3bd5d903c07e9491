"""A scroll bar that comes and goes would be drawn for seconds after each answer."""

from pathlib import Path

import flet as ft

from exam_app.ui.shell import theme

UI = Path(theme.__file__).parents[1]


def test_only_the_theme_says_how_a_scroll_bar_is_shown():
    said = {
        path.relative_to(UI).as_posix()
        for path in UI.rglob("*.py")
        if "ScrollMode." in path.read_text("utf-8")
    }
    assert said == {"shell/theme.py"}
    assert theme.SCROLLS is ft.ScrollMode.ALWAYS
