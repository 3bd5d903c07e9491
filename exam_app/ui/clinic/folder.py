"""The folder or stick that hand-overs come through, looked into or watched."""

import asyncio
from collections.abc import Callable

import flet as ft

from exam_app.app.clinic.imports import (
    FOLDER,
    Answered,
    folder_of,
    look_into_folder,
    session_of,
)
from exam_app.app.exam_sessions import now
from exam_app.app.session import LockState
from exam_app.domain.errors import ExamError
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.choices import ChoiceRow
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.files import reaches_folders
from exam_app.ui.widgets.identifiers import for_choice, identified
from exam_app.ui.widgets.notices import Tone, banner
from exam_app.ui.widgets.slot import Slot, is_on_page
from exam_app.ui.widgets.texts import paragraph, section, side_by_side
from sync.transport.folder_reading import Look

Show = Callable[[tuple[Answered, ...]], None]
WATCH = "clinic_folder_watch"
_EVERY_SECONDS = 5.0
_CHOICES = (("no", "Only when asked"), ("yes", "Watch it while this screen is open"))
_WHAT = (
    "A stick, a shared folder, or one that a syncing tool keeps alike. Receipts and "
    "day packs are put there too, for each device in a place of its own."
)


def folder_part(tab: Tab, show: Show) -> list[ft.Control]:
    """Draw the folder's path, the look into it, and what waits there.

    Empty on a phone's browser, which has no folder that lasts.
    """
    if not reaches_folders(tab):
        return []
    folder = _Folder(tab, show)
    drawn = section(
        "Folder or stick",
        paragraph(_WHAT),
        folder.path.control,
        side_by_side(button("clinic-folder-look", "Look into it", folder.look)),
        folder.watch.control,
        folder.told.control,
    )
    return [drawn]


class _Folder:
    """The folder as this screen uses it."""

    def __init__(self, tab: Tab, show: Show) -> None:
        self.tab, self.show = tab, show
        self.problem = ""
        self.is_watching = False
        self.path = text_field(
            "clinic-folder",
            "Folder on this computer",
            value=folder_of(tab.vault),
            hint="Its whole path, as your file window shows it.",
        )
        is_watched = bool(tab.vault.settings.get(WATCH, default=False))
        self.watch = ChoiceRow(
            "clinic-folder-watch",
            _CHOICES,
            self.choose_watch,
            chosen="yes" if is_watched else "no",
            size="usual",
        )
        self.told = Slot(self._draw)
        if is_watched and folder_of(tab.vault):
            tab.start(self._go_on_watching())

    async def look(self) -> None:
        """Keep the path and look into the folder once."""
        vault, path = self.tab.vault, self.path.value
        if not path:
            self.path.show_problem("Write the folder's path.")
            return
        self.path.show_problem(None)
        if path != folder_of(vault):
            await self.tab.save(lambda: vault.settings.put(FOLDER, path))
        await self._look()

    async def choose_watch(self, key: str) -> None:
        """Keep whether the folder is watched, and begin."""
        vault = self.tab.vault
        await self.tab.save(lambda: vault.settings.put(WATCH, key == "yes"))
        if key == "yes" and folder_of(vault):
            self.tab.start(self._go_on_watching())

    async def _go_on_watching(self) -> None:
        if self.is_watching:
            return
        self.is_watching = True
        await asyncio.sleep(_EVERY_SECONDS)
        while is_on_page(self.told.control) and self.watch.chosen == "yes":
            # A folder that went away is said, and asked again later.
            if self.tab.session.state is LockState.OPEN:
                await self._look()
            await asyncio.sleep(_EVERY_SECONDS)
        self.is_watching = False

    async def _look(self) -> None:
        vault, is_demo = self.tab.vault, self.tab.session.is_demo
        self.problem = ""
        try:
            answered = await self.tab.session.write(
                lambda: look_into_folder(vault, now(), is_demo=is_demo)
            )
        except ExamError as error:
            self.problem, answered = error.advice, ()
        self.show(answered)
        self.told.refresh()

    def _draw(self) -> ft.Control:
        if self.problem:
            name = for_choice("clinic-folder", "problem")
            return banner(name, self.problem, Tone.NOTICE)
        look = session_of(self.tab.vault).look
        if look is None:
            return ft.Container()
        box = ft.Column([paragraph(line) for line in look_lines(look)], tight=True)
        return identified(for_choice("clinic-folder", "told"), box)


def look_lines(look: Look) -> tuple[str, ...]:
    """Say what a look into the folder found."""
    count = len(look.ready)
    found = "Nothing new." if not count else f"{count} new: see above."
    waiting = [
        f"{one.name}: {one.reason.value}"
        + (". It has been so for a while: look at it." if one.is_overdue else "")
        for one in look.waiting
    ]
    more = [] if look.is_all else ["There is more; look again."]
    return (f"Looked at {now().clock()}. {found}", *waiting, *more)
