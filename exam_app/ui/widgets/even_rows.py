"""Rows of buttons that are as wide and as high as one another."""

from collections.abc import Sequence

import flet as ft

from exam_app.ui.widgets.buttons import loosen
from exam_app.ui.widgets.room import ROOM, SPACE, fitting_columns, line_width, width_of

# Padding of a section at both sides, and of a button.
_FRAME, _SIDES = 32, 24
_MOST = 4
# Words break where they can, not in the middle of a label.
_OF_TWO_LINES = 1.7


def even_rows(cells: Sequence[ft.Control], columns: int, width: float) -> ft.Column:
    """Put buttons in rows of equal cells, over the whole width.

    One that is chosen moves no other, and one of two lines makes its neighbours as
    high.

    Args:
        cells: Each says how wide it has to be.
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
                intrinsic_height=True,
                vertical_alignment=ft.CrossAxisAlignment.STRETCH,
                # The same row to Flet when drawn again, and so are buttons with keys.
                key=f"row-{start}",
            )
        )
    return ft.Column(rows, spacing=SPACE, tight=True)


def evenly(cells: Sequence[ft.Control], labels: Sequence[str]) -> ft.Column:
    """Put choices in as many equal columns as their words have room for.

    Args:
        cells: Buttons, in the order shown.
        labels: Their words, in the same order.
    """
    room = min(ROOM.zone, ROOM.sheet)
    loose = [*map(loosen, cells)]
    return even_rows(loose, columns_for(labels, room - _FRAME), room)


def columns_for(labels: Sequence[str], width: float, font: float = 17) -> int:
    """Return how many equal columns suit labels of at most two lines.

    The last row is as full as can be: five stand as three and two.

    Args:
        labels: Of the choices.
        width: Of the place they stand in, in pixels.
        font: Size of their letters, at normal text.
    """
    count = len(labels)
    for columns in range(min(count, _MOST), 1, -1):
        cell = (width - SPACE * (columns - 1)) / columns - _SIDES
        if all(
            width_of(label, font) <= cell
            and line_width(label, font) <= _OF_TWO_LINES * cell
            for label in labels
        ):
            rows = -(-count // columns)
            return -(-count // rows)
    return 1
