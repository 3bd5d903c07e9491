"""A sheet with a drawing, and where on it stands what a tap on the drawing asks."""

import flet as ft

from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.room import ROOM


def open_over_drawing(
    tab: Tab, title: str, drawn: ft.Control, asked: ft.Control, *below: ft.Control
) -> None:
    """Lay a drawing over the screen, with what a tap on it asks always in reach.

    That stays in sight at the foot. Large text leaves no room for a foot beside the
    drawing: there it follows the drawing, and is scrolled with it.

    Args:
        tab: Where it is shown.
        title: Names the sheet.
        drawn: The drawing, with the choice of a view.
        asked: What the last tap on it means, and the ways on.
        below: What is only looked up: a legend, lines.
    """
    if ROOM.is_large_text:
        tab.open_sheet(title, drawn, asked, *below, grows=True)
    else:
        tab.open_sheet(title, drawn, *below, grows=True, foot=[asked])
