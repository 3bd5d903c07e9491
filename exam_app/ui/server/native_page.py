"""Start the app inside a native package: no server, one page, the app's own folder.

The system gives every app a folder that no other app reads; Flet names it in an
environment variable. The vault's files and its lock are the ones of a computer.
"""

import asyncio
import os
from collections.abc import Awaitable, Callable, Mapping
from pathlib import Path
from typing import ClassVar

import flet as ft

from exam_app.app.session import Session
from exam_app.crypto import door
from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import to_translate
from exam_app.store.engine.files import FolderLock
from exam_app.ui.server.phone_page import FOLDER_NAME, page_of

STORAGE = "FLET_APP_STORAGE_DATA"
# A package brings a library of its own, built elsewhere: it is tried before anybody
# thinks of a passphrase.
CHEAPEST = door.KeyDerivation(memory_kib=8, passes=1, lanes=1)


class NoAppFolderError(ExamError):
    """The system gave the app no folder of its own, or one that cannot be written."""

    advice: ClassVar[str] = to_translate(
        "This device does not let the app keep exams. Nothing was changed. "
        "Free some space, restart the device and open the app again; if that does "
        "not help, install the app again only once every exam was handed over."
    )


def start() -> None:
    """Give the page to Flet; called by the package's first file."""
    ft.run(native_main(os.environ))


def native_main(given: Mapping[str, str]) -> Callable[[ft.Page], Awaitable[None]]:
    """Make the function that Flet calls for the page, again after a reconnection.

    Args:
        given: The environment, which names the app's own folder.
    """
    sessions: list[Session] = []

    async def open_session() -> Session:
        if not sessions:
            await door.derive_key(b"", bytes(16), CHEAPEST)
            folder = await asyncio.to_thread(own_folder, given)
            sessions.append(Session(folder))
        return sessions[0]

    return page_of(open_session)


def own_folder(given: Mapping[str, str]) -> Path:
    """Make the folder of the exams, and see that it can be locked and written.

    Raises:
        NoAppFolderError: There is none, or the system refused.
        VaultInUseError: Another copy of the app has it.
    """
    if not given.get(STORAGE):
        raise NoAppFolderError(f"{STORAGE} names no folder")
    folder = Path(given[STORAGE]) / FOLDER_NAME
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        FolderLock(folder).release()
    except OSError as error:
        raise NoAppFolderError(str(folder)) from error
    return folder
