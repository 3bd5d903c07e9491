"""The short lock: a PIN, and the screen that was there comes back."""

from typing import Any

import flet as ft

from exam_app.app.session import DEMO_PIN
from exam_app.store.errors import PinLockedError
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.start.unlock import lock_column
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.texts import paragraph, side_by_side


class PinLock:
    """The cover that asks for a PIN: whose, and what is typed."""

    def __init__(self, tab: Tab) -> None:
        """Ask; place ``control`` over the screen."""
        self._tab, vault = tab, tab.vault
        self._person: dict[str, Any] = tab.person
        kept = "The open exam is kept just as it is."
        demo = f"Demonstration: the PIN is {DEMO_PIN}."
        self._pin = text_field(
            "lock-pin",
            f"PIN of {self._person['name']}",
            secret=True,
            keyboard=ft.KeyboardType.NUMBER,
            autofocus=True,
            on_submit=self._open,
        )
        people = [p for p in vault.people.all() if vault.people.has_pin(p["person_id"])]
        choice = ChoiceRow(
            "lock-person",
            [(person["person_id"], person["name"]) for person in people],
            self._choose,
            chosen=self._person["person_id"],
            size="usual",
        )
        phone = vault.settings.get("clinic_phone", "")
        self.control = lock_column(
            "Locked",
            paragraph(demo if tab.session.is_demo else kept),
            choice.control,
            self._pin.control,
            side_by_side(
                button(
                    "lock-open",
                    "Open",
                    self._open,
                    icon=ft.Icons.LOCK_OPEN,
                    kind="main",
                ),
                button(
                    "lock-passphrase", "Use the passphrase", self._seal, kind="quiet"
                ),
            ),
            paragraph(f"Clinic's number: {phone}") if phone else ft.Container(),
        )

    async def _open(self) -> None:
        person_id = self._person["person_id"]
        try:
            fits = await self._tab.session.open_with_pin(person_id, self._pin.value)
        except PinLockedError as error:
            self._tab.cover()
            self._tab.refuse(error)
            return
        if fits:
            await self._tab.uncover()
        else:
            self._pin.clear()
            self._pin.show_problem("This PIN does not fit. Try again.")
            await self._pin.entry.focus()  # type: ignore[no-untyped-call]

    async def _choose(self, person_id: str) -> None:
        self._person = self._tab.vault.people.get(person_id) or self._person
        self._pin.entry.label = f"PIN of {self._person['name']}"
        self._pin.entry.error = None
        self._pin.clear()

    def _seal(self) -> None:
        self._tab.session.seal()
        self._tab.cover()
