"""Create a vault, empty or with what a backup held."""

from contextlib import ExitStack
from pathlib import Path

from exam_app.crypto.door import (
    PRODUCTION_BOUNDS,
    DerivationBounds,
    KeyDerivation,
    check_bounds,
    random_bytes,
)
from exam_app.store.errors import VaultExistsError
from exam_app.store.files import FolderLock, Opener, open_file
from exam_app.store.folders import open_files, reaching, vault_exists
from exam_app.store.head import HeadPage, next_page
from exam_app.store.journal_files import Slots, begin_journal
from exam_app.store.key_slots import SlotKind, new_slots, secret_bytes
from exam_app.store.opened_vault import Vault
from exam_app.store.rewriting import Carry
from exam_app.store.rows import Tables
from exam_app.store.sealed_storage import SealedStorage


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
        lock = FolderLock(folder)
        undo.callback(lock.release)
        if vault_exists(folder, opener):
            raise VaultExistsError("a vault is there already")
        head, files = await open_files(folder, opener, undo, is_new=True)
        journal, made, place = begin_journal(
            files, 0, data_key, vault_id, tables, carry
        )
        page = HeadPage(1, vault_id, place.live, place.journal_id, place.mark, slots)
        # The head comes last, and its second page first: until one page is whole, the
        # first one says that nothing that was begun here counts as a vault.
        head.write_older(page, data_key)
        head.write_older(next_page(page), data_key)
        files.reserve.fill()
        storage = SealedStorage(journal, made.tables)
        vault = Vault(storage, head, bounds, lock, files, None)
        undo.pop_all()
    return vault


def _nothing(table: str, document_id: str, where: bytes) -> bytes:
    raise AssertionError(table, document_id, where)
