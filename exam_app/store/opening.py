"""Create and open a vault folder.

The folder holds ``vault.head`` (key slots and the place of the journal), ``vault.a``
and ``vault.b`` (journals), ``vault.reserve`` and ``vault.lock``. Opening checks in
this order: something is there, the lock, the head, the secret, the head's seal, the
journal. Until all of these are good, nothing but the empty lock file is written.
"""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from exam_app.crypto.door import (
    PRODUCTION_BOUNDS,
    DerivationBounds,
    KeyDerivation,
    check_bounds,
    random_bytes,
)
from exam_app.store import reports
from exam_app.store.bodies import Bodies
from exam_app.store.errors import (
    NoVaultError,
    VaultError,
    VaultExistsError,
    VaultFullError,
    VaultUnreachableError,
    save_refusal,
)
from exam_app.store.files import FolderLock, Opener, open_file
from exam_app.store.frames import derive_frame_keys
from exam_app.store.head import (
    PAGE_LENGTH,
    Head,
    HeadPage,
    check_page,
    decode_page,
    next_page,
)
from exam_app.store.journal import Journal
from exam_app.store.journal_files import (
    JournalFiles,
    Slots,
    begin_journal,
    finish_going_over,
    write_mark,
)
from exam_app.store.key_slots import SlotKind, new_slots, secret_bytes, unwrap_key
from exam_app.store.opened_vault import Vault
from exam_app.store.replay import Replayed, replay
from exam_app.store.reserve import Reserve
from exam_app.store.rewriting import Carry
from exam_app.store.rows import Tables
from exam_app.store.sealed_storage import SealedStorage

# Longer than a journal in which nothing was ever saved.
_EMPTY_JOURNAL = 200


def vault_exists(folder: Path) -> bool:
    """Whether the folder holds a vault, whole or damaged.

    A creation that was cut off before its first flush left nothing worth keeping
    and does not count. Saved states without their head do: a backup of the head may
    turn up.

    Raises:
        VaultUnreachableError: The folder cannot be read.
    """
    with reaching():
        lengths = [_length(folder / name) for name in ("vault.a", "vault.b")]
        head_length = _length(folder / "vault.head")
        if head_length > PAGE_LENGTH or max(lengths) > _EMPTY_JOURNAL:
            return True
        if not head_length:
            return False
        try:
            return decode_page((folder / "vault.head").read_bytes()) is not None
        except VaultError:
            return True


async def create_vault(
    folder: Path,
    passphrase: str,
    derivation: KeyDerivation | None = None,
    *,
    bounds: DerivationBounds = PRODUCTION_BOUNDS,
    opener: Opener = open_file,
) -> tuple[Vault, str]:
    """Create an empty vault in a folder that holds none.

    Args:
        folder: Created if it is missing.
        passphrase: At least one character.
        derivation: Argon2id costs of both key slots; 64 MiB and three passes
            without one.
        bounds: What a reader will accept later; tests alone pass others.
        opener: Opens files behind the file seam.

    Returns:
        The open vault, and the recovery code to be shown once.

    Raises:
        EmptyPassphraseError: No passphrase.
        VaultExistsError: A vault is there; nothing was changed.
        VaultInUseError: Another copy is creating one.
        VaultFullError: No room.
        VaultUnreachableError: The folder cannot be written.
        BadParametersError: The derivation lies outside the bounds.
    """
    costs = derivation or KeyDerivation()
    check_bounds(costs, bounds)
    secret = secret_bytes(SlotKind.PASSPHRASE, passphrase)
    data_key, vault_id = random_bytes(32), random_bytes(16)
    slots, code = await new_slots(secret, data_key, vault_id, costs)
    opened = await begin_vault(
        folder, vault_id, slots, data_key, {}, _nothing, bounds=bounds, opener=opener
    )
    return opened, code


async def open_vault(
    folder: Path,
    passphrase: str,
    *,
    bounds: DerivationBounds = PRODUCTION_BOUNDS,
    opener: Opener = open_file,
) -> Vault:
    """Open a vault with its passphrase.

    Raises:
        NoVaultError: The folder holds none.
        VaultInUseError: Another copy has it open.
        WrongPassphraseError: Refused; no byte was changed.
        VaultTooNewError: A newer app wrote it; no byte was changed.
        VaultDamagedError: No whole state is left; no byte was changed.
        VaultUnreachableError: The files cannot be read or written.
    """
    return await _open(folder, SlotKind.PASSPHRASE, passphrase, bounds, opener)


