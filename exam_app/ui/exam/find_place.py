"""Bring a part or a vital up by typing its name, or a word of what is asked there."""

from collections.abc import Awaitable, Callable

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.view.exam_places import Status, places_named, status
from exam_app.language.catalogue import to_translate, tr
from exam_app.ui.exam.exam_list import name_of
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.identifiers import for_choice
from exam_app.ui.widgets.list_lines import line_button
from exam_app.ui.widgets.slot import Slot
from exam_app.ui.widgets.texts import quiet, stack

_SHOWN = 6
_NOW = {
    Status.OPEN: to_translate("open"),
    Status.PARKED: to_translate("put off to later"),
    Status.DONE: to_translate("answered"),
}
_ICONS = {
    Status.OPEN: ft.Icons.RADIO_BUTTON_UNCHECKED,
    Status.PARKED: ft.Icons.SCHEDULE,
    Status.DONE: ft.Icons.CHECK,
}


def open_find(
    tab: Tab, editor: ExamEditor, go: Callable[[str], None] | None = None
) -> None:
    """Ask for the name; Enter takes the first place that fits.

    Args:
        go: Brings a place up on the screen below; without it, the exam's list is shown.
    """

    def found() -> tuple[str, ...]:
        return places_named(editor.exam, editor.protocol, field.value)

    async def lead(place: str) -> None:
        tab.close_sheet()
        if go is not None:
            go(place)
            return
        current = editor.view.current
        current.place, current.status = place, ""
        await tab.go(f"/exam/{editor.exam.exam_id}")

    def draw() -> ft.Control:
        lines = [_line(editor, place, lead) for place in found()[:_SHOWN]]
        said = tr("Nothing is called so.") if field.value.strip() else tr(_HOW)
        return stack(*lines, spacing=8) if lines else quiet(said)

    async def entered() -> None:
        for place in found()[:1]:
            await lead(place)

    def typed() -> None:
        lines.refresh()

    label = tr("Part or value")
    field = text_field(
        "find-name", label, autofocus=True, on_change=typed, on_submit=entered
    )
    lines = Slot(draw)
    tab.open_sheet(tr("Find by name"), field.control, lines.control, grows=True)


def _line(
    editor: ExamEditor, place: str, lead: Callable[[str], Awaitable[None]]
) -> ft.Control:
    async def tapped() -> None:
        await lead(place)

    now = status(editor.exam, editor.protocol, place)
    name = for_choice("find", place.replace(":", "-"))
    return line_button(
        name, name_of(editor, place), tr(_NOW[now]), tapped, icon=_ICONS[now]
    )


_HOW = to_translate("As in: tail, ear, gums, weight. Enter takes the first.")
