"""Ask for the PIN of the person at the screen before something is signed by name."""

from collections.abc import Awaitable, Callable

import flet as ft

from exam_app.domain.exam.people import Role
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.errors import PinLockedError
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import Field, text_field
from exam_app.ui.widgets.texts import quiet, stack

_ROLES = {
    Role.VETERINARIAN: to_translate("veterinarian"),
    Role.TECHNICIAN: to_translate("technician"),
    Role.VOLUNTEER: to_translate("volunteer"),
}


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
        safe: str = "",
        *,
        autofocus: bool = False,
    ) -> None:
        """Make the field; place ``field.control`` on a screen.

        Args:
            signed: Awaited once the PIN fits; it may raise.
            safe: What a wrong PIN left as it was, as a sentence; that nothing was
                changed, without one.
        """
        self._tab, self._signed = tab, signed
        self._safe = safe or tr("Nothing was changed.")
        self.person = tab.person
        self.field: Field = text_field(
            identifier,
            tr("PIN of {name}", name=self.person.name),
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
        field.show_problem(
            tr("This PIN does not fit. {safe} Try again.", safe=self._safe)
        )


def pin_part(
    tab: Tab,
    label: str,
    signed: Callable[[], Awaitable[None]],
    *,
    autofocus: bool = False,
) -> ft.Control:
    """Draw the PIN field and the button that signs; ``signed`` may raise."""
    pin = Pin(tab, "clinic-pin", signed, tr("Nothing was signed."), autofocus=autofocus)
    icon = ft.Icons.DRAW_OUTLINED
    return stack(
        pin.field.control,
        button("clinic-note-save", label, pin.sign, kind="main", icon=icon),
        quiet(
            tr(
                "Signed by this computer in the name of {name}, {role}. Somebody else? "
                "Change the person at the top first.",
                name=pin.person.name,
                role=tr(_ROLES[pin.person.role]),
            )
        ),
    )