async def open_vault_with_recovery_code(
    folder: Path,
    code: str,
    *,
    bounds: DerivationBounds = PRODUCTION_BOUNDS,
    opener: Opener = open_file,
) -> Vault:
    """Open a vault with its recovery code; otherwise as ``open_vault``.

    Raises:
        MistypedRecoveryCodeError: The check characters do not fit.
        WrongRecoveryCodeError: Well formed, and refused.
    """
    return await _open(folder, SlotKind.RECOVERY_CODE, code, bounds, opener)


async def begin_vault(
    folder: Path,
    vault_id: bytes,
    slots: Slots,
    data_key: bytes,
    tables: Tables,
    carry: Carry,
    *,
    bounds: DerivationBounds,
    opener: Opener,
) -> Vault:
    """Write a vault that starts with some state into a folder that holds none."""
    with reaching(), ExitStack() as undo:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        lock = FolderLock(folder)
        undo.callback(lock.release)
        if vault_exists(folder):
            raise VaultExistsError("a vault is there already")
        head, files = await _open_files(folder, opener, undo, is_new=True)
        journal, made, place = begin_journal(
            files, 0, data_key, vault_id, tables, carry
        )
        page = HeadPage(1, vault_id, place.live, place.journal_id, place.mark, slots)
        # The head comes last: without it nothing that was begun counts as a vault.
        head.write_older(page, data_key)
        head.write_older(next_page(page), data_key)
        files.reserve.fill()
        storage = SealedStorage(journal, made.tables)
        vault = Vault(storage, head, bounds, lock, files, None)
        undo.pop_all()
    return vault


async def _open(
    folder: Path,
    kind: SlotKind,
    typed: str,
    bounds: DerivationBounds,
    opener: Opener,
) -> Vault:
    secret = secret_bytes(kind, typed)
    if not vault_exists(folder):
        raise NoVaultError("no vault in this folder")
    with reaching(), ExitStack() as undo:
        lock = FolderLock(folder)
        undo.callback(lock.release)
        head, files = await _open_files(folder, opener, undo)
        page = head.newest()
        data_key = await unwrap_key(page.slot(kind), secret, page.vault_id, bounds)
        check_page(page, data_key)
        bodies = Bodies(data_key, page.vault_id)
        keys = derive_frame_keys(data_key, page.vault_id, page.journal_id)
        file = files.journals[page.live]
        found = replay(file, keys, bodies, page.mark)
        index_offset = page.mark.index_offset
        journal = Journal(file, keys, bodies, found, index_offset, files.reserve)
        await _keep_tail(folder, opener, journal, found)
        report = _settle(head, files, journal, data_key, found)
        storage = SealedStorage(journal, found.tables)
        vault = Vault(storage, head, bounds, lock, files, report)
        undo.pop_all()
    with suppress(VaultError):
        # A full disk must not keep the exams from being read.
        vault.people.forgive_wrong_pins()
    return vault


async def _open_files(
    folder: Path, opener: Opener, undo: ExitStack, *, is_new: bool = False
) -> tuple[Head, JournalFiles]:
    files = []
    for name in ("vault.head", "vault.a", "vault.b", "vault.reserve"):
        file = await opener(folder / name)
        undo.callback(file.close)
        if is_new:
            file.truncate(0)
        files.append(file)
    head_file, first, second, reserve = files
    return Head(head_file), JournalFiles((first, second), Reserve(reserve))


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
            tail = journal.file.read_at(found.end, found.size - found.end)
            aside.write_at(0, tail)
            aside.flush()
        finally:
            aside.close()
        journal.file.truncate(found.end)
        journal.file.flush()


def _settle(
    head: Head,
    files: JournalFiles,
    journal: Journal,
    data_key: bytes,
    found: Replayed,
) -> str | None:
    """Finish what a crash left undone; give what the person should know."""
    texts = [reports.of_journal(found)]
    was_damaged = head.has_damaged_page()
    try:
        finish_going_over(files, head, data_key)
    except OSError:
        texts.append(reports.KEYS_NOT_REPAIRED if was_damaged else None)
    else:
        texts.append(reports.KEYS_REPAIRED if was_damaged else None)
    write_mark(head, journal)
    files.reserve.fill()
    texts.append(files.reserve.report)
    return " ".join(text for text in texts if text) or None


def _nothing(table: str, document_id: str, where: bytes) -> bytes:
    raise AssertionError(table, document_id, where)


@contextmanager
def reaching() -> Iterator[None]:
    """Turn the system's refusals of files into ours."""
    try:
        yield
    except OSError as error:
        refusal = save_refusal(error)
        if isinstance(refusal, VaultFullError):
            raise refusal from error
        raise VaultUnreachableError("the system refused the files") from error


def _length(path: Path) -> int:
    return path.stat().st_size if path.exists() else 0
