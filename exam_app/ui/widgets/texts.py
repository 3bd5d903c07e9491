"""Headings, paragraphs and sections, all sized by the theme."""

import flet as ft

from exam_app.ui.shell.theme import CORNER, GAP


def heading(text: str, lines: int | None = None) -> ft.Control:
    """Write a heading, also one for a screen reader; at most so many lines."""
    style = ft.TextThemeStyle.TITLE_LARGE
    words = ft.Text(text, theme_style=style, max_lines=lines)
    return ft.Semantics(content=words, header=True)


def paragraph(text: str) -> ft.Text:
    """Write plain text that wraps."""
    return ft.Text(text, theme_style=ft.TextThemeStyle.BODY_MEDIUM)


def quiet(text: str) -> ft.Text:
    """Write a remark in the quieter colour, still at 7 to 1."""
    return ft.Text(
        text,
        theme_style=ft.TextThemeStyle.BODY_SMALL,
        color=ft.Colors.ON_SURFACE_VARIANT,
    )


def strong(text: str) -> ft.Text:
    """Write a line that stands out."""
    return ft.Text(text, theme_style=ft.TextThemeStyle.TITLE_MEDIUM)


def section(title: str, *controls: ft.Control) -> ft.Control:
    """Frame some controls under a heading."""
    return ft.Container(
        content=stack(heading(title), *controls),
        bgcolor=ft.Colors.SURFACE_CONTAINER,
        border_radius=CORNER,
        padding=16,
    )


def stack(*controls: ft.Control, spacing: int = GAP) -> ft.Column:
    """Put controls below one another, each as wide as the column."""
    return ft.Column(
        list(controls),
        spacing=spacing,
        tight=True,
        horizontal_alignment=ft.CrossAxisAlignment.STRETCH,
    )


def across(control: ft.Control) -> ft.Row:
    """Give one control the whole width."""
    control.expand = 1
    return ft.Row([control])


def side_by_side(*controls: ft.Control) -> ft.Row:
    """Put controls in a row that wraps instead of being cut."""
    return ft.Row(list(controls), wrap=True, spacing=GAP, run_spacing=GAP)
