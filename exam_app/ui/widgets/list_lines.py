"""A line of a list that leads somewhere: a sign, a name, a quieter line below."""

from collections.abc import Callable, Iterable, Sequence
from typing import Any

import flet as ft

from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.texts import paragraph, quiet, stack, strong


def plain_table(
    identifier: str, columns: Sequence[str], rows: Sequence[Sequence[str]]
) -> ft.Control:
    """Draw rows of text under column headings, each column as wide as the others."""
    lines = [map(quiet, columns), *(map(paragraph, cells) for cells in rows)]
    return identified(identifier, stack(*map(_row, lines), spacing=8))


def _row(cells: Iterable[ft.Text]) -> ft.Control:
    boxes: list[ft.Control] = [ft.Container(cell, expand=1) for cell in cells]
    return ft.Row(boxes, spacing=10, vertical_alignment=ft.CrossAxisAlignment.START)


def line_button(
    identifier: str,
    title: str,
    words: str,
    on_click: Callable[..., Any],
    *,
    icon: ft.IconData,
) -> ft.Semantics:
    """Make a whole line tappable; both texts wrap, and the second may be empty."""
    texts: list[ft.Control] = [strong(title), *([quiet(words)] if words else [])]
    row: list[ft.Control] = [
        ft.Icon(icon, color=ft.Colors.PRIMARY),
        ft.Column(texts, spacing=2, expand=True, tight=True),
        ft.Icon(ft.Icons.CHEVRON_RIGHT, color=ft.Colors.ON_SURFACE_VARIANT),
    ]
    style = ft.ButtonStyle(
        padding=ft.Padding.symmetric(vertical=12, horizontal=14),
        color=ft.Colors.ON_SURFACE,
    )
    content = ft.Row(row, spacing=12)
    button = ft.OutlinedButton(content=content, on_click=on_click, style=style)
    return identified(identifier, button)
