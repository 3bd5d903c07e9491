"""The answers of a round sheet's cell as buttons, for a thumb."""

from collections.abc import Awaitable, Callable

import flet as ft

from exam_app.ui.identifiers import ROUND_PICK, for_choice
from exam_app.ui.parts.exam_parts import tile
from exam_app.ui.round_cells import Column


def picks_of(column: Column, on_pick: Callable[[str], Awaitable[None]]) -> ft.Control:
    """Draw the answers that a column offers; a tap answers the cell."""
    if not column.picks:
        return ft.Container()
    base = for_choice(ROUND_PICK, column.key.replace(":", "-"))
    buttons = [
        _button(f"{base}-{number}", text, label, on_pick)
        for number, (text, label) in enumerate(column.picks)
    ]
    return ft.Row(buttons, wrap=True, spacing=8, run_spacing=8)


def _button(
    name: str, text: str, label: str, on_pick: Callable[[str], Awaitable[None]]
) -> ft.Control:
    async def tapped() -> None:
        await on_pick(text)

    return tile(name, label, tapped)
