"""An export that goes on while other screens are shown, and what came of the last one.

It belongs to the open store and not to a tab. Others examine and save meanwhile: it
takes its turn record by record. It ends where the store is closed; what is written
stays, and the next one goes on with it.
"""

import asyncio
from dataclasses import dataclass, field
from pathlib import Path
from typing import ClassVar
from weakref import WeakKeyDictionary

from exam_app.app.exam_sessions import now
from exam_app.app.maintenance.store_steps import UNFORESEEN
from exam_app.app.session import Session
from exam_app.domain.errors import ExamError
from exam_app.domain.wording.visible_text import visible
from exam_app.store.vault.vault import Vault
from exam_app.whole_export.contents import (
    FIRST_LINE,
    README,
    UNFINISHED,
    Exported,
    Wanted,
    exported_lines,
)
from exam_app.whole_export.exporting import Pace, export_all

LAST_FOLDER = "export_folder"
STOPPED = (
    "Stopped. What is written stays. Export into the same folder again to go on: what "
    "is finished is not written again."
)
LOCKED = (
    "The exams were locked, and the export ended there. What is written stays. Export "
    "into the same folder again to go on."
)


class ExportPlaceError(ExamError):
    """An export cannot go where the person wrote."""

    advice: ClassVar[str] = (
        "An export cannot be written there. Nothing was written. Write a folder on "
        "another disk, from its beginning."
    )

    def __init__(self, advice: str) -> None:
        """Say what is wrong with this place, and what next."""
        super().__init__("no place for an export")
        self.advice = advice  # type: ignore[misc]


class ExportUnderWayError(ExamError):
    """A second export was asked for while one is under way."""

    advice: ClassVar[str] = (
        "An export is under way. Nothing was begun. Wait until it has ended, or stop "
        "it, then begin this one."
    )


@dataclass(slots=True)
class Running:
    """An export under way, or what came of it.

    Attributes:
        found: How far it has come.
        is_running: Whether it has not ended.
        is_good: Whether it ended with everything in the folder.
        lines: What the person is told at its end.
    """

    folder: Path
    found: Exported = field(default_factory=Exported)
    is_running: bool = True
    is_good: bool = False
    is_stopping: bool = False
    lines: tuple[str, ...] = ()

    def stop(self) -> None:
        """Let it end after the record in hand."""
        self.is_stopping = True

    def note(self, found: Exported) -> None:
        """Keep how far it has come."""
        self.found = found


_last: WeakKeyDictionary[Vault, Running] = WeakKeyDictionary()
_tasks: set[asyncio.Task[None]] = set()


def running_in(vault: Vault) -> Running | None:
    """Return the export under way, or the last one since the store was opened."""
    return _last.get(vault)


def export_place(typed: str, own_folder: Path) -> Path:
    """Return the folder that an export goes into.

    Args:
        typed: A folder, from its beginning; the last part of it may be new.
        own_folder: Where the exams themselves lie.

    Raises:
        ExportPlaceError: It is no place for an export; its advice says why.
    """
    if not typed.strip():
        raise ExportPlaceError("Write where the export goes. Nothing was written yet.")
    path = Path(typed.strip()).expanduser()
    if not path.is_absolute():
        raise ExportPlaceError(
            "Write the folder from its beginning, as the system shows it. "
            "Nothing was written."
        )
    if not path.parent.is_dir():
        raise ExportPlaceError(
            "There is no such folder now. Nothing was written. "
            "Connect the disk, or write another folder."
        )
    own = own_folder.resolve()
    if path.resolve().is_relative_to(own) or own.is_relative_to(path.resolve()):
        raise ExportPlaceError(
            "The exams themselves lie there, and nothing of an export is sealed. "
            "Nothing was written. Write another folder."
        )
    return path


def is_unfinished(folder: Path) -> bool:
    """Whether an export in this folder was begun and has not ended."""
    try:
        first = (folder / README).open("rb")
        with first:
            is_one = first.read(len(FIRST_LINE)) == FIRST_LINE.encode()
        return is_one and (folder / UNFINISHED).is_file()
    except OSError:
        return False


def begin_export(session: Session, folder: Path, wanted: Wanted) -> Running:
    """Start an export, or go on with one; it goes on when its screen is left.

    Raises:
        ExportUnderWayError: One is under way.
    """
    vault = session.vault
    last = _last.get(vault)
    if last is not None and last.is_running:
        raise ExportUnderWayError("an export is under way")
    run = _last[vault] = Running(folder)
    task = asyncio.get_running_loop().create_task(
        _carry_out(session, vault, run, wanted)
    )
    _tasks.add(task)
    task.add_done_callback(_tasks.discard)
    return run


async def _carry_out(
    session: Session, vault: Vault, run: Running, wanted: Wanted
) -> None:
    def is_stopped() -> bool:
        return run.is_stopping or not session.holds(vault)

    pace = Pace(session.write, asyncio.to_thread, is_stopped)
    try:
        await session.write(lambda: vault.settings.put(LAST_FOLDER, str(run.folder)))
        found = await export_all(vault, run.folder, now(), wanted, run.note, pace)
        run.found, run.is_good = found, found.is_whole
        told = exported_lines(found, visible(str(run.folder)))
        run.lines = (STOPPED,) if found.is_stopped else told
    except ExamError as error:
        run.lines = (error.advice,)
    except Exception:
        run.lines = (UNFORESEEN,)
    finally:
        if not session.holds(vault) and not run.is_good:
            run.lines = (LOCKED,)
        run.is_running = False
