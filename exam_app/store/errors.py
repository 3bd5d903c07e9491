"""Every refusal of the vault, each with advice: the cause, then the next step.

None inherits ``KeyError`` or ``TypeError``: TinyDB's query runners swallow those.
Messages hold no patient details and no secrets.
"""

import errno

from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import to_translate

FULL_ERRORS = frozenset(
    (errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC))
)


class VaultError(ExamError):
    """Any refusal of the vault."""

    advice = to_translate(
        "The exams could not be opened or saved. Close the app and open it again."
    )


class NoVaultError(VaultError):
    """The folder holds no vault."""

    advice = to_translate(
        "There are no exams in this place yet. Nothing was changed. "
        "Set up a new one, or choose the folder or address that holds your exams."
    )


class UnfinishedVaultError(NoVaultError):
    """A set-up or restoration was cut off before it was whole."""

    advice = to_translate(
        "A set-up or a restoration was cut off in this place before it was whole, so "
        "no exams are kept here; a backup is as it was. Nothing was changed. Restore "
        "the backup into this place again, or set it up again."
    )


class VaultExistsError(VaultError):
    """A vault is there already; creating one would destroy it."""

    advice = to_translate(
        "This place already holds exams. Nothing was changed. "
        "Open them, or choose an empty folder."
    )


class WrongPassphraseError(VaultError):
    """The passphrase does not open this vault."""

    advice = to_translate(
        "The passphrase does not open these exams. Nothing was changed. "
        "Check capital letters and the keyboard's language, then try again; "
        "the recovery code opens them too."
    )


class EmptyPassphraseError(VaultError):
    """A passphrase has at least one character."""

    advice = to_translate(
        "A passphrase cannot be empty. Nothing was changed. "
        "Choose several words that you can remember."
    )


class PassphraseTooLongError(VaultError):
    """More was typed than a passphrase or recovery code can have."""

    advice = to_translate(
        "A passphrase has at most 1024 characters, and more was given. Nothing was "
        "changed. Look whether something else was pasted, and type the passphrase."
    )


class MistypedRecoveryCodeError(VaultError):
    """The check characters of the recovery code do not fit."""

    advice = to_translate(
        "The recovery code was mistyped: its check characters do not fit. "
        "Nothing was changed. Compare it group by group with the one you kept."
    )


class WrongRecoveryCodeError(VaultError):
    """The code is well formed and belongs to another vault, or was replaced."""

    advice = to_translate(
        "This recovery code does not open these exams. Nothing was changed. "
        "Look for a newer code: an older one stops working when it is replaced."
    )


class VaultDamagedError(VaultError):
    """The files are damaged beyond a cut tail, or do not belong together."""

    advice = to_translate(
        "The files that hold the exams are damaged. Nothing was written. "
        "Copy the folder somewhere safe. Then restore your newest backup with "
        "exam-app restore, or take out what is whole with exam-app salvage."
        " On a phone remove nothing, neither the app nor its site data: a backup "
        'can be restored on another device or in another browser, by "Restore from '
        'a backup file" at the first start.'
    )


class VaultAlteredError(VaultDamagedError):
    """A save in the middle does not authenticate, and later ones do."""

    advice = to_translate(
        "A save in the middle of the exams was changed after it was kept, by a "
        "failing disk or by someone. Nothing was written and nothing of it is shown. "
        "Copy the folder somewhere safe. Then restore your newest backup with "
        "exam-app restore, or take out what is whole with exam-app salvage."
        " On a phone remove nothing, neither the app nor its site data: a backup "
        'can be restored on another device or in another browser, by "Restore from '
        'a backup file" at the first start.'
    )


class DocumentDamagedError(VaultDamagedError):
    """One document does not authenticate; the others are not concerned."""

    advice = to_translate(
        "This entry was damaged on the device and is not shown; the other exams are "
        "not concerned. Nothing was written. Copy the folder somewhere safe, then "
        "restore your newest backup with exam-app restore."
        " On a phone remove nothing, neither the app nor its site data: a backup "
        'can be restored on another device or in another browser, by "Restore from '
        'a backup file" at the first start.'
    )


class UnreadableFileError(VaultError):
    """What was named is no ordinary file, or the system does not give it out."""

    advice = to_translate(
        "There is no ordinary file that can be read at this place: it is missing, "
        "protected, or a folder, a pipe or a device. Nothing was changed. Look at the "
        "name, and name the file itself."
    )


class NoBackupError(VaultError):
    """The file is no backup of exams, or not a whole one."""

    advice = to_translate(
        "This file is not a whole backup of exams. Nothing was changed. "
        "Choose another file, or an older backup."
    )


