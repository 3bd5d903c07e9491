"""A flag beside a value: its sign, its word, two lines; a tap opens what is behind."""

import flet as ft

from exam_app.app.view.vital_presenter import LOUD, FlagNotice, FlagWeight
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.sources import opens_below
from exam_app.ui.widgets.texts import paragraph, quiet, stack

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
    line = identified("vital-flag", flag_line(notice))
    if not notice.behind:
        return line

    def draw() -> list[ft.Control]:
        return [
            stack(paragraph(printed), quiet(about), spacing=2)
            for printed, about in notice.behind
        ]

    ranges = opens_below(
        "vital-flag-ranges",
        draw,
        "Which ranges, from whom",
        "Close the ranges",
        spacing=12,
    )
    return stack(line, ranges, spacing=0)
