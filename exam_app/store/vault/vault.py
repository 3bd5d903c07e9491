"""One open vault: its repositories, its keys, its upkeep, and closing an exam.

Checking, writing anew, backing up and another data key take longer the more is kept, so
each step tells how far it has come. None may run beside a save: the caller takes turns.
"""

import contextlib
from dataclasses import replace

from exam_app.crypto.door import DerivationBounds, random_bytes
from exam_app.domain.moments import Moment
from exam_app.store.engine.files import SealedFile
from exam_app.store.engine.format import FrameKeys
from exam_app.store.engine.head import Head, HeadPage, open_with_either, replace_slots
from exam_app.store.engine.keys import (
    KeySlot,
    NewDataKey,
    SlotKind,
    new_code,
    new_slots,
    secret_bytes,
    unwrap_key,
    wrap_key,
)
from exam_app.store.engine.rewrite import (
    Progress,
    Slots,
    VaultFiles,
    half_of,
    silent,
    write_again,
    write_closing_mark,
    write_mark,
)
from exam_app.store.engine.storage import SealedStorage
from exam_app.store.errors import (
    KeysChangedError,
    NoBackupError,
    VaultClosedError,
    VaultError,
    VaultUnreachableError,
    save_refusal,
)
from exam_app.store.repositories import reports
from exam_app.store.repositories.listed import list_anew, list_beside
from exam_app.store.vault.audit import AuditReport, audit
from exam_app.store.vault.backup import write_backup
from exam_app.store.vault.kept import Repositories


