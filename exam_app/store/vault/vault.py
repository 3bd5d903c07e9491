"""One open vault: its repositories, its keys, and closing an exam in one save."""

import contextlib
from collections.abc import Mapping
from contextlib import AbstractContextManager
from threading import RLock
from typing import Any

from exam_app.crypto.door import DerivationBounds, KeyDerivation
from exam_app.domain.moments import Moment
from exam_app.store.engine.head import HeadPage, open_with_either, replace_slots
from exam_app.store.engine.keys import (
    KeySlot,
    SlotKind,
    new_code,
    secret_bytes,
    wrap_key,
)
from exam_app.store.engine.rewrite import (
    VaultFiles,
    write_closing_mark,
    write_mark,
)
from exam_app.store.engine.storage import SealedStorage
from exam_app.store.engine.tables import SealedTables
from exam_app.store.errors import VaultError
from exam_app.store.repositories.animals import Animals
from exam_app.store.repositories.care import BackupsMade, LossReports
from exam_app.store.repositories.drafts import Drafts, TypedWords
from exam_app.store.repositories.exams import (
    ClosedExams,
    Notes,
    OwnerBlocks,
    PrivateBlocks,
)
from exam_app.store.repositories.people import People
from exam_app.store.repositories.settings import Protocols, Settings
from exam_app.store.vault.upkeep import Upkeep


