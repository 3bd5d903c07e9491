"""A round sheet's cell: its answers for a thumb, what is wrong, where the cursor is."""

import asyncio
from collections.abc import Awaitable, Callable

import flet as ft

from exam_app.app import exam_sessions
from exam_app.app.exam_editor import ExamEditor
from exam_app.app.forms.round_cells import Column, fill_cell
from exam_app.domain.errors import ExamError
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import Field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.slot import is_on_page


def picks_of(column: Column, on_pick: Callable[[str], Awaitable[None]]) -> ft.Control:
    """Draw the answers that a column offers; a tap answers the cell."""
    if not column.picks:
        return ft.Container()
    base = for_choice("round-pick", column.key.replace(":", "-"))
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

    return button(name, label, tapped, kind="tile")


def is_readable(row: ExamEditor, column: Column, cell: Field) -> bool:
    """Try a cell on the exam without changing it; say below it what is wrong."""
    by, new_id = row.attribution(), exam_sessions.new_id
    try:
        fill_cell(row.exam, row.protocol, column, cell.value, by, new_id)
    except ExamError as refusal:
        reason = getattr(refusal, "reason", "")
        cell.show_problem(f"{reason}. {refusal.advice}".lstrip(". "))
        return False
    return True


async def set_cursor_after(cell: Field, after_seconds: float) -> None:
    """Set the cursor into a field once what changed around it has been drawn.

    Asked earlier, the field counts as chosen and yet takes no key where a screen
    reader is served: the page moves its parts about and drops the cursor.
    """
    await asyncio.sleep(after_seconds)
    if is_on_page(cell.entry):
        await set_cursor(cell)


async def set_cursor(cell: Field) -> None:
    """Set the cursor into a field that is drawn."""
    await cell.entry.focus()  # type: ignore[no-untyped-call]
