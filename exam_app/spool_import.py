"""Import what lies in the spool once the store is open."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from exam_app.domain.moments import Moment
from exam_app.store.spool import refuse_spooled, spooled, unspool
from exam_app.store.vault import Vault
from exam_app.vault_inbox import VaultInbox
from sync.errors import SyncError
from sync.receiving import Received, receive


@dataclass(frozen=True, slots=True)
class SpoolReport:
    """What became of the spool.

    Attributes:
        received: Stored, one for each bundle, oldest first.
        refused: Advice for each that was not.
    """

    received: tuple[Received, ...] = ()
    refused: tuple[str, ...] = ()


def import_spool(
    vault: Vault, folder: Path, now: Moment, *, is_demo: bool = False
) -> SpoolReport:
    """Import every spooled bundle; each leaves the spool after its own save.

    Raises:
        VaultError: The store could not save; the rest still waits.
    """
    received, refused = [], []
    inbox = VaultInbox(vault, is_demo=is_demo)
    for path, sealed in spooled(folder):
        try:
            received.append(receive(sealed, inbox, now))
        except SyncError as error:
            refused.append(error.advice)
            if not vault.exchange.quarantine.has(sealed):
                refuse_spooled(path)
                continue
        unspool(path)
    return SpoolReport(tuple(received), tuple(refused))


def present_moment() -> Moment:
    """Return now, with the local offset."""
    return Moment.from_datetime(datetime.now().astimezone())
