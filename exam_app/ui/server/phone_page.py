"""Start the app where Python itself runs in the browser: no server, no second tab.

The vault's files lie in the browser's private storage. They are opened, and so
locked, before anything is shown; where that is refused the page says why and holds
nothing else.
"""

from collections.abc import Awaitable, Callable
from pathlib import Path

import flet as ft

from exam_app.app.language_choice import show_in, system_language
from exam_app.app.session import Session
from exam_app.crypto.errors import CryptoError
from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import tr
from exam_app.store.engine.browser_files import BrowserFolder, open_browser_folder
from exam_app.ui.shell.app import app_main
from exam_app.ui.shell.theme import ColourMode, TextSize, build_theme
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.texts import heading, paragraph, stack

FOLDER_NAME = "exams"

OpenFolder = Callable[[str], Awaitable[BrowserFolder]]
OpenSession = Callable[[], Awaitable[Session]]


def start() -> None:
    """Give the page to Flet; called by the archive's first module."""
    ft.run(phone_main(open_browser_folder))


def phone_main(open_folder: OpenFolder) -> Callable[[ft.Page], Awaitable[None]]:
    """Make the function that Flet calls for the one page."""

    async def open_session() -> Session:
        folder = await open_folder(FOLDER_NAME)
        # In memory: the lock file of the system's folders lies there and means nothing.
        place = Path("/") / FOLDER_NAME
        place.mkdir(exist_ok=True)
        return Session(place, opener=folder)

    return page_of(open_session)


def page_of(open_session: OpenSession) -> Callable[[ft.Page], Awaitable[None]]:
    """Make the function that Flet calls where the app runs beside its page.

    Args:
        open_session: Locks the exams; what it refuses is said, with a way to try again.
    """

    async def main(page: ft.Page) -> None:
        show_in(system_language())
        page.title = tr("Exam")

        async def again() -> None:
            page.controls.clear()
            await main(page)

        try:
            session = await open_session()
        except (ExamError, CryptoError) as error:
            _show_refused(page, error, again)
            return
        await app_main(session)(page)

    return main


def _show_refused(
    page: ft.Page, error: ExamError | CryptoError, again: Callable[[], Awaitable[None]]
) -> None:
    """Say why the exams were not opened, with a button to try again."""
    page.theme = page.dark_theme = build_theme(ColourMode.LIGHT, TextSize.NORMAL)
    page.theme_mode = ft.ThemeMode.LIGHT
    page.padding = 16
    said = identified(
        "refusal",
        stack(
            heading(tr("The exams were not opened")),
            paragraph(tr(error.advice)),
            button("refusal-close", tr("Try again"), again, kind="main"),
        ),
        live=True,
    )
    page.add(ft.SafeArea(said))