class Vault(Upkeep):
    """An open vault; made by ``create_vault`` and ``open_vault`` only.

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
        tables: The tables themselves, for what stands above the store.
        turn: Held by whoever imports or erases, from the first look to the save.
    """

    def __init__(
        self,
        storage: SealedStorage,
        files: VaultFiles,
        bounds: DerivationBounds,
        repairs: str | None,
    ) -> None:
        """Take over opened parts; ``close`` releases them.

        Args:
            storage: The state.
            files: The open files and their lock.
            bounds: What key slots may ask for.
            repairs: What was found and mended without a loss, for the person.
        """
        super().__init__(storage, files, bounds)
        self._repairs = repairs
        self._unkept: tuple[str, str] | None = None
        self.tables = tables = SealedTables(storage=lambda: storage)
        self.turn = RLock()
        self.animals = Animals(tables)
        self.people = People(tables)
        self.drafts = Drafts(tables)
        self.closed = ClosedExams(tables)
        self.notes = Notes(tables)
        self.settings = Settings(tables)
        self.protocols = Protocols(tables)
        self.owners = OwnerBlocks(tables, self.rewrite)
        self.privates = PrivateBlocks(tables)
        self.losses = LossReports(tables)
        self.backups = BackupsMade(tables)
        self.typed = TypedWords(tables)

    @property
    def damage_report(self) -> str | None:
        """What was found wrong, as sentences for the person; None when all is well.

        A loss is told at every opening until ``acknowledge_damage``.
        """
        unkept = self._unkept[1] if self._unkept else None
        texts = [*self.losses.unread(), unkept, self._repairs]
        return " ".join(text for text in texts if text) or None

    def report_loss(self, key: str, sentence: str) -> None:
        """Keep a loss found at the opening; only then may the head's mark go on.

        Args:
            key: Names the loss.
            sentence: What the person is told.
        """
        try:
            self.losses.keep(key, sentence)
        except VaultError:
            # The mark stays where it is, so that the next opening finds it again.
            self._unkept = key, sentence
        else:
            self._unkept = None
            write_mark(self._files.head, self._storage.journal())

    def acknowledge_damage(self, by: str, at: str) -> None:
        """Note that a person has read the damage report in the app.

        Args:
            by: The person's name; may be empty.
            at: Local date and time, as shown.

        Raises:
            VaultError: It was not saved; the report stays.
        """
        if self._unkept is not None:
            self.losses.keep(*self._unkept)
            self._unkept = None
        self.losses.mark_read(by, at)
        self._repairs = None

    def transaction(self) -> AbstractContextManager[None]:
        """Gather several puts into one save; an exception inside undoes them all."""
        return self._storage.transaction()

    def close_exam(
        self,
        exam_id: str,
        signed: bytes,
        projection: Mapping[str, Any],
        owner_block: tuple[bytes, Mapping[str, Any]] | None = None,
        private: tuple[str, bytes, bytes] | None = None,
        revises: tuple[int, str] | None = None,
    ) -> None:
        """Turn a draft into a closed exam in one save: both or neither.

        Args:
            exam_id: The exam's own id.
            signed: The signed bytes.
            projection: What lists show.
            owner_block: Salt and owner data beside the record, if there are any.
            private: Hash of the record, salt and block of the private notes beside
                it, if there are any.
            revises: Number of the revision and hash of the record it revises, which
                is kept beside it; ``None`` for the first record of an exam.

        Raises:
            ClosedRecordChangedError: Different bytes are kept under this id.
            VaultError: The save failed; the draft is still there.
        """
        with self.transaction():
            if revises is None:
                self.closed.put(exam_id, signed, projection)
            else:
                number, parent = revises
                self.closed.put_revision(
                    exam_id, signed, projection, revision=number, parent_hash=parent
                )
            if owner_block is not None:
                self.owners.put(exam_id, *owner_block)
            if private is not None:
                self.privates.put(exam_id, *private)
            self.drafts.remove(exam_id)
            self.typed.remove_of(exam_id)

    async def confirm_passphrase(self, passphrase: str) -> None:
        """Check the passphrase of the open vault and unlock locked PINs.

        The recovery code is accepted in its place.

        Raises:
            WrongPassphraseError: It opens nothing.
        """
        await self._confirm(passphrase)
        self.people.forgive_wrong_pins()

    async def change_passphrase(self, old: str, new: str) -> None:
        """Replace the passphrase; older copies of the files still open with the old.

        Args:
            old: The passphrase, or the recovery code.
            new: The new passphrase.

        Raises:
            WrongPassphraseError: ``old`` opens nothing; nothing was changed.
            EmptyPassphraseError: ``new`` is empty.
            KeyChangeUnsureError: The disk failed; one of the two opens the vault.
        """
        secret = secret_bytes(SlotKind.PASSPHRASE, new)
        page = await self._confirm(old)
        slot = await self._new_slot(SlotKind.PASSPHRASE, secret, page)
        replace_slots(self._open_head(), self._storage.journal(), (slot, page.slots[1]))

    async def replace_recovery_code(self) -> str:
        """Make a new recovery code; the one before it stops working.

        Returns:
            The code, to be shown once.

        Raises:
            KeyChangeUnsureError: The disk failed; the old or the new one works.
        """
        page = self._open_head().newest()
        code, secret = new_code()
        slot = await self._new_slot(SlotKind.RECOVERY_CODE, secret, page)
        replace_slots(self._open_head(), self._storage.journal(), (page.slots[0], slot))
        return code

    def close(self) -> None:
        """Release files and lock and forget the key; calling again does nothing."""
        if self._is_closed:
            return
        journal = self._storage.journal()
        with contextlib.suppress(VaultError):
            if journal.is_due():
                self.rewrite()
        if self._unkept is not None:
            self.report_loss(*self._unkept)
        if self._unkept is None:
            write_closing_mark(self._files.head, self._storage.journal())
        self._is_closed = True
        self._storage.close()
        self._files.close()

    async def _confirm(self, typed: str) -> HeadPage:
        page = self._open_head().newest()
        await open_with_either(page, typed, self._bounds)
        return page

    async def _new_slot(self, kind: SlotKind, secret: bytes, page: HeadPage) -> KeySlot:
        costs: KeyDerivation = page.slot(kind).derivation
        return await wrap_key(kind, secret, self._data_key, page.vault_id, costs)


def note_backup(vault: Vault, at: Moment, where: str, size: int) -> None:
    """Keep in the store that a backup was made, so that an erasure can name it.

    Raises:
        VaultError: The disk refused; the backup is made all the same.
    """
    shown = {"at": at.date_and_time(), "where": where, "size": size}
    vault.backups.keep({"when_ms": at.utc_ms, **shown})
