"""Decide what has to be given before a screen is shown, and draw it.

In this order: nothing set up yet, the set-up; sealed, the passphrase; open in
another tab, the passphrase; resting, or left by a tab that is gone, the PIN.
"""

import flet as ft

from exam_app.app.session import LockState
from exam_app.ui.settings import people
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.shell.screen import Screen
from exam_app.ui.start import set_up
from exam_app.ui.start.unlock import PinLock, Unlock


def is_admitted(tab: Tab) -> bool:
    """Whether this tab may show exams now; a session nobody holds becomes its own."""
    session = tab.session
    if session.holder not in (None, tab.key) and session.is_holder_gone:
        session.rest()
    if session.state is not LockState.OPEN:
        return False
    if session.holder is None:
        session.take(tab.key, tab, tab.lose_session)
    return session.holder == tab.key


async def first_screen(tab: Tab) -> Screen:
    """Build the set-up."""
    return await set_up.build(tab)


def cover(tab: Tab) -> ft.Control:
    """Draw what asks for the passphrase or the PIN."""
    session = tab.session
    if session.state is LockState.RESTING and (
        session.holder in (None, tab.key) or session.is_holder_gone
    ):
        return PinLock(tab).control
    return Unlock(tab).control


def open_examiner(tab: Tab) -> None:
    """Offer the known people, the lock and the settings."""
    people.open_sheet(tab)
