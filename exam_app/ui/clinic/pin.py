"""Ask for the PIN of the person at the screen before something is signed by name."""

from collections.abc import Awaitable, Callable

import flet as ft

from exam_app.app.exam_sessions import person_now
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.pin_check import pin_fits
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.texts import quiet, stack


def pin_part(tab: Tab, label: str, signed: Callable[[], Awaitable[None]]) -> ft.Control:
    """Draw the PIN field and the button that signs.

    Args:
        label: Of the button.
        signed: Awaited once the PIN fits; it may raise.
    """
    person = person_now(tab.session)

    async def sign() -> None:
        if await pin_fits(tab, pin, "Nothing was signed."):
            await signed()

    pin = text_field(
        "clinic-pin",
        f"PIN of {person.name}",
        secret=True,
        keyboard=ft.KeyboardType.NUMBER,
        on_submit=sign,
    )
    return stack(
        pin.control,
        button(
            "clinic-note-save", label, sign, icon=ft.Icons.DRAW_OUTLINED, kind="main"
        ),
        quiet(
            f"Signed by this computer in the name of {person.name}, "
            f"{person.role.value}. Somebody else? Change the person at the top first."
        ),
    )
