"""Closing: the closer's PIN, then the signature; a wrong PIN changes nothing."""

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.signing import close_and_keep
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.number_pad import ERASE, number_pad
from exam_app.ui.widgets.pin import Pin
from exam_app.ui.widgets.texts import paragraph, quiet


def open_close(tab: Tab, editor: ExamEditor) -> None:
    """Ask for the PIN of the person who examines now."""

    async def signed() -> None:
        await close_and_keep(tab.session, editor, pin.person)
        tab.close_sheet()
        await tab.go(f"/record/{editor.exam.exam_id}")

    pin = Pin(tab, "close-pin", signed, autofocus=tab.is_wide)
    field = pin.field

    async def pressed(key: str) -> None:
        # A problem said below the field stays until the next PIN: taking it away at
        # the first digit would move the keys before the second.
        field.entry.value = field.typed[:-1] if key == ERASE else field.typed + key
        field.entry.update()

    tab.open_sheet(
        "Close and sign",
        paragraph(
            "A closed record is never edited. What comes later is added beside it."
        ),
        field.control,
        number_pad(pressed, has_point=False),
        button(
            "close-sign",
            "Sign and close",
            pin.sign,
            kind="main",
            icon=ft.Icons.LOCK_OUTLINE,
            size="exam",
        ),
        quiet(
            f"Somebody else closes it? Change the examiner at the top first. "
            f"Now: {pin.person.name}."
        ),
    )
