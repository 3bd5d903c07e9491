"""Photographs that this device hands over: into the folder, or each as a file.

They travel in no code. Each is offered until the clinic's signed list says that it is
held there; writing it again writes the same file.
"""

from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

from exam_app.exchange.exchange import Exchange
from exam_app.exchange.photographs import sealed_photograph, to_hand_over
from exam_app.language.catalogue import tr_plural
from exam_app.store.errors import PhotographMissingError
from exam_app.store.vault.vault import Vault
from sync.transport.folder import Ending, FolderWriter, device_folder


def put_photographs(vault: Vault, root: Path) -> int:
    """Write what waits into this device's own part of the folder; give how many.

    Raises:
        NotPairedError: There is no confirmed clinic.
        FolderError: The folder is gone, full, or may not be written.
    """
    writer = FolderWriter(device_folder(root, vault.settings.get("device_id")))
    count = 0
    for _, sealed in photograph_files(vault):
        writer.put(sealed, Ending.PHOTOGRAPH)
        count += 1
    return count


def photograph_files(vault: Vault) -> Iterator[tuple[str, bytes]]:
    """Yield each photograph that waits as a file: its name and its sealed bytes.

    One whose picture is not whole here is left out.

    Raises:
        NotPairedError: There is no confirmed clinic.
    """
    exchange = Exchange(vault)
    for row in to_hand_over(exchange):
        try:
            sealed = sealed_photograph(exchange, row)
        except PhotographMissingError:
            continue
        yield f"{sha256(sealed).hexdigest()}{Ending.PHOTOGRAPH}", sealed


def to_send_words(vault: Vault) -> str:
    """Say how many photographs the clinic has not said it holds; empty for none."""
    waiting = len(to_hand_over(Exchange(vault)))
    if not waiting:
        return ""
    return tr_plural(
        "{count} photograph goes by folder or file, not by codes.",
        "{count} photographs go by folder or file, not by codes.",
        waiting,
    )
