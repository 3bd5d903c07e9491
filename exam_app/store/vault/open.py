"""Open a vault folder.

The folder holds ``vault.head`` (key slots and the place of the journal), ``vault.a``
and ``vault.b`` (journals), ``vault.reserve`` and ``vault.lock``. Opening checks in
this order: something is there, the lock, the head, the secret, the head's seal, the
journal. Until all of these are good nothing is written; a missing lock or
reserve file is made, empty.
"""

from contextlib import ExitStack, suppress
from dataclasses import replace
from functools import partial
from pathlib import Path

from exam_app.crypto.door import PRODUCTION_BOUNDS, DerivationBounds
from exam_app.language.catalogue import in_english, to_translate
from exam_app.store.engine.files import (
    FolderLock,
    Opener,
    SealedFile,
    open_file,
    peek,
)
from exam_app.store.engine.format import Mark, derive_frame_keys
from exam_app.store.engine.head import Head, HeadPage, check_page
from exam_app.store.engine.journal import Journal, Reserve
from exam_app.store.engine.kept_lists import KeptLists, empty_lists, open_lists
from exam_app.store.engine.keys import SlotKind, secret_bytes, unwrap_key
from exam_app.store.engine.picture_files import PictureFolder
from exam_app.store.engine.read_files import MemoryPart, ReadFile
from exam_app.store.engine.replay import Replayed, replay
from exam_app.store.engine.rewrite import (
    VaultFiles,
    finish_going_over,
    reopen_before_saving,
    write_mark,
)
from exam_app.store.engine.storage import SealedStorage
from exam_app.store.errors import UnreadableFileError, VaultError
from exam_app.store.repositories.reports import saves_missing
from exam_app.store.vault.folder import (
    PICTURE_FOLDER,
    open_files,
    reaching,
    require_vault,
)
from exam_app.store.vault.vault import Vault

TORN = to_translate(
    "The app or the power stopped in the middle of a save. Everything saved before "
    "is kept; only that unfinished save is missing. Check the last exam you changed."
)
OTHER_COPY = to_translate(
    "The exams come from another copy of this folder than the one used last. What "
    "this copy holds is shown, and it is whole. Look for the other copy if something "
    "is missing."
)
KEYS_REPAIRED = to_translate(
    "One of the two pages with the keys was damaged. The other one is whole and was "
    "copied over it; no exam is missing. If this happens again, copy your exams to "
    "another disk."
)
KEYS_NOT_REPAIRED = to_translate(
    "One of the two pages with the keys is damaged and could not be written again. "
    "The other one is whole. Copy your exams to another disk."
)
# A torn save is hardly ever longer; what lies behind it is no save.
_LONGEST_TORN = 1 << 26
_PIECE = 1 << 20
LISTS = "vault.lists"


def loss_in(found: Replayed) -> str | None:
    """Give the report on a journal as it was read, or None when all is well."""
    if found.missing:
        with in_english():
            return saves_missing(found.missing)
    if found.is_other_copy:
        return OTHER_COPY
    return TORN if found.end < found.size else None


async def open_vault(
    folder: Path,
    passphrase: str,
    *,
    is_code: bool = False,
    bounds: DerivationBounds = PRODUCTION_BOUNDS,
    opener: Opener = open_file,
) -> Vault:
    """Open a vault with its passphrase, or with its recovery code.

    Raises:
        NoVaultError: The folder holds none, or one that was cut off in its making.
        VaultInUseError: Another copy has it open.
        WrongPassphraseError: Refused; no byte was changed.
        MistypedRecoveryCodeError: The check characters do not fit.
        WrongRecoveryCodeError: Well formed, and refused; no byte was changed.
        VaultTooNewError: A newer app wrote it; no byte was changed.
        VaultDamagedError: No whole state is left; no byte was changed.
        VaultUnreachableError: The files cannot be read or written.
    """
    kind = SlotKind.RECOVERY_CODE if is_code else SlotKind.PASSPHRASE
    secret = secret_bytes(kind, passphrase)
    require_vault(folder, opener)
    with reaching(), ExitStack() as undo:
        files = await open_files(folder, opener, undo)
        page = files.head.newest()
        data_key = await unwrap_key(page.slot(kind), secret, page.vault_id, bounds)
        check_page(page, data_key)
        file = files.journals[page.place.live]
        journal, found = _read(page, data_key, file, files.reserve)
        await _keep_tail(folder, opener, journal, found)
        lists_file, lists = await _lists(folder, opener, undo, journal, found)
        files = replace(files, lists=lists_file)
        repairs = _settle(files, data_key)
        reopen_before_saving(files.head, journal)
        storage = SealedStorage(journal, found.tables, lists)
        vault = Vault(storage, files, bounds, repairs)
        if _report(vault, page.place.mark, journal, found):
            write_mark(files.head, journal)
        undo.pop_all()
    with suppress(VaultError):
        # A full disk must not keep the exams from being read.
        vault.people.forgive_wrong_pins()
    return vault


