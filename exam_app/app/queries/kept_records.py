"""Closed records kept here: verified first, then read, never the other way."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from exam_app.app.session import Session
from exam_app.domain.exam.exam import Exam
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.protocols import protocol_by_hash
from exam_app.protocols.loader import LoadedProtocol
from exam_app.record.records import ReadExam, read_exam
from exam_app.record.salted_blocks import block_matches, read_private
from exam_app.store.vault.vault import Vault


@dataclass(frozen=True, slots=True)
class KeptRecord:
    """A verified record with the protocol it names.

    Attributes:
        exam_hash: SHA-256 of the signed bytes, in hexadecimal.
        key_id: Of the key that signed it, 16 bytes.
        lacks_private: Whether a private note was signed with it that is not here.
    """

    exam: Exam
    loaded: LoadedProtocol
    exam_hash: str
    key_id: bytes = b""
    lacks_private: bool = False


async def open_kept(session: Session, exam_id: str) -> KeptRecord | None:
    """Verify and read a closed record; ``None`` when no such exam is closed here.

    Raises:
        RecordError: The signed bytes do not verify or cannot be read.
    """
    return await session.read(lambda: read_kept(session.vault, exam_id))


def read_kept(
    vault: Vault, exam_id: str, record_hash: str | None = None
) -> KeptRecord | None:
    """Do the same with an open vault.

    Args:
        vault: The open vault.
        exam_id: The exam's own id.
        record_hash: Of one revision; without it, the highest one.
    """
    return record_reader(vault)(exam_id, record_hash)


RecordReader = Callable[[str, str | None], KeptRecord | None]


def record_reader(vault: Vault, species: str = "") -> RecordReader:
    """Return what does the same for many records, asking once for the known keys.

    Args:
        vault: The open vault.
        species: Of the animal, where it is known: no other's protocol need be loaded.
    """
    keys = Exchange(vault).signing_keys()

    def read(exam_id: str, record_hash: str | None) -> KeptRecord | None:
        signed = vault.closed.get(exam_id, record_hash)
        return None if signed is None else _read(vault, signed, keys, species)

    return read


def _read(
    vault: Vault, signed: bytes, keys: Sequence[bytes], species: str
) -> KeptRecord:
    named: list[LoadedProtocol] = []

    def lookup(content_hash: str) -> SpeciesProtocol | None:
        loaded = protocol_by_hash(vault, content_hash, species)
        if loaded is not None:
            named.append(loaded)
        return loaded.protocol if loaded else None

    read = read_exam(signed, keys, lookup)
    if not named:
        lookup(read.exam.protocol_hash)
    exam = _with_private(vault, read)
    lacks = bool(read.private_hash) and exam is read.exam
    return KeptRecord(exam, named[0], read.exam_hash, read.key_id, lacks)


def _with_private(vault: Vault, read: ReadExam) -> Exam:
    """Return an exam with the private notes that are kept beside its record."""
    beside = vault.privates.get(read.exam_hash)
    if beside is None or not block_matches(read.private_hash, *beside):
        return read.exam
    notes = tuple(read_private(beside[1], read.exam))
    return replace(read.exam, private_notes=(*read.exam.private_notes, *notes))
