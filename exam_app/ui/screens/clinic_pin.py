"""Ask for the PIN of the person at the screen before something is signed by name."""

from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING

import flet as ft

from exam_app.store.errors import PinLockedError
from exam_app.ui.exam_room import person_now
from exam_app.ui.identifiers import CLINIC_NOTE_SAVE, CLINIC_PIN
from exam_app.ui.parts.buttons import main_button
from exam_app.ui.parts.fields import Field, text_field
from exam_app.ui.parts.texts import quiet, stack

if TYPE_CHECKING:
    from exam_app.ui.tab import Tab


def pin_part(
    tab: "Tab", label: str, signed: Callable[[], Awaitable[None]]
) -> ft.Control:
    """Draw the PIN field and the button that signs.

    Args:
        label: Of the button.
        signed: Awaited once the PIN fits; it may raise.
    """
    person = person_now(tab)

    async def sign() -> None:
        if await _fits(tab, pin):
            await signed()

    pin = text_field(
        CLINIC_PIN,
        f"PIN of {person.name}",
        secret=True,
        keyboard=ft.KeyboardType.NUMBER,
        on_submit=sign,
    )
    return stack(
        pin.control,
        main_button(CLINIC_NOTE_SAVE, label, sign, icon=ft.Icons.DRAW_OUTLINED),
        quiet(
            f"Signed by this computer in the name of {person.name}, "
            f"{person.role.value}. Somebody else? Change the person at the top first."
        ),
    )


async def _fits(tab: "Tab", pin: Field) -> bool:
    person, vault, typed = person_now(tab), tab.vault, pin.typed
    try:
        fits = await tab.desk.write(
            lambda: vault.people.check_pin(person.person_id, typed)
        )
    except PinLockedError:
        tab.close_sheet()
        tab.desk.seal()
        tab.cover()
        raise
    if not fits:
        pin.clear()
        pin.show_problem("This PIN does not fit. Nothing was signed. Try again.")
    return fits
