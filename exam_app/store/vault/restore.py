"""Make a new vault from a backup, or from what is whole in a damaged one.

What comes out is a new device: it has new keys and remembers the former ones, so
that two copies of one store never speak with one voice. The source is only read.
"""

import uuid
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from exam_app.crypto import door
from exam_app.crypto.door import DerivationBounds, KeyDerivation, check_bounds
from exam_app.record.lineage import SUCCESSOR, FormerKey
from exam_app.store.engine.documents import Bodies, stored_row
from exam_app.store.engine.files import Opener, SealedFile, open_file
from exam_app.store.engine.format import FrameKeys, derive_frame_keys
from exam_app.store.engine.head import (
    Head,
    HeadPage,
    check_page,
    open_with_either,
    was_closed,
)
from exam_app.store.engine.journal import Journal, Reserve
from exam_app.store.engine.keys import SlotKind, new_slots, secret_bytes
from exam_app.store.engine.picture_files import PictureFiles, PictureFolder
from exam_app.store.engine.read_files import (
    ForgivingFile,
    GrownFile,
    MemoryPart,
    ReadFile,
)
from exam_app.store.engine.replay import Replayed
from exam_app.store.engine.rewrite import carried
from exam_app.store.engine.sealed_pictures import PictureKeys
from exam_app.store.engine.storage import SealedStorage
from exam_app.store.engine.tables import SealedTables
from exam_app.store.errors import UnreadableFileError, VaultDamagedError
from exam_app.store.repositories.reports import LossReports
from exam_app.store.repositories.settings import Settings
from exam_app.store.vault.backup import open_backup, read_backup
from exam_app.store.vault.folder import (
    PICTURE_FOLDER,
    begin_vault,
    reaching,
    require_vault,
)
from exam_app.store.vault.salvage import Salvaged, salvage
from exam_app.store.vault.vault import Vault


@dataclass(frozen=True, slots=True)
class Secrets:
    """What opens the source, and what the new vault gets.

    Attributes:
        typed: The passphrase or recovery code of the source.
        passphrase: Of the new vault.
        derivation: Argon2id costs of the new vault.
        bounds: What a reader accepts; tests alone pass others.
    """

    typed: str
    passphrase: str
    derivation: KeyDerivation
    bounds: DerivationBounds


async def restore_vault(
    backup: SealedFile, folder: Path, secrets: Secrets, opener: Opener = open_file
) -> tuple[Vault, str]:
    """Make a vault from a backup, in a folder that holds none.

    Returns:
        The open vault, and its recovery code to be shown once.

    Raises:
        NoBackupError: The file is no whole backup; nothing was written.
        WrongPassphraseError: It does not open with this; nothing was written.
        PassphraseTooLongError: One of the two; nothing was read.
        VaultExistsError: The folder holds a vault.
        VaultError: The disk failed.
    """
    secret_bytes(SlotKind.PASSPHRASE, secrets.passphrase)
    with reaching():
        parts = read_backup(backup)
    data_key = await _data_key(parts.page, secrets)
    keys, found = open_backup(parts, data_key)
    storage = _grown(parts.journal, keys, found)
    vault, code = await _begin(storage, folder, secrets, opener)
    _bring_pictures(vault, parts.pictures, PictureKeys(data_key, parts.page.vault_id))
    return vault, code


