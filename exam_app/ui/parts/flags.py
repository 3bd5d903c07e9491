"""A flag beside a value: its sign, its word, two lines; a tap opens what is behind."""

import flet as ft

from exam_app.ui.identifiers import VITAL_FLAG, VITAL_FLAG_RANGES, identified
from exam_app.ui.parts.buttons import quiet_button
from exam_app.ui.parts.slot import Slot
from exam_app.ui.parts.texts import paragraph, quiet, stack
from exam_app.ui.vital_presenter import LOUD, FlagNotice, FlagWeight

_SIGNS = {
    FlagWeight.OUTSIDE: ft.Icons.WARNING_AMBER,
    FlagWeight.NEAR: ft.Icons.COMPARE_ARROWS,
    FlagWeight.DISPUTED: ft.Icons.ALT_ROUTE,
    FlagWeight.WITHIN: ft.Icons.CHECK,
}


def flag_line(notice: FlagNotice) -> ft.Control:
    """Write a flag in its two lines."""
    is_loud = notice.weight in LOUD
    colour = ft.Colors.ON_TERTIARY if is_loud else ft.Colors.ON_SURFACE_VARIANT
    bold = ft.TextStyle(weight=ft.FontWeight.W_700)
    words = ft.Text(
        spans=[ft.TextSpan(notice.word, bold), ft.TextSpan(notice.text)],
        theme_style=ft.TextThemeStyle.BODY_SMALL,
        color=colour,
        expand=True,
    )
    row = ft.Row(
        [ft.Icon(_SIGNS[notice.weight], size=20, color=colour), words],
        spacing=8,
        vertical_alignment=ft.CrossAxisAlignment.START,
    )
    if not is_loud:
        return row
    return ft.Container(row, bgcolor=ft.Colors.TERTIARY, border_radius=6, padding=8)


def flag_with_ranges(notice: FlagNotice) -> ft.Control:
    """Write a flag, and a button that opens every range and its source below it."""
    line = identified(VITAL_FLAG, flag_line(notice))
    if not notice.behind:
        return line
    is_open = [False]

    def toggled() -> None:
        is_open[0] = not is_open[0]
        ranges.refresh()

    def draw() -> ft.Control:
        label = "Close the ranges" if is_open[0] else "Which ranges, from whom"
        icon = ft.Icons.EXPAND_LESS if is_open[0] else ft.Icons.EXPAND_MORE
        button = quiet_button(VITAL_FLAG_RANGES, label, toggled, icon=icon)
        if not is_open[0]:
            return button
        shown = [
            stack(paragraph(line), quiet(about), spacing=2)
            for line, about in notice.behind
        ]
        return stack(button, *shown, spacing=12)

    ranges = Slot(draw)
    return stack(line, ranges.control, spacing=0)
