"""Closing: the closer's PIN, then the signature; a wrong PIN changes nothing."""

import flet as ft

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.exam_sessions import person_now
from exam_app.app.signing import close_and_keep
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.pin_check import pin_fits
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.number_pad import ERASE, number_pad
from exam_app.ui.widgets.texts import paragraph, quiet


def open_close(tab: Tab, editor: ExamEditor) -> None:
    """Ask for the PIN of the person who examines now."""
    person = person_now(tab.session)

    async def sign() -> None:
        await _sign(tab, editor, pin)

    pin = text_field(
        "close-pin",
        f"PIN of {person.name}",
        secret=True,
        keyboard=ft.KeyboardType.NUMBER,
        autofocus=tab.is_wide,
        on_submit=sign,
    )

    async def pressed(key: str) -> None:
        # A problem said below the field stays until the next PIN: taking it away at
        # the first digit would move the keys before the second.
        pin.entry.value = pin.typed[:-1] if key == ERASE else pin.typed + key
        pin.entry.update()

    tab.open_sheet(
        "Close and sign",
        paragraph(
            "A closed record is never edited. What comes later is added beside it."
        ),
        pin.control,
        number_pad(pressed, has_point=False),
        button(
            "close-sign",
            "Sign and close",
            sign,
            icon=ft.Icons.LOCK_OUTLINE,
            kind="main",
            size="exam",
        ),
        quiet(
            f"Somebody else closes it? Change the examiner at the top first. "
            f"Now: {person.name}."
        ),
    )


async def _sign(tab: Tab, editor: ExamEditor, pin: Field) -> None:
    person = person_now(tab.session)
    if not await pin_fits(tab, pin):
        return
    await close_and_keep(tab.session, editor, person)
    tab.close_sheet()
    await tab.go(f"/record/{editor.exam.exam_id}")
