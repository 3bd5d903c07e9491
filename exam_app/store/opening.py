"""Create and open a vault folder.

The folder holds ``vault.head`` (key slots), ``vault.a`` and ``vault.b`` (the state)
and ``vault.lock``. Opening checks in this order: something is there, the lock, the
head, the secret, the head's seal, the state. Until the secret has opened a slot,
nothing but the empty lock file is written.
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
from exam_app.store.errors import (
    NoVaultError,
    VaultError,
    VaultExistsError,
    VaultFullError,
    VaultUnreachableError,
    save_refusal,
)
from exam_app.store.files import FolderLock, Opener, SealedFile, open_file
from exam_app.store.head import (
    PAGE_LENGTH,
    Head,
    HeadPage,
    check_page,
    decode_page,
    next_page,
)
from exam_app.store.key_slots import SlotKind, secret_bytes, unwrap_key, wrap_key
from exam_app.store.opened_vault import Vault
from exam_app.store.recovery_code import RANDOM_LENGTH, format_code
from exam_app.store.sealed_storage import SealedStorage
from exam_app.store.state import encode_state
from exam_app.store.two_slots import TwoSlotBody

KEYS_REPAIRED = (
    "One of the two pages with the keys was damaged. The other one is whole and was "
    "copied over it. If this happens again, copy your exams to another disk."
)
KEYS_NOT_REPAIRED = (
    "One of the two pages with the keys is damaged and could not be written again. "
    "The other one is whole. Copy your exams to another disk."
)


def vault_exists(folder: Path) -> bool:
    """Whether the folder holds a vault, whole or damaged.

    A creation that was cut off before its first flush left nothing worth keeping
    and does not count. Saved states without their head do: a backup of the head may
    turn up.

    Raises:
        VaultUnreachableError: The folder cannot be read.
    """
    with _reaching():
        if _length(folder / "vault.head") > PAGE_LENGTH or _length(folder / "vault.b"):
            return True
        if not _length(folder / "vault.head"):
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
    code = format_code(random_bytes(RANDOM_LENGTH))
    data_key, vault_id = random_bytes(32), random_bytes(16)
    slots = []
    for kind, typed in zip(SlotKind, (passphrase, code), strict=True):
        secret = secret_bytes(kind, typed)
        slots.append(await wrap_key(kind, secret, data_key, vault_id, costs))
    first_page = HeadPage(1, vault_id, (slots[0], slots[1]))
    return await _begin(folder, first_page, data_key, bounds, opener), code


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


async def _begin(
    folder: Path,
    first_page: HeadPage,
    data_key: bytes,
    bounds: DerivationBounds,
    opener: Opener,
) -> Vault:
    with _reaching(), ExitStack() as undo:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        lock = FolderLock(folder)
        undo.callback(lock.release)
        if vault_exists(folder):
            raise VaultExistsError("a vault is there already")
        head_file, body_files = await _open_files(folder, opener, undo)
        for file in (head_file, *body_files):
            file.truncate(0)
        body = TwoSlotBody(body_files, data_key, first_page.vault_id)
        body.save(encode_state({}))
        head = Head(head_file)
        # The head comes last: without it nothing that was begun counts as a vault.
        head.write_older(first_page, data_key)
        head.write_older(next_page(first_page, first_page.slots), data_key)
        vault = Vault(SealedStorage(body), head, data_key, bounds, lock, None)
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
    with _reaching(), ExitStack() as undo:
        lock = FolderLock(folder)
        undo.callback(lock.release)
        head_file, body_files = await _open_files(folder, opener, undo)
        head = Head(head_file)
        page = head.newest()
        data_key = await unwrap_key(page.slot(kind), secret, page.vault_id, bounds)
        check_page(page, data_key)
        body = TwoSlotBody(body_files, data_key, page.vault_id)
        storage = SealedStorage(body)
        reports = (body.report, _repair(head, page, data_key))
        report = " ".join(text for text in reports if text) or None
        vault = Vault(storage, head, data_key, bounds, lock, report)
        undo.pop_all()
    with suppress(VaultError):
        # A full disk must not keep the exams from being read.
        vault.people.forgive_wrong_pins()
    return vault


async def _open_files(
    folder: Path, opener: Opener, undo: ExitStack
) -> tuple[SealedFile, tuple[SealedFile, SealedFile]]:
    files = []
    for name in ("vault.head", "vault.a", "vault.b"):
        file = await opener(folder / name)
        undo.callback(file.close)
        files.append(file)
    return files[0], (files[1], files[2])


def _repair(head: Head, page: HeadPage, data_key: bytes) -> str | None:
    if not head.needs_repair():
        return None
    was_damaged = head.has_damaged_page()
    try:
        head.write_older(next_page(page, page.slots), data_key)
    except OSError:
        return KEYS_NOT_REPAIRED
    return KEYS_REPAIRED if was_damaged else None


@contextmanager
def _reaching() -> Iterator[None]:
    try:
        yield
    except OSError as error:
        refusal = save_refusal(error)
        if isinstance(refusal, VaultFullError):
            raise refusal from error
        raise VaultUnreachableError("the system refused the files") from error


def _length(path: Path) -> int:
    return path.stat().st_size if path.exists() else 0
