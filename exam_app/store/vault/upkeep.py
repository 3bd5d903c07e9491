"""Looking after an open vault: check, make smaller, back up, change the data key.

All of it takes longer the more is kept, so each step tells how far it has come. None
may run beside a save: the caller takes turns.
"""

from dataclasses import dataclass
from pathlib import Path

from exam_app.crypto.door import DerivationBounds, random_bytes
from exam_app.store.engine.files import LocalFile, SealedFile
from exam_app.store.engine.head import Head
from exam_app.store.engine.keys import SlotKind, new_slots, secret_bytes, unwrap_key
from exam_app.store.engine.rewrite import (
    Progress,
    Slots,
    VaultFiles,
    silent,
    write_again,
)
from exam_app.store.engine.storage import SealedStorage
from exam_app.store.errors import (
    BackupExistsError,
    NoBackupError,
    VaultClosedError,
    VaultError,
    VaultUnreachableError,
    save_refusal,
)
from exam_app.store.vault.audit import AuditReport, audit
from exam_app.store.vault.backup import write_backup


class KeysChangedError(VaultError):
    """Passphrase or recovery code were changed while a data key was being made."""

    advice = (
        "The passphrase or the recovery code was changed at the same time. The exams "
        "are as before, under the old data key. Change the data key once more."
    )


@dataclass(frozen=True, slots=True, repr=False)
class NewDataKey:
    """A data key that seals nothing yet.

    Attributes:
        data_key: The key itself.
        slots: It, wrapped by the passphrase and by the new recovery code.
        code: The recovery code, to be shown once.
        former: The slots that count until then.
    """

    data_key: bytes
    slots: Slots
    code: str
    former: Slots


class Upkeep:
    """The part of a vault that looks after its files."""

    def __init__(
        self, storage: SealedStorage, files: VaultFiles, bounds: DerivationBounds
    ) -> None:
        """Use the opened parts; the vault releases them."""
        self._storage = storage
        self._files = files
        self._bounds = bounds
        self._is_closed = False

    @property
    def disk_report(self) -> str | None:
        """What the person should know of the disk while working, or None."""
        return self._files.reserve.report

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

    def exam_count(self) -> int:
        """Give how many closed exams are kept; revisions of one count as one."""
        return len({key.split(":", 1)[0] for key in self._storage.entries("closed")})

    def audit(self, progress: Progress = silent) -> AuditReport:
        """Read everything ever kept and check it; for when nobody waits.

        Raises:
            VaultUnreachableError: The disk refused to read.
        """
        journal, tables = self._storage.journal(), self._storage.tables()
        try:
            return audit(journal.file, journal.keys, journal.end, tables, progress)
        except OSError as error:
            raise VaultUnreachableError("the disk refused to read") from error

    def rewrite(self, progress: Progress = silent) -> None:
        """Write the files anew: smaller, and without what was removed.

        Raises:
            DocumentDamagedError: An entry does not authenticate; nothing was changed.
            VaultError: The disk failed; nothing is lost.
        """
        self._open_head()
        write_again(self._files, self._storage, self._data_key, progress=progress)

    def back_up(self, file: SealedFile, progress: Progress = silent) -> None:
        """Write everything into one sealed file and check what was written.

        Raises:
            DocumentDamagedError: An entry does not authenticate; no backup was made.
            VaultError: The disk failed, or does not give back what was written.
        """
        slots, journal = self._open_head().newest().slots, self._storage.journal()
        tables = self._storage.tables()
        try:
            report = write_backup(file, journal, tables, slots, progress)
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
        try:
            write_again(self._files, self._storage, key, slots, progress)
        except VaultError:
            if self._data_key != key:
                raise
            # The new key counts already; the next opening empties the old file.

    @property
    def _data_key(self) -> bytes:
        # Of the journal that counts now: it may have changed although the step
        # that changed it was refused in the end.
        return self._storage.journal().keys.data_key

    def _open_head(self) -> Head:
        if self._is_closed:
            raise VaultClosedError("the vault is closed")
        return self._files.head


def make_backup_file(vault: Upkeep, path: Path, progress: Progress = silent) -> int:
    """Write a backup into a new file and read it back.

    Returns:
        Its size in bytes.

    Raises:
        BackupExistsError: Something of that name is there; it was not touched.
        VaultUnreachableError: Nothing can be written there.
        VaultError: Refused, as by ``back_up``; the unfinished file was removed.
    """
    try:
        is_taken = path.exists()
    except OSError as error:
        raise VaultUnreachableError("the backup cannot be looked for") from error
    if is_taken:
        raise BackupExistsError("the file exists")
    try:
        file = LocalFile(path)
        try:
            vault.back_up(file, progress)
            return file.size()
        finally:
            file.close()
    except OSError as error:
        path.unlink(missing_ok=True)
        raise VaultUnreachableError("the backup cannot be written there") from error
    except BaseException:
        path.unlink(missing_ok=True)
        raise
