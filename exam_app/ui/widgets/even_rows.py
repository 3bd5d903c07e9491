"""Rows of buttons that are as wide and as high as one another."""

from collections.abc import Sequence

import flet as ft

from exam_app.ui.widgets.buttons import loosen
from exam_app.ui.widgets.room import ROOM, SPACE, Needs, fitting_columns

# Padding of a section at both sides.
_FRAME = 32
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


def evenly(cells: Sequence[ft.Control]) -> ft.Column:
    """Put choices in as many equal columns as their words have room for.

    Args:
        cells: Buttons, in the order shown.
    """
    room = min(ROOM.zone, ROOM.sheet)
    loose = [*map(loosen, cells)]
    needs = [one.data for one in loose if isinstance(one.data, Needs)]
    return even_rows(loose, columns_for(needs, room - _FRAME), room)


def columns_for(needs: Sequence[Needs], width: float) -> int:
    """Return how many equal columns suit buttons of at most two lines.

    The last row is as full as can be: five stand as three and two.

    Args:
        needs: Of each button, in the order shown.
        width: Of the place they stand in, in pixels.
    """
    count = len(needs)
    for columns in range(min(count, _MOST), 1, -1):
        cell = (width - SPACE * (columns - 1)) / columns
        if all(
            one.least <= cell and one.line <= _OF_TWO_LINES * (cell - one.beside)
            for one in needs
        ):
            rows = -(-count // columns)
            return -(-count // rows)
    return 1
