"""The folder between device and clinic: a stick, a shared or a syncing folder.

A phone's browser has no such folder; there files are opened and saved only.
"""

from collections.abc import Sequence
from pathlib import Path

import flet as ft

from exam_app.app.handover import outbox
from exam_app.app.handover.arrivals import (
    FOLDER,
    arrival_words,
    keep_arrived,
    look,
    put_bundles,
)
from exam_app.app.handover.outbox import OutgoingBundle
from exam_app.ui.shell.page_controller import Tab
from exam_app.ui.widgets.buttons import button
from exam_app.ui.widgets.fields import text_field
from exam_app.ui.widgets.files import pick_files, reaches_folders
from exam_app.ui.widgets.identifiers import identified
from exam_app.ui.widgets.texts import quiet, section, side_by_side, stack

_HINT = (
    "As the system writes it. The clinic's computer needs the same folder, or the "
    "same stick."
)


async def put_into_folder(tab: Tab, bundles: tuple[OutgoingBundle, ...]) -> None:
    """Write bundles into the folder, or say that none is chosen."""
    root = tab.vault.settings.get(FOLDER, "")
    if not root:
        tab.tell("Choose the folder below first; then put the hand-over into it.")
        return
    numbers = [bundle.sequence for bundle in bundles]
    whole = await tab.session.read(lambda: outbox.to_show(tab.vault, numbers))
    await tab.session.write(lambda: put_bundles(tab.vault, Path(root), whole))
    await outbox.mark_shown(tab.session, whole)
    await tab.redraw()
    tab.tell("Written into the folder. The clinic's receipt comes back the same way.")


def folder_section(tab: Tab, ways: Sequence[ft.Control] = ()) -> ft.Control:
    """Choose the folder, and look for what the clinic put there.

    On a phone's browser: only open files, and save them.

    Args:
        tab: Where it is shown.
        ways: Buttons that put there what waits.
    """
    if not reaches_folders(tab):
        ways = [*ways, _open_files(tab)]
        return section("Files", side_by_side(*ways), _said(tab))
    path = text_field(
        "hand-folder-path",
        "Folder",
        value=tab.vault.settings.get(FOLDER, ""),
        hint=_HINT,
    )

    async def choose() -> None:
        vault, typed = tab.vault, path.value
        if typed and not Path(typed).is_dir():
            path.show_problem("There is no such folder now.")
            return
        path.show_problem(None)
        await tab.save(lambda: vault.settings.put(FOLDER, typed))
        tab.tell("The folder was kept." if typed else "No folder is used any more.")

    async def search() -> None:
        if not tab.vault.settings.get(FOLDER, ""):
            path.show_problem("Write the folder first, and use it.")
            return
        await tab.save(lambda: _look(tab))
        await tab.redraw()

    return section(
        "Folder and files",
        path.control,
        side_by_side(button("hand-folder-save", "Use this folder", choose), *ways),
        side_by_side(
            button(
                "hand-folder-look",
                "Look for what the clinic sent",
                search,
                icon=ft.Icons.SYNC,
                kind="main",
            ),
            _open_files(tab),
        ),
        _said(tab),
    )


def _open_files(tab: Tab) -> ft.Control:
    async def opened() -> None:
        chosen = await pick_files(tab, several=True)
        contents = [content for _, content in chosen]
        if contents:
            await tab.save(
                lambda: keep_arrived(tab.vault, contents, is_demo=tab.session.is_demo)
            )
            await tab.redraw()

    label = "Open files from the clinic"
    return button("hand-open", label, opened, icon=ft.Icons.FOLDER)


def _said(tab: Tab) -> ft.Control:
    said = [quiet(line) for line in arrival_words(tab.vault)]
    return identified("hand-folder-said", stack(*said), live=True)


def _look(tab: Tab) -> None:
    root = Path(tab.vault.settings.get(FOLDER, ""))
    look(tab.vault, root, is_demo=tab.session.is_demo)
