"""Everything that one store keeps, by kind, and what several of them do in one save."""

from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from threading import RLock
from typing import Any, TypeVar

from exam_app.store.engine.format import FrameKeys
from exam_app.store.engine.picture_files import PictureFiles
from exam_app.store.engine.storage import SealedStorage
from exam_app.store.engine.tables import SealedTables
from exam_app.store.repositories.animals import Animals
from exam_app.store.repositories.drafts import Drafts, TypedWords
from exam_app.store.repositories.exams import (
    ClosedExams,
    Notes,
    OwnerBlocks,
    PrivateBlocks,
)
from exam_app.store.repositories.people import People
from exam_app.store.repositories.photographs import Photographs
from exam_app.store.repositories.reports import BackupsMade, LossReports
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.repositories.settings import Protocols, Settings

T = TypeVar("T")


class Repositories:
    """What a store keeps, whatever its storage stands on.

    Attributes:
        animals: Animals of this device.
        people: People of this device and their PINs.
        drafts: Exams that are not closed.
        closed: Signed exams.
        notes: Signed notes.
        settings: Values of this device.
        protocols: Every protocol version ever used.
        owners: Owner data beside the signed records.
        privates: Private notes beside the signed records.
        losses: What was found lost, until a person has read it.
        backups: When and where backups of this store were made.
        typed: What was typed in forms and not saved yet.
        photographs: The pictures that exams name.
        tables: The tables themselves, for what stands above the store.
        turn: Held by whoever imports or erases, from the first look to the save.
        is_demo: Whether everything here is invented and thrown away.
    """

    turn: AbstractContextManager[Any]

    def __init__(
        self,
        storage: SealedStorage,
        pictures: PictureFiles,
        picture_keys: Callable[[], FrameKeys],
        forget: Callable[[], None],
    ) -> None:
        """Open every repository over one storage.

        Args:
            storage: Of all tables.
            pictures: Where sealed pictures lie.
            picture_keys: Gives the store's keys as they are now.
            forget: Leaves nothing of what was removed.
        """
        self._storage = storage
        self.tables = tables = SealedTables(storage=lambda: storage)
        self.turn = RLock()
        self.is_demo = False
        self.animals = Animals(tables)
        self.people = People(tables)
        self.drafts = Drafts(tables)
        self.closed = ClosedExams(tables)
        self.notes = Notes(tables)
        self.settings = Settings(tables)
        self.protocols = Protocols(tables)
        self.owners = OwnerBlocks(tables, forget)
        self.privates = PrivateBlocks(tables)
        self.losses = LossReports(tables)
        self.backups = BackupsMade(tables)
        self.typed = TypedWords(tables)
        self.photographs = Photographs(tables, pictures, picture_keys)

    def transaction(self) -> AbstractContextManager[None]:
        """Gather several puts into one save; an exception inside undoes them all."""
        return self._storage.transaction()

    def attempt(self, action: Callable[[], T]) -> T:
        """Run what looks first and saves then, alone from the look to the save.

        Where others save into the same store the action may run more than once.
        """
        with self.turn:
            return action()

    def begin_reading(self, exam_id: str, name: str) -> None:
        """Say who has a record open here; nobody else asks for it in a folder."""

    def read_elsewhere(self, exam_id: str) -> tuple[str, ...]:
        """Give who has a record open at other stations; a folder has none."""
        del exam_id
        return ()

    def keep_for_later(self, waiting: list[bytes]) -> None:
        """Move hand-overs elsewhere while what is kept here cannot be reached.

        A folder is here or is not: then they stay in the list.
        """

    def close_exam(
        self,
        shown: ClosedExam,
        signed: bytes,
        owner_block: tuple[bytes, Mapping[str, Any]] | None = None,
        private: tuple[str, bytes, bytes] | None = None,
    ) -> None:
        """Turn a draft into a closed exam in one save: both or neither.

        Args:
            shown: What lists show of it; a revision is kept beside what it revises.
            signed: The signed bytes.
            owner_block: Salt and owner data beside the record, if there are any.
            private: Hash of the record, salt and block of the private notes beside
                it, if there are any.

        Raises:
            ClosedRecordChangedError: Different bytes are kept under this id.
            VaultError: The save failed; the draft is still there.
        """
        with self.transaction():
            self.closed.put(shown, signed)
            if owner_block is not None:
                self.owners.put(shown.exam_id, *owner_block)
            if private is not None:
                self.privates.put(shown.exam_id, *private)
            self.drafts.remove(shown.exam_id)
            self.typed.remove_of(shown.exam_id)
