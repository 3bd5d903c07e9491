"""Standing between a folder shared with devices and the register.

Sealed hand-overs in the folder go into the register's queue; once a worker stored one,
its receipt is written for its device. It never opens anything. While the register is
lost the files wait in the folder, and that is said once.
"""

import sys
import time
from pathlib import Path

from exam_app.app.clinic.shared_folder import (
    own_folder,
    put_for_device,
    tell_of_photographs,
)
from exam_app.app.exam_sessions import now
from exam_app.domain.wording.count_words import count_words
from exam_app.exchange.exchange import Exchange
from exam_app.register.queue import SpoolQueue
from exam_app.register.register_vault import RegisterVault
from exam_app.store.errors import VaultUnreachableError
from sync.photographs import is_photograph
from sync.transport.folder import Ending
from sync.transport.folder_reading import FolderReader

_WAIT_SECONDS = 2.0


class Serving:
    """One folder that is served.

    Attributes:
        queued: How many hand-overs were put into the queue.
        answered: How many receipts were written.
    """

    def __init__(self, vault: RegisterVault, root: Path) -> None:
        """Serve a folder for an open register."""
        self._vault, self._root = vault, root
        self._queue = SpoolQueue(vault.connection, vault.clinic)
        self._reader = FolderReader(root, skipped=own_folder(vault))
        self._seen: set[str] = set()
        self._unanswered: set[str] = set()
        self.queued = self.answered = 0

    def serve(self, *, is_once: bool) -> str:
        """Serve once, or until it is interrupted.

        Returns:
            What was done, in a sentence.

        Raises:
            FolderError: The folder cannot be reached.
            VaultError: With ``is_once``, the register was lost.
        """
        was_lost = False
        while True:
            try:
                self.look()
                was_lost = False
            except VaultUnreachableError as error:
                if is_once:
                    raise
                if not was_lost:
                    sys.stderr.write(f"{error.advice}\n")
                was_lost = True
            if is_once:
                queued = count_words(self.queued, "hand-over")
                answered = count_words(self.answered, "receipt")
                return f"{queued} put into the queue, {answered} written."
            time.sleep(_WAIT_SECONDS)

    def look(self) -> None:
        """Queue what is new in the folder, and answer what was stored since."""
        for found in self._reader.look(self._seen, now()).ready:
            if not self._is_stored(found.sha256) or is_photograph(found.content):
                self.queued += self._queue.put(found.content)
            self._seen.add(found.sha256)
            if not is_photograph(found.content):
                self._unanswered.add(found.sha256)
        self._answer()
        tell_of_photographs(self._vault, self._root, now())

    def _is_stored(self, bundle_hash: str) -> bool:
        return Exchange(self._vault).incoming.get(bundle_hash) is not None

    def _answer(self) -> None:
        incoming = Exchange(self._vault).incoming
        for bundle_hash in sorted(self._unanswered):
            kept = incoming.get(bundle_hash)
            receipt = incoming.receipt(bundle_hash)
            if kept is not None and receipt is not None:
                device = kept.device_id
                put_for_device(self._vault, self._root, device, receipt, Ending.RECEIPT)
                self._unanswered.discard(bundle_hash)
                self.answered += 1
