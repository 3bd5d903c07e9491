"""A vault's folder: whether it holds one, its files, and a new vault in it."""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from enum import Enum
from pathlib import Path

from exam_app.crypto.door import (
    PRODUCTION_BOUNDS,
    DerivationBounds,
    KeyDerivation,
    check_bounds,
    random_bytes,
)
from exam_app.store.engine.files import (
    FolderLock,
    Opener,
    OwnPlace,
    SealedFile,
    open_file,
    peek,
)
from exam_app.store.engine.head import (
    BEGUN,
    PAGE_LENGTH,
    Head,
    HeadPage,
    decode_page,
    next_page,
)
from exam_app.store.engine.index import Tables
from exam_app.store.engine.journal import Reserve
from exam_app.store.engine.keys import SlotKind, new_slots, secret_bytes
from exam_app.store.engine.picture_files import PictureFiles, PictureFolder
from exam_app.store.engine.picture_slots import PictureSlots
from exam_app.store.engine.rewrite import Carry, Slots, VaultFiles, begin_journal
from exam_app.store.engine.storage import SealedStorage
from exam_app.store.errors import (
    NoVaultError,
    UnfinishedVaultError,
    VaultError,
    VaultExistsError,
    VaultFullError,
    VaultUnreachableError,
    save_refusal,
)
from exam_app.store.vault.vault import Vault

PICTURE_FOLDER, PICTURE_FILE = "photographs", "vault.pictures"
# Longer than a journal in which nothing was ever saved.
_EMPTY_JOURNAL = 200


class FolderState(Enum):
    """What a folder holds."""

    EMPTY = "no vault"
    BEGUN = "a creation or restoration that was cut off"
    VAULT = "a vault, whole or damaged"


def folder_state(folder: Path, opener: Opener = open_file) -> FolderState:
    """Look what the folder holds; nothing is opened or written.

    A creation that was cut off before a head page was whole left nothing that could
    ever be read, however much a restoration had written, and does not count. Saved
    states without their head do: a backup of the head may turn up.

    Raises:
        VaultUnreachableError: The folder cannot be read.
    """
    with reaching():
        journals = (folder / "vault.a", folder / "vault.b")
        longest = max(peek(opener, path, 0)[0] for path in journals)
        length, head = peek(opener, folder / "vault.head", 2 * PAGE_LENGTH)
    if _is_whole_page(head[:PAGE_LENGTH]) or _is_whole_page(head[PAGE_LENGTH:]):
        return FolderState.VAULT
    if head.startswith(BEGUN):
        return FolderState.BEGUN
    is_damaged = length > PAGE_LENGTH or longest > _EMPTY_JOURNAL
    return FolderState.VAULT if is_damaged else FolderState.EMPTY


def vault_exists(folder: Path, opener: Opener = open_file) -> bool:
    """Whether the folder holds a vault, whole or damaged; see ``folder_state``."""
    return folder_state(folder, opener) is FolderState.VAULT


def was_begun(folder: Path, opener: Opener = open_file) -> bool:
    """Whether a creation or restoration was cut off here; it may be begun again."""
    return folder_state(folder, opener) is FolderState.BEGUN


def require_vault(folder: Path, opener: Opener = open_file) -> None:
    """Refuse a folder without a vault.

    Raises:
        UnfinishedVaultError: A creation or restoration was cut off here.
        NoVaultError: Nothing was ever kept here.
    """
    state = folder_state(folder, opener)
    if state is FolderState.BEGUN:
        raise UnfinishedVaultError("a creation was cut off in this folder")
    if state is FolderState.EMPTY:
        raise NoVaultError("no vault in this folder")


async def open_files(
    folder: Path, opener: Opener, undo: ExitStack, *, is_new: bool = False
) -> VaultFiles:
    """Lock and open the files of a vault; those of a new one are emptied.

    A new one that fails leaves them empty again.

    Raises:
        VaultExistsError: A new one was to be made where there is one.
        VaultInUseError: Another copy has it open.
    """
    lock = FolderLock(folder)
    undo.callback(lock.release)
    if is_new and vault_exists(folder, opener):
        raise VaultExistsError("a vault is there already")
    files: list[SealedFile] = []
    for name in ("vault.head", "vault.a", "vault.b", "vault.reserve"):
        file = await opener(folder / name)
        undo.callback(file.close)
        if is_new:
            undo.callback(_empty, file)
            if files:
                file.truncate(0)
            else:
                _begin(file)
        files.append(file)
    head_file, first, second, reserve = files
    pictures = await _pictures(folder, opener, undo)
    if is_new:
        # Of a creation that was cut off; no key opens them.
        for name in pictures.names():
            pictures.remove(name)
    journals = (first, second)
    return VaultFiles(
        Head(head_file), journals, Reserve(reserve), lock, pictures=pictures
    )


async def _pictures(folder: Path, opener: Opener, undo: ExitStack) -> PictureFiles:
    """Give the place of the pictures; nothing of it is read or made here."""
    if not isinstance(opener, OwnPlace):
        return PictureFolder(folder / PICTURE_FOLDER)
    file = await opener(folder / PICTURE_FILE)
    undo.callback(file.close)
    return PictureSlots(file)


async def empty_torn(folder: Path, opener: Opener = open_file) -> None:
    """Empty what was once torn off the journal and kept aside.

    Raises:
        VaultUnreachableError: The disk refused.
    """
    path = folder / "vault.torn"
    with reaching():
        if peek(opener, path, 0)[0]:
            file = await opener(path)
            try:
                file.truncate(0)
                file.flush()
            finally:
                file.close()


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


def _begin(head: SealedFile) -> None:
    """Say in the head that a vault is being made; it stays said if it was before."""
    if head.read_at(0, len(BEGUN)) == BEGUN:
        head.truncate(len(BEGUN))
    else:
        head.truncate(0)
        head.write_at(0, BEGUN)
    head.flush()


def _empty(file: SealedFile) -> None:
    # Flushed, so that the head is never empty beside a journal that is not.
    with suppress(OSError):
        file.truncate(0)
        file.flush()


def _is_whole_page(content: bytes) -> bool:
    try:
        return decode_page(content) is not None
    except VaultError:
        # Of a newer version, say: for the opening to refuse.
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
        files = await open_files(folder, opener, undo, is_new=True)
        journal, made, place = begin_journal(
            files, 0, data_key, vault_id, tables, carry
        )
        page = HeadPage(1, vault_id, place, slots)
        # The head comes last, and its second page first: until one page is whole, the
        # first one says that nothing that was begun here counts as a vault.
        files.head.write_older(page, data_key)
        files.head.write_older(next_page(page), data_key)
        files.reserve.fill()
        vault = Vault(SealedStorage(journal, made.tables), files, bounds, ())
        undo.pop_all()
    return vault


def _nothing(table: str, document_id: str, where: bytes) -> bytes:
    raise AssertionError(table, document_id, where)
