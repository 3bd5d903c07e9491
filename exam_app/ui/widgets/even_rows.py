"""Rows of buttons that are as wide and as high as one another."""

from collections.abc import Sequence

import flet as ft

from exam_app.ui.widgets.room import SPACE, fitting_columns


def even_rows(cells: Sequence[ft.Control], columns: int, width: float) -> ft.Column:
    """Put buttons in rows of equal cells, over the whole width.

    Args:
        cells: At least one; each says how wide it has to be.
        columns: How many in a row; fewer where a word would be cut.
        width: Of the place they stand in.
    """
    columns = max(1, fitting_columns(cells, columns, width))
    rows: list[ft.Control] = []
    for start in range(0, len(cells), columns):
        row = [*cells[start : start + columns]]
        row += [ft.Container() for _ in range(columns - len(row))]
        for cell in row:
            cell.expand = 1
        rows.append(
            ft.Row(
                row,
                spacing=SPACE,
                # One of two lines makes its neighbours as high.
                intrinsic_height=True,
                vertical_alignment=ft.CrossAxisAlignment.STRETCH,
            )
        )
    return ft.Column(rows, spacing=SPACE, tight=True)