# As ``open_vault``, with the recovery code.
open_vault_with_recovery_code = partial(open_vault, is_code=True)


async def open_vault_to_read(
    folder: Path, passphrase: str, *, bounds: DerivationBounds = PRODUCTION_BOUNDS
) -> Vault:
    """Open a vault that may lie on write-protected media; nothing is written.

    What it finds wrong is in its ``damage_report`` and is found again by the next
    opening. Saving is refused as after a failed disk.

    Raises:
        VaultError: Refused, as by ``open_vault``.
    """
    secret = secret_bytes(SlotKind.PASSPHRASE, passphrase)
    require_vault(folder)
    with reaching(), ExitStack() as undo:
        lock = FolderLock(folder, is_reader=True)
        undo.callback(lock.release)
        names = ("vault.head", "vault.a", "vault.b")
        head_file, *journals = (_read_file(folder / name, undo) for name in names)
        head, reserve = Head(head_file), Reserve(MemoryPart())
        page = head.newest()
        slot = page.slot(SlotKind.PASSPHRASE)
        data_key = await unwrap_key(slot, secret, page.vault_id, bounds)
        check_page(page, data_key)
        journal, found = _read(page, data_key, journals[page.place.live], reserve)
        journal.is_stopped = True
        pictures = PictureFolder(folder / PICTURE_FOLDER)
        pair = (journals[0], journals[1])
        files = VaultFiles(head, pair, reserve, lock, pictures=pictures)
        repairs = (KEYS_NOT_REPAIRED,) if head.has_damaged_page() else ()
        vault = Vault(SealedStorage(journal, found.tables), files, bounds, repairs)
        _report(vault, page.place.mark, journal, found)
        undo.pop_all()
    return vault


def _read_file(path: Path, undo: ExitStack) -> SealedFile:
    try:
        file = ReadFile(path)
    except UnreadableFileError:
        # The idle journal may be missing; whoever needs this one finds nothing in it.
        return MemoryPart()
    undo.callback(file.close)
    return file


def _read(
    page: HeadPage, data_key: bytes, file: SealedFile, reserve: Reserve
) -> tuple[Journal, Replayed]:
    keys = derive_frame_keys(data_key, page.vault_id, page.place.journal_id)
    found = replay(file, keys, page.place.mark)
    return Journal(file, keys, found, reserve), found


def _report(vault: Vault, mark: Mark, journal: Journal, found: Replayed) -> bool:
    """Report a loss; whether there was none."""
    loss = loss_in(found)
    if loss is None:
        return True
    what = mark if found.missing or found.is_other_copy else journal.mark()
    vault.report_loss(f"{what.sequence}:{what.tag.hex()}", loss)
    return False


async def _lists(
    folder: Path, opener: Opener, undo: ExitStack, journal: Journal, found: Replayed
) -> tuple[SealedFile | None, KeptLists | None]:
    """Open the lists of a large store; those of another index are emptied."""
    path = folder / LISTS
    is_large = any(rows.is_large() for rows in found.tables.values())
    length = peek(opener, path, 0)[0]
    if not is_large and not length:
        return None, None
    try:
        file = await opener(path)
    except OSError:
        if length:
            raise
        # Nothing is kept there that writing anew would have to empty.
        return None, None
    undo.callback(file.close)
    lists = open_lists(file, journal.keys, journal.index_tag) if is_large else None
    if lists is None:
        with suppress(OSError):
            empty_lists(file)
    return file, lists


async def _keep_tail(
    folder: Path, opener: Opener, journal: Journal, found: Replayed
) -> None:
    """Copy a torn tail aside and cut it off; a full disk leaves it where it is."""
    if found.end == found.size:
        return
    with suppress(OSError):
        aside = await opener(folder / "vault.torn")
        try:
            aside.truncate(0)
            kept = min(found.size, found.end + _LONGEST_TORN)
            for at in range(found.end, kept, _PIECE):
                piece = journal.file.read_at(at, min(_PIECE, kept - at))
                aside.write_at(at - found.end, piece)
            aside.flush()
        finally:
            aside.close()
        journal.file.truncate(found.end)
        journal.file.flush()


def _settle(files: VaultFiles, data_key: bytes) -> tuple[str, ...]:
    """Finish what a crash left undone; give what the person should know."""
    was_damaged = files.head.has_damaged_page()
    said = KEYS_REPAIRED
    try:
        finish_going_over(files, data_key)
    except OSError:
        said = KEYS_NOT_REPAIRED
    files.reserve.fill()
    texts = said if was_damaged else None, files.reserve.report
    return tuple(text for text in texts if text)
