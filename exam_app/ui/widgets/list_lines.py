"""A line of a list that leads somewhere: a sign, a name, a quieter line below."""

from collections.abc import Callable, Sequence
from typing import Any

import flet as ft

from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.texts import quiet, strong


def plain_table(
    identifier: str, columns: Sequence[str], rows: Sequence[Sequence[str]]
) -> ft.Control:
    """Draw rows of text under column headings, each column as wide as the others.

    Args:
        identifier: Finds the control; given to nothing else.
        columns: At least one.
        rows: Each as long as ``columns``.
    """
    lines = [_row([quiet(text) for text in columns])]
    for cells in rows:
        texts = (ft.Text(t, theme_style=ft.TextThemeStyle.BODY_MEDIUM) for t in cells)
        lines.append(_row(list(texts)))
    box = ft.Column(
        lines, spacing=8, horizontal_alignment=ft.CrossAxisAlignment.STRETCH
    )
    return identified(identifier, box)


def _row(cells: Sequence[ft.Text]) -> ft.Control:
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
    """Make a whole line tappable; both texts wrap.

    Args:
        identifier: Finds the control; given to nothing else.
        title: What the line is.
        words: More about it; may be empty.
        on_click: Called at a tap.
        icon: Shown before both.
    """
    texts: list[ft.Control] = [strong(title)]
    if words:
        texts.append(quiet(words))
    row = ft.Row(
        [
            ft.Icon(icon, color=ft.Colors.PRIMARY),
            ft.Column(texts, spacing=2, expand=True, tight=True),
            ft.Icon(ft.Icons.CHEVRON_RIGHT, color=ft.Colors.ON_SURFACE_VARIANT),
        ],
        spacing=12,
    )
    button = ft.OutlinedButton(
        content=row,
        on_click=on_click,
        style=ft.ButtonStyle(
            padding=ft.Padding.symmetric(vertical=12, horizontal=14),
            color=ft.Colors.ON_SURFACE,
        ),
    )
    return identified(identifier, button)
