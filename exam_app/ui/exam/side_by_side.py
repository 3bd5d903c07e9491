"""The panes of a window with room: list, current place over its answers, record."""

import flet as ft

from exam_app.ui.shell.theme import SCROLLS
from exam_app.ui.widgets.slot import Slot


def side_by_side(
    listed: ft.Control, card: Slot, zone: ft.Control, record: Slot | None
) -> ft.Control:
    """Stand the list beside the current place, and the record where there is room."""
    listed.expand = 4
    middle = ft.Column(
        [_scrolled(card.control), zone],
        expand=5,
        spacing=6,
        horizontal_alignment=ft.CrossAxisAlignment.STRETCH,
    )
    panes = [listed, middle]
    if record is not None:
        panes.append(_scrolled(record.control, expand=4))
    return ft.Row(
        panes,
        expand=True,
        spacing=12,
        vertical_alignment=ft.CrossAxisAlignment.STRETCH,
    )


def _scrolled(content: ft.Control, *, expand: int = 1) -> ft.Control:
    return ft.Column(
        [content],
        scroll=SCROLLS,
        expand=expand,
        horizontal_alignment=ft.CrossAxisAlignment.STRETCH,
    )
