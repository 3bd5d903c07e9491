"""A backup as a file of the system: made whole or not at all."""

from pathlib import Path

from exam_app.domain.moments import Moment
from exam_app.store.errors import BackupExistsError, VaultUnreachableError
from exam_app.store.files import LocalFile
from exam_app.store.opened_vault import Vault
from exam_app.store.progress import Progress, silent
from exam_app.store.upkeep import Upkeep


def note_backup(vault: Vault, at: Moment, where: str, size: int) -> None:
    """Keep in the store that a backup was made, so that an erasure can name it.

    Raises:
        VaultError: The disk refused; the backup is made all the same.
    """
    shown = {"at": at.date_and_time(), "where": where, "size": size}
    vault.backups.keep({"when_ms": at.utc_ms, **shown})


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
