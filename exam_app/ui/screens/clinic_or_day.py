"""The first screen after unlocking, by what this computer is."""

from typing import TYPE_CHECKING

from exam_app.ui.clinic_shelf import is_clinic
from exam_app.ui.screen import Screen
from exam_app.ui.screens import clinic_home, day

if TYPE_CHECKING:
    from exam_app.ui.tab import Tab


async def build(tab: "Tab") -> Screen:
    """Build the clinic's overview, or a field device's day."""
    if is_clinic(tab.vault):
        return await clinic_home.build(tab)
    return await day.build(tab)
