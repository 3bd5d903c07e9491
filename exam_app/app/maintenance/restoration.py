"""Restore a backup at the first start: what is asked, and what is done with it.

The same rules as the command ``exam-app restore``: a new device comes out of it, the
file is only read, and a store that is there already is never touched.
"""

import contextlib
from dataclasses import dataclass

from exam_app.app.clinic.shared_folder import FOLDER as CLINIC_FOLDER
from exam_app.app.handover.arrivals import FOLDER as HAND_OVER_FOLDER
from exam_app.app.maintenance.first_start import keep_address, own_address
from exam_app.app.session import Session
from exam_app.app.view.passphrase_note import passphrase_problem
from exam_app.language.catalogue import tr
from exam_app.store.engine.keys import read_code
from exam_app.store.engine.read_files import MemoryPart
from exam_app.store.errors import MistypedRecoveryCodeError, VaultError
from exam_app.store.vault.backup import read_backup
from exam_app.store.vault.restore import Secrets, restore_vault
from exam_app.store.vault.vault import Vault


@dataclass(frozen=True, slots=True, repr=False)
class Restore:
    """What is answered to restore a backup.

    Attributes:
        content: The backup, every byte of it.
        is_by_code: Whether ``typed`` is the recovery code and not the passphrase.
        typed: What opens the backup.
        passphrase: Of the new store where the recovery code is typed; otherwise the
            one that opened the backup goes on.
        again: The same once more.
    """

    content: bytes
    is_by_code: bool
    typed: str
    passphrase: str = ""
    again: str = ""

    @property
    def chosen_passphrase(self) -> str:
        """The passphrase of the new store."""
        return self.passphrase if self.is_by_code else self.typed


def restore_problem(answers: Restore) -> str:
    """Name what has to be mended before anything is tried; empty if nothing."""
    if not answers.content:
        return tr("Choose the backup file first.")
    if not answers.typed:
        return tr("Type what opens the backup.")
    if not answers.is_by_code:
        if _is_code(answers.typed):
            return tr("That is a recovery code. Choose the recovery code above.")
        return ""
    if not _is_code(answers.typed):
        return tr(MistypedRecoveryCodeError.advice)
    return passphrase_problem(answers.passphrase, answers.again)


def look_at_backup(content: bytes) -> None:
    """Look whether a file is a whole backup, before anything is typed for it.

    Raises:
        NoBackupError: It is none, or is cut, longer or damaged.
        VaultTooNewError: A newer version of the app made it.
    """
    read_backup(MemoryPart(content))


async def restore(session: Session, answers: Restore) -> str:
    """Make the session's vault from a backup and work with it.

    Returns:
        The new recovery code, shown once.

    Raises:
        VaultError: Nothing is kept here; it can be tried again.
    """
    backup, passphrase = MemoryPart(answers.content), answers.chosen_passphrase
    secrets = Secrets(answers.typed, passphrase, session.derivation, session.bounds)
    vault, code = await restore_vault(backup, session.folder, secrets, session.opener)
    session.admit(vault)
    here = own_address(session.opener)
    with contextlib.suppress(VaultError):
        # The exams are here, also where this remark finds no room.
        await session.write(lambda: _settle(vault, here))
    return code


def _settle(vault: Vault, here: str) -> None:
    with vault.transaction():
        keep_address(vault, here)
        if here:
            # On a phone the folders of a computer would be the page's memory.
            vault.settings.put(HAND_OVER_FOLDER, "")
            vault.settings.put(CLINIC_FOLDER, "")


def _is_code(typed: str) -> bool:
    try:
        read_code(typed)
    except MistypedRecoveryCodeError:
        return False
    return True
