"""A flag beside a value: its sign, its word, and the reason with its source."""

import flet as ft

from exam_app.ui.vital_presenter import FlagNotice, FlagWeight

_SIGNS = {
    FlagWeight.OUTSIDE: ft.Icons.WARNING_AMBER,
    FlagWeight.NEAR: ft.Icons.COMPARE_ARROWS,
    FlagWeight.WITHIN: ft.Icons.CHECK,
}


def flag_line(notice: FlagNotice, *, is_whole: bool = False) -> ft.Control:
    """Write a flag.

    Args:
        notice: What to show.
        is_whole: Whether the ranges behind "within" are named too.
    """
    is_quiet = notice.weight is FlagWeight.WITHIN
    colour = ft.Colors.ON_SURFACE_VARIANT if is_quiet else ft.Colors.ON_TERTIARY
    text = notice.text
    if is_quiet and not is_whole:
        text = "Within the published range"
    spans = [] if is_quiet else [_bold(f"{notice.word}. ")]
    words = ft.Text(
        spans=[*spans, ft.TextSpan(text)],
        theme_style=ft.TextThemeStyle.BODY_SMALL,
        color=colour,
        expand=True,
    )
    row = ft.Row(
        [ft.Icon(_SIGNS[notice.weight], size=20, color=colour), words],
        spacing=8,
        vertical_alignment=ft.CrossAxisAlignment.START,
    )
    if is_quiet:
        return row
    return ft.Container(row, bgcolor=ft.Colors.TERTIARY, border_radius=6, padding=8)


def _bold(text: str) -> ft.TextSpan:
    return ft.TextSpan(text, ft.TextStyle(weight=ft.FontWeight.W_700))
