"""The body: the whole state sealed into two files, written alternately.

An odd sequence number stands in ``vault.a``, an even one in ``vault.b``. A save
overwrites the older of the two and counts only after its flush returned, so the
newest acknowledged state is never the one being written. Opening takes the highest
sequence number that authenticates.
"""

import struct
from dataclasses import dataclass

from exam_app.crypto.door import hkdf_sha256, random_bytes, seal, unseal
from exam_app.crypto.errors import WrongKeyError
from exam_app.store.errors import (
    VaultDamagedError,
    VaultFullError,
    VaultStoppedError,
    save_refusal,
)
from exam_app.store.files import SealedFile

MAGIC = b"exam-vault slot\n"
FORMAT_VERSION = 1
PREFIX = struct.Struct(">16sH16sQQ12s")
LONGEST_STATE = 1 << 30
_TAG_LENGTH = 16

SKIPPED = (
    "One of the two saved states did not authenticate and was passed over. The "
    "newest whole state is shown. If the app or the power stopped in the middle of "
    "a save, only that unfinished save is missing. Check the last exam you changed."
)
OLD_COPY = (
    "The two saved states do not follow each other: one file was replaced by an "
    "older copy. The newer state is shown. Check the last exam you changed."
)


@dataclass(frozen=True, slots=True)
class _Found:
    sequence: int
    plain: bytes


class TwoSlotBody:
    """The two files of a vault's state.

    Attributes:
        report: What was found wrong on opening, as a sentence for the person at the
            screen, or None.
    """

    __slots__ = ("_files", "_key", "_sequence", "_stopped", "_vault_id", "report")

    def __init__(
        self,
        files: tuple[SealedFile, SealedFile],
        data_key: bytes,
        vault_id: bytes,
    ) -> None:
        """Take two open files; nothing is read before ``load``."""
        self._files = files
        self._key = hkdf_sha256(data_key, vault_id, b"exam-vault state v1", 32)
        self._vault_id = vault_id
        self._sequence = 0
        self._stopped = False
        self.report: str | None = None

    def load(self) -> bytes:
        """Give the newest whole state.

        Raises:
            VaultDamagedError: Neither file authenticates. Nothing was written.
            OSError: A file could not be read.
        """
        found = [self._read(slot) for slot in range(2)]
        whole = [state for state in found if state]
        if not whole:
            raise VaultDamagedError("neither saved state authenticates")
        newest = max(whole, key=lambda state: state.sequence)
        self._sequence = newest.sequence
        self.report = self._judge(whole)
        return newest.plain

    def save(self, plain: bytes) -> None:
        """Seal a state over the older file; return once it is on the medium.

        Raises:
            VaultFullError: No room; may be tried again.
            VaultStoppedError: The disk failed now or earlier; never tried again.
        """
        if self._stopped:
            raise VaultStoppedError("an earlier save failed")
        if len(plain) > LONGEST_STATE:
            raise VaultFullError("the state is longer than a file may hold")
        sequence = self._sequence + 1
        content = self._seal(sequence, plain)
        file = self._files[_slot_of(sequence)]
        try:
            file.write_at(0, content)
            file.truncate(len(content))
        except OSError as error:
            refusal = save_refusal(error)
            self._stopped = isinstance(refusal, VaultStoppedError)
            raise refusal from error
        try:
            file.flush()
        except OSError as error:
            # What a failed flush left on the medium is unknown, and a second flush
            # would report success without writing.
            self._stopped = True
            raise save_refusal(error) from error
        self._sequence = sequence

    def close(self) -> None:
        """Release both files."""
        for file in self._files:
            file.close()

    def _seal(self, sequence: int, plain: bytes) -> bytes:
        nonce = random_bytes(12)
        length = len(plain) + _TAG_LENGTH
        prefix = PREFIX.pack(
            MAGIC, FORMAT_VERSION, self._vault_id, sequence, length, nonce
        )
        return prefix + seal(self._key, nonce, plain, prefix)

    def _read(self, slot: int) -> _Found | None:
        file = self._files[slot]
        prefix = file.read_at(0, PREFIX.size)
        if len(prefix) < PREFIX.size:
            return None
        magic, version, vault_id, sequence, length, nonce = PREFIX.unpack(prefix)
        fits = (
            (magic, version, vault_id) == (MAGIC, FORMAT_VERSION, self._vault_id)
            and sequence > 0
            and _slot_of(sequence) == slot
            and _TAG_LENGTH <= length <= LONGEST_STATE + _TAG_LENGTH
            and file.size() == PREFIX.size + length
        )
        if not fits:
            return None
        sealed = file.read_at(PREFIX.size, length)
        try:
            return _Found(sequence, unseal(self._key, nonce, sealed, prefix))
        except WrongKeyError:
            return None

    def _judge(self, whole: list[_Found]) -> str | None:
        if len(whole) == 2:
            apart = abs(whole[0].sequence - whole[1].sequence)
            return None if apart == 1 else OLD_COPY
        other = self._files[_slot_of(self._sequence + 1)]
        is_first_save = self._sequence == 1 and other.size() == 0
        return None if is_first_save else SKIPPED


def _slot_of(sequence: int) -> int:
    return (sequence + 1) % 2
