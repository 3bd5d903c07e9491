"""Receipts and day packs that arrive in the shared folder."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from exam_app.ui.exam_room import now
from exam_app.ui.hand_over_outbox import OutgoingBundle
from sync.folder import Ending, FolderReader, FolderWriter, clinic_folder, device_folder

if TYPE_CHECKING:
    from exam_app.store.vault import Vault

FOLDER = "hand_over_folder"


def put_bundles(vault: "Vault", root: Path, found: Sequence[OutgoingBundle]) -> None:
    """Write sealed bundles into this device's own part of the folder.

    Raises:
        FolderError: The folder is gone, full, or may not be written.
    """
    writer = FolderWriter(device_folder(root, vault.settings.get("device_id")))
    for bundle in found:
        writer.put(bundle.sealed, Ending.BUNDLE)


def arrival_words(vault: "Vault") -> tuple[str, ...]:
    """Say what came with the last look."""
    return ()


def look(vault: "Vault", root: Path) -> None:
    """Take what the clinic put into the folder for this device."""
    clinic = vault.exchange.pairing.clinic() or {}
    within = clinic_folder(
        Path(), str(clinic.get("clinic_id")), vault.settings.get("device_id")
    )
    FolderReader(root, within=within.as_posix()).look((), now())
