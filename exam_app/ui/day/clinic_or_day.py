"""The first screen after unlocking, by what this computer is."""

from exam_app.app.queries.clinic_records import is_clinic
from exam_app.ui.clinic import home as clinic_home
from exam_app.ui.day import day
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen


async def build(tab: Tab) -> Screen:
    """Build the clinic's overview, or a field device's day."""
    if is_clinic(tab.vault):
        return await clinic_home.build(tab)
    return await day.build(tab)
