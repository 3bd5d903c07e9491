"""A plain table: a heading row and rows of text that wrap."""

from collections.abc import Sequence

import flet as ft

from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.texts import quiet


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