async def salvage_vault(
    damaged: Path, folder: Path, secrets: Secrets, opener: Opener = open_file
) -> tuple[Vault, str, Salvaged]:
    """Make a vault from what still authenticates in a damaged one.

    The damaged folder may be write-protected; nothing in it is opened to be written.

    Returns:
        The open vault, its recovery code, and what was found and what is lost.

    Raises:
        NoVaultError: The folder holds none, or one that was cut off in its making.
        VaultDamagedError: No head page, or its slots, or no journal can be read.
        WrongPassphraseError: It does not open with this.
        VaultExistsError: The folder holds a vault.
    """
    secret_bytes(SlotKind.PASSPHRASE, secrets.passphrase)
    require_vault(damaged)
    with reaching(), closing(_file_of(damaged, "vault.head")) as file:
        head = Head(file)
    page = head.newest()
    data_key = await _data_key(page, secrets)
    name = ("vault.a", "vault.b")[page.place.live]
    with reaching(), closing(_file_of(damaged, name)) as file:
        # An older page beside a damaged one does not know of the saves after it.
        is_end_known = was_closed(page, data_key) and not head.has_damaged_page()
        keys = derive_frame_keys(data_key, page.vault_id, page.place.journal_id)
        part = ForgivingFile(file)
        result = salvage(part, keys, page.place.mark, was_closed=is_end_known)
        size, tables = part.size(), result.tables
        storage = _grown(part, keys, Replayed(tables=tables, end=size, size=size))
        losses = LossReports(SealedTables(storage=lambda: storage))
        result = replace(result, earlier=tuple(losses.unread()))
        if not result.is_whole:
            losses.keep(f"salvage:{page.place.journal_id.hex()}", result.losses)
        vault, code = await _begin(storage, folder, secrets, opener)
    source = PictureFolder(damaged / PICTURE_FOLDER)
    _bring_pictures(vault, source, PictureKeys(data_key, page.vault_id))
    return vault, code, result


def _bring_pictures(vault: Vault, source: PictureFiles, keys: PictureKeys) -> None:
    """Bring the photographs too; those that lack are told until it was read."""
    lacking = vault.photographs.bring(source, keys)
    if lacking:
        key = f"photographs:{door.random_bytes(8).hex()}"
        vault.report_loss(key, pictures_lacking(lacking))


def pictures_lacking(count: int) -> str:
    """Say that photographs did not come along."""
    are = "photograph was" if count == 1 else "photographs were"
    return (
        f"{count} {are} not brought along: missing or damaged where they came from, or "
        "without room here. The records that name them are whole."
    )


def _file_of(damaged: Path, name: str) -> ReadFile:
    try:
        return ReadFile(damaged / name)
    except UnreadableFileError as error:
        raise VaultDamagedError(f"{name} cannot be read") from error


def _grown(file: SealedFile, keys: FrameKeys, found: Replayed) -> SealedStorage:
    """Save behind what was read, in memory: the source stays as it is."""
    journal = Journal(GrownFile(file), keys, found, Reserve(MemoryPart()))
    return SealedStorage(journal, found.tables)


def become_new_device(settings: Settings, new_id: Callable[[], str]) -> None:
    """Replace the device's keys and remember the public ones it had.

    Each former key vouches for the new ones with a signature, so that whoever
    trusted it can follow. Its private half is dropped: the former device may live.
    """
    former = settings.get("signing_key")
    if former is None:
        return
    signing, agreement = door.new_signing_key(), door.new_agreement_key()
    successor = door.signing_public_key(signing) + door.agreement_public_key(agreement)
    entry = FormerKey(
        settings.get("device_id", ""),
        door.signing_public_key(former),
        door.sign(former, SUCCESSOR + successor),
        _public_agreement(settings.get("agreement_key")),
    )
    known = settings.get("former_keys", [])
    settings.put("former_keys", [*known, stored_row(entry)])
    settings.put("signing_key", signing)
    settings.put("agreement_key", agreement)
    settings.put("device_id", new_id())
    settings.put("recovery_confirmed", value=False)


async def _data_key(page: HeadPage, secrets: Secrets) -> bytes:
    data_key = await open_with_either(page, secrets.typed, secrets.bounds)
    check_page(page, data_key)
    return data_key


async def _begin(
    source: SealedStorage, folder: Path, secrets: Secrets, opener: Opener
) -> tuple[Vault, str]:
    check_bounds(secrets.derivation, secrets.bounds)
    settings = Settings(SealedTables(storage=lambda: source))
    with source.transaction():
        become_new_device(settings, lambda: uuid.uuid4().hex)
    data_key, vault_id = door.random_bytes(32), door.random_bytes(16)
    secret = secret_bytes(SlotKind.PASSPHRASE, secrets.passphrase)
    slots, code = await new_slots(secret, data_key, vault_id, secrets.derivation)
    vault = await begin_vault(
        folder,
        vault_id,
        slots,
        data_key,
        source.tables(),
        carried(source.journal(), Bodies(data_key, vault_id)),
        bounds=secrets.bounds,
        opener=opener,
    )
    return vault, code


def _public_agreement(private: Any) -> bytes:  # noqa: ANN401
    return door.agreement_public_key(private) if private else b""
