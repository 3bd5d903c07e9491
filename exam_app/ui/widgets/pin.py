"""Ask for the PIN of the person at the screen before something is signed by name."""

from collections.abc import Awaitable, Callable

import flet as ft

from exam_app.store.errors import PinLockedError
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.texts import quiet, stack


class Pin:
    """The field of one PIN, and what is signed with it.

    Attributes:
        person: Whose PIN was asked for last.
    """

    def __init__(
        self,
        tab: Tab,
        identifier: str,
        signed: Callable[[], Awaitable[None]],
        safe: str = "Nothing was changed.",
        *,
        autofocus: bool = False,
    ) -> None:
        """Make the field; place ``field.control`` on a screen.

        Args:
            signed: Awaited once the PIN fits; it may raise.
            safe: What a wrong PIN left as it was, as a sentence.
        """
        self._tab, self._signed, self._safe = tab, signed, safe
        self.person = tab.person
        self.field: Field = text_field(
            identifier,
            f"PIN of {self.person.name}",
            secret=True,
            keyboard=ft.KeyboardType.NUMBER,
            autofocus=autofocus,
            on_submit=self.sign,
        )

    async def sign(self) -> None:
        """Go on if the PIN fits; a wrong one is said below its field.

        Raises:
            PinLockedError: The fifth wrong one: the exams are sealed and covered.
        """
        tab, field = self._tab, self.field
        self.person, typed = tab.person, field.typed
        try:
            fits = await tab.session.write(
                lambda: tab.vault.people.check_pin(self.person.person_id, typed)
            )
        except PinLockedError:
            tab.close_sheet()
            tab.session.seal()
            tab.cover()
            raise
        if fits:
            await self._signed()
            return
        field.clear()
        field.show_problem(f"This PIN does not fit. {self._safe} Try again.")


def pin_part(
    tab: Tab,
    label: str,
    signed: Callable[[], Awaitable[None]],
    *,
    autofocus: bool = False,
) -> ft.Control:
    """Draw the PIN field and the button that signs; ``signed`` may raise."""
    pin = Pin(tab, "clinic-pin", signed, "Nothing was signed.", autofocus=autofocus)
    icon = ft.Icons.DRAW_OUTLINED
    return stack(
        pin.field.control,
        button("clinic-note-save", label, pin.sign, kind="main", icon=icon),
        quiet(
            f"Signed by this computer in the name of {pin.person.name}, "
            f"{pin.person.role.value}. Somebody else? Change the person at the top "
            "first."
        ),
    )