class BackupExistsError(VaultError):
    """A file of that name is there already."""

    advice = to_translate(
        "A file of that name is there already. Nothing was written. "
        "Choose another name for the backup."
    )


class ExamStillNeededError(VaultError):
    """An exam was to be deleted that the clinic has not signed for."""

    advice = to_translate(
        "The clinic has not signed that it holds this exam. Nothing was deleted. "
        "Hand it over and take the clinic's signed receipt first."
    )


class VaultTooNewError(VaultError):
    """A newer version of the app wrote this vault."""

    advice = to_translate(
        "A newer version of the app saved these exams. Nothing was changed. "
        "Install that version to open them; on a phone, open the app once where it has "
        "a network, close it in every window and open it again."
    )


class VaultInUseError(VaultError):
    """Another copy of the app has the vault open."""

    advice = to_translate(
        "The exams are open in another window or another copy of the app. "
        "Nothing was changed. Close the other one, then try again."
    )


class VaultUnreachableError(VaultError):
    """The operating system refused to open or read the files."""

    advice = to_translate(
        "The place with the exams cannot be read or written. Nothing was changed. "
        "On a computer, check that the disk is connected and that you may write to "
        "the folder; on a phone, close the app everywhere and open it again."
    )


class VaultFullError(VaultError):
    """No room for this save; the state before it is intact."""

    advice = to_translate(
        "The device is full: this change is not saved, everything before it is. "
        "Free some space, then make the change again."
    )


class NoRoomForPhotographError(VaultFullError):
    """A photograph would take the room that is kept for answers."""

    advice = to_translate(
        "There is too little space left on this device for another photograph; what is "
        "left is kept for answers, which go on being saved. The photograph was not "
        "kept. Hand over what waits, or free some space, then take it again."
    )


class PhotographMissingError(VaultError):
    """A record names a photograph that is not kept here."""

    advice = to_translate(
        "This photograph is not on this device. The record and everything else are "
        "whole. It may still be on its way, or on the device that took it: hand the "
        "photographs over from there again."
    )


class PhotographDamagedError(PhotographMissingError):
    """The file of a photograph does not authenticate, or holds another picture."""

    advice = to_translate(
        "The file of this photograph was damaged on the device, so it is not shown. "
        "The record and everything else are whole. Restore the newest backup "
        "elsewhere to look for it, or hand it over again from where it was taken."
    )


class VaultStoppedError(VaultError):
    """The disk failed in a save, so nothing more is written until the next opening."""

    advice = to_translate(
        "The device did not confirm a save, so saving has stopped. Everything saved "
        "before is kept. Note the last change on paper, then close the app and "
        "open it again."
    )


class KeyChangeUnsureError(VaultError):
    """The disk failed while a passphrase or recovery code was being changed."""

    advice = to_translate(
        "The device did not confirm the change of the passphrase or recovery code. "
        "The exams are kept. Close the app, then open it with the new one; "
        "if it is refused, use the old one."
    )


class VaultClosedError(VaultError):
    """The vault was closed or locked."""

    advice = to_translate(
        "The exams are locked. This change is not saved. "
        "Unlock with the passphrase, then make the change again."
    )


class StoreReportError(VaultError):
    """A report on damage or a full disk, to be shown as a refusal is.

    Attributes:
        title: Stands above it.
        advice: The report itself.
    """

    advice = to_translate(
        "Something was found wrong with the stored exams. Read the report."
    )

    def __init__(self, title: str, report: str) -> None:
        """Take what is shown."""
        super().__init__(title)
        self.title = title
        self.advice = report  # type: ignore[misc]


class UnstorableValueError(VaultError):
    """A document holds something other than text, whole numbers, yes/no, lists."""

    advice = to_translate(
        "The app tried to save a value that it must not store. Nothing was saved. "
        "Report what you entered last."
    )


class ClosedRecordChangedError(VaultError):
    """Other bytes are already kept under this exam, note or protocol."""

    advice = to_translate(
        "Something closed is kept under this number already and differs. "
        "Nothing was changed. What is closed is never replaced; add a note."
    )


class PinLockedError(VaultError):
    """Five wrong PINs in a row."""

    advice = to_translate(
        "Five wrong PINs: this PIN is locked. Nothing was changed. "
        "Unlock with the passphrase."
    )


class KeysChangedError(VaultError):
    """Passphrase or recovery code were changed while a data key was being made."""

    advice = to_translate(
        "The passphrase or the recovery code was changed at the same time. The exams "
        "are as before, under the old data key. Change the data key once more."
    )


def save_refusal(error: OSError) -> VaultError:
    """Give the refusal that fits a failed write: full, or stopped."""
    if error.errno in FULL_ERRORS:
        return VaultFullError("no room for this save")
    return VaultStoppedError("the disk failed in a save")
