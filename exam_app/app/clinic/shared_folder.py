"""The folder that a clinic shares with its devices: where it is, what is written there.

A clinic writes into its own part of the folder alone, for each device: receipts, day
packs, pictures, and a signed list of the device's photographs. That list is written
where it says something new, or lies there no more.
"""

from contextlib import suppress
from pathlib import Path

from exam_app.crypto import door
from exam_app.domain.moments import Moment
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.photographs import list_for, signed_list
from exam_app.store.vault.vault import Vault
from sync.errors import FolderError
from sync.photographs import PhotographList
from sync.transport.folder import Ending, FolderWriter, clinic_folder

FOLDER = "clinic_folder"
PHOTOGRAPHS_TOLD = "photographs_told"
_MOST_FOLDERS = 8


def folder_of(vault: Vault) -> str:
    """Return the folder's path as it was typed; empty when there is none."""
    return str(vault.settings.get(FOLDER, ""))


def own_folder(vault: Vault) -> str:
    """Name the sub-folder of a shared folder that this clinic itself writes."""
    clinic_id = str(vault.settings.get("device_id"))
    return clinic_folder(Path(), clinic_id, clinic_id).parent.name


def put_for_device(
    vault: Vault, root: Path, device_id: str, content: bytes, ending: Ending
) -> str:
    """Write into this clinic's own part of a shared folder, for one device.

    Returns:
        The name of the file.

    Raises:
        FolderError: The folder is gone, full, or may not be written.
    """
    return FolderWriter(_place(vault, root, device_id)).put(content, ending)


def tell_of_photographs(vault: Vault, root: Path, now: Moment) -> None:
    """Tell each device, in a shared folder, what is new of its photographs here.

    The signed list says which are held and which are asked for; a device without any
    is told nothing.

    Raises:
        FolderError: A device could not be told; the others were, and the next call
            tries it again.
        VaultError: What was said could not be noted; it may be said again.
    """
    exchange, folder = Exchange(vault), root.absolute().as_posix()
    # Earlier versions noted devices here and no folders.
    noted = vault.settings.get(PHOTOGRAPHS_TOLD, {}).items()
    every = {name: told for name, told in noted if isinstance(told, dict)}
    before, failed = every.pop(folder, {}), None
    told = dict(before)
    for device in exchange.pairing.trusted():
        said, device_id = list_for(exchange, device, now), device.device_id
        digest, name = told.get(device_id, ("", ""))
        lies_there = _is_there(_place(vault, root, device_id) / name)
        if _is_empty(said) or (digest == _digest(said) and lies_there):
            continue
        signed, ending = signed_list(exchange, said), Ending.PHOTOGRAPHS
        try:
            name = put_for_device(vault, root, device_id, signed, ending)
        except FolderError as error:
            failed = error
        else:
            told[device_id] = [_digest(said), name]
    if told != before:
        newest = [*every.items(), (folder, told)][-_MOST_FOLDERS:]
        vault.settings.put(PHOTOGRAPHS_TOLD, dict(newest))
    if failed is not None:
        raise failed


def _place(vault: Vault, root: Path, device_id: str) -> Path:
    return clinic_folder(root, str(vault.settings.get("device_id")), device_id)


def _is_there(path: Path) -> bool:
    with suppress(OSError):
        return path.is_file()
    return False


def _is_empty(said: PhotographList) -> bool:
    return not (said.held or said.wanted)


def _digest(said: PhotographList) -> str:
    names = "\n".join((*said.held, "wanted", *said.wanted))
    return door.sha256(names.encode()).hex()
