"""The clinic's place in the settings of a field device."""

import flet as ft

from exam_app.app.handover import pairing_device as pairing
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.texts import paragraph, section, side_by_side


def clinic_section(tab: Tab) -> list[ft.Control]:
    """Say in the settings which clinic this field device is paired with."""

    async def pair() -> None:
        await tab.go("/pair")

    if tab.vault.settings.get("role", "field") != "field":
        return []
    words = pairing.clinic_words(tab.vault)
    said = f"Exams are sealed to {words}." if words else "Not paired with a clinic yet."
    label = "Pair with another clinic" if words else "Pair with a clinic"
    action = button("pair-open", label, pair, icon=ft.Icons.LINK)
    return [section("The clinic", paragraph(said), side_by_side(action))]
