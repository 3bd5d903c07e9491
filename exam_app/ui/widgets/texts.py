"""Headings, paragraphs and sections, all sized by the theme."""

import flet as ft

from exam_app.ui.shell.theme import CORNER, GAP, SCROLLS
from exam_app.ui.widgets.buttons import loosen


def heading(
    text: str, lines: int | None = None, *, is_small: bool = False
) -> ft.Control:
    """Write a heading, also one for a screen reader; at most so many lines."""
    style = (
        ft.TextThemeStyle.TITLE_MEDIUM if is_small else ft.TextThemeStyle.TITLE_LARGE
    )
    words = ft.Text(text, theme_style=style, max_lines=lines)
    return ft.Semantics(content=words, header=True)


def paragraph(text: str) -> ft.Text:
    """Write plain text that wraps."""
    return ft.Text(text, theme_style=ft.TextThemeStyle.BODY_MEDIUM)


def quiet(text: str, *, lines: int | None = None) -> ft.Text:
    """Write a remark in the quieter colour, still at 7 to 1.

    Args:
        lines: How many it takes at the most; what is longer ends in three dots.
    """
    return ft.Text(
        text,
        theme_style=ft.TextThemeStyle.BODY_SMALL,
        color=ft.Colors.ON_SURFACE_VARIANT,
        max_lines=lines,
        overflow=ft.TextOverflow.ELLIPSIS if lines else ft.TextOverflow.CLIP,
    )


def strong(text: str) -> ft.Text:
    """Write a line that stands out."""
    return ft.Text(text, theme_style=ft.TextThemeStyle.TITLE_MEDIUM)


def section(title: str, *controls: ft.Control) -> ft.Container:
    """Frame some controls under a heading; without a title under none."""
    above = [heading(title)] if title else []
    return ft.Container(
        content=stack(*above, *controls),
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


def scrolled(*controls: ft.Control, spacing: int = GAP, edge: int = GAP) -> ft.Column:
    """Put controls in a column that is scrolled, its bar beside their frames.

    Args:
        spacing: Between two of them.
        edge: Room for the bar at the right.
    """
    inner = stack(*controls, spacing=spacing)
    return ft.Column(
        [ft.Container(inner, padding=ft.Padding.only(right=edge))],
        scroll=SCROLLS,
        expand=True,
        horizontal_alignment=ft.CrossAxisAlignment.STRETCH,
    )


def across(control: ft.Control) -> ft.Row:
    """Give one control the whole width."""
    control.expand = 1
    return ft.Row([control])


def side_by_side(*controls: ft.Control, spacing: int = GAP) -> ft.Row:
    """Put controls in a row that wraps instead of being cut, each as wide as needed."""
    row = [*map(loosen, controls)]
    return ft.Row(row, wrap=True, spacing=spacing, run_spacing=spacing)


def in_its_place(control: ft.Control, is_asked: bool) -> ft.Control:
    """Return a control, or the room of one that is not asked: nothing below moves."""
    if is_asked:
        return control
    return ft.Container(control, opacity=0, disabled=True, ignore_interactions=True)