class Vault(Repositories):
    """An open vault; made by ``create_vault`` and ``open_vault`` only."""

    def __init__(
        self,
        storage: SealedStorage,
        files: VaultFiles,
        bounds: DerivationBounds,
        repairs: tuple[str, ...],
    ) -> None:
        """Take over opened parts; ``close`` releases them.

        ``repairs`` is what was found and mended without a loss, for the person.
        """
        super().__init__(
            storage, files.pictures, lambda: self._frame_keys, self.rewrite
        )
        self._files = files
        self._bounds = bounds
        self._is_closed = False
        self._repairs = repairs
        self._unkept: tuple[str, str] | None = None

    @property
    def damage_report(self) -> str | None:
        """What was found wrong, as sentences for the person; None when all is well.

        A loss is told at every opening until ``acknowledge_damage``.
        """
        unkept = self._unkept[1] if self._unkept else None
        return reports.shown(*self.losses.unread(), unkept, *self._repairs)

    def report_loss(self, key: str, sentence: str) -> None:
        """Keep a loss found at the opening; only then may the head's mark go on."""
        try:
            self.losses.keep(key, sentence)
        except VaultError:
            # The mark stays where it is, so that the next opening finds it again.
            self._unkept = key, sentence
        else:
            self._unkept = None
            write_mark(self._files.head, self._storage.journal())

    def acknowledge_damage(self, by: str, at: str) -> None:
        """Note who has read the damage report in the app, and when, as shown.

        Raises:
            VaultError: It was not saved; the report stays.
        """
        if self._unkept is not None:
            self.losses.keep(*self._unkept)
            self._unkept = None
        self.losses.mark_read(by, at)
        self._repairs = ()

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

    @property
    def disk_report(self) -> str | None:
        """What the person should know of the disk while working, or None."""
        return reports.shown(self._files.reserve.report)

    def size(self) -> int:
        """Give how many bytes all that is kept takes on the disk.

        Raises:
            VaultError: The disk refused.
        """
        self._open_head()
        try:
            return sum(file.size() for file in self._files.journals)
        except OSError as error:
            raise save_refusal(error) from error

    def audit(self, progress: Progress = silent) -> AuditReport:
        """Read everything ever kept and check it; for when nobody waits.

        Raises:
            VaultUnreachableError: The disk refused to read.
        """
        journal, tables = self._storage.journal(), self._storage.tables()
        try:
            found = audit(journal.file, journal.keys, journal.end, tables, progress)
            return replace(found, pictures=self.photographs.damaged())
        except OSError as error:
            raise VaultUnreachableError("the disk refused to read") from error

    def rewrite(self, progress: Progress = silent) -> None:
        """Write the files anew: smaller, and without what was removed.

        Raises:
            DocumentDamagedError: An entry does not authenticate; nothing was changed.
            VaultError: The disk failed; nothing is lost.
        """
        self._open_head()
        self._write_again(progress=progress)
        with contextlib.suppress(VaultError):
            self.photographs.clear_strays()

    def _write_again(
        self, slots: Slots | None = None, *, key: bytes = b"", progress: Progress
    ) -> None:
        write_again(self._files, self._storage, key or self._data_key, slots, progress)
        if self._files.lists is not None:
            list_anew(self._files.lists, self._storage)

    def back_up(self, file: SealedFile, progress: Progress = silent) -> None:
        """Write everything into one sealed file and check what was written.

        Raises:
            DocumentDamagedError: An entry does not authenticate; no backup was made.
            VaultError: The disk failed, or does not give back what was written.
        """
        slots, journal = self._open_head().newest().slots, self._storage.journal()
        tables = self._storage.tables()
        try:
            pictures = self.photographs.sealed()
            report = write_backup(file, journal, tables, slots, pictures, progress)
        except OSError as error:
            raise save_refusal(error) from error
        if not report.is_sound:
            raise NoBackupError("the backup does not read back as written")

    async def new_data_key(self, passphrase: str) -> NewDataKey:
        """Make another data key and wrap it; nothing is written yet.

        Raises:
            WrongPassphraseError: It does not open this vault.
        """
        secret = secret_bytes(SlotKind.PASSPHRASE, passphrase)
        page = self._open_head().newest()
        slot = page.slot(SlotKind.PASSPHRASE)
        await unwrap_key(slot, secret, page.vault_id, self._bounds)
        key = random_bytes(32)
        slots, code = await new_slots(secret, key, page.vault_id, slot.derivation)
        return NewDataKey(key, slots, code, page.slots)

    def go_over(self, new: NewDataKey, progress: Progress = silent) -> None:
        """Seal everything anew under a key that was made.

        Raises:
            KeysChangedError: Passphrase or code were changed meanwhile.
            DocumentDamagedError: An entry does not authenticate; nothing was changed.
            VaultError: The disk failed; the old or the new code works.
        """
        if self._open_head().newest().slots != new.former:
            raise KeysChangedError("the slots are others than before")
        key, slots = new.data_key, new.slots
        self.photographs.seal_also(key, half_of(progress, 0))
        try:
            self._write_again(slots, key=key, progress=half_of(progress, 1))
        except VaultError:
            if self._data_key != key:
                raise
            # The new key counts already; the next opening empties the old file.
        with contextlib.suppress(VaultError):
            self.photographs.clear_strays()

    def note_backup(self, at: Moment, where: str, size: int) -> None:
        """Keep that a backup of ``size`` bytes was made, so that an erasure names it.

        The backup is made, also where this remark finds no room.
        """
        with contextlib.suppress(VaultError):
            self.backups.keep(
                reports.Backup(at.date_and_time(), where, size, at.utc_ms)
            )

    def close(self) -> None:
        """Release files and lock and forget the key; calling again does nothing.

        It takes long where ``is_due`` says so. A save meanwhile waits, and is refused.
        """
        with self._storage.saving:
            self._close()

    def is_due(self) -> bool:
        """Whether closing will write the files anew, or read all of their index."""
        if self._is_closed:
            return False
        is_unlisted = self._file_without_lists() is not None
        return is_unlisted or self._storage.journal().is_due()

    def _file_without_lists(self) -> SealedFile | None:
        return self._files.lists if self._storage.needs_lists() else None

    def _close(self) -> None:
        if self._is_closed:
            return
        journal = self._storage.journal()
        with contextlib.suppress(VaultError):
            if journal.is_due():
                self.rewrite()
            if (file := self._file_without_lists()) is not None:
                list_beside(file, journal, self._storage.from_index())
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
        costs = page.slot(kind).derivation
        return await wrap_key(kind, secret, self._data_key, page.vault_id, costs)

    @property
    def _data_key(self) -> bytes:
        # Of the journal that counts now: it may have changed although the step
        # that changed it was refused in the end.
        return self._frame_keys.data_key

    @property
    def _frame_keys(self) -> FrameKeys:
        return self._storage.journal().keys

    def _open_head(self) -> Head:
        if self._is_closed:
            raise VaultClosedError("the vault is closed")
        return self._files.head
