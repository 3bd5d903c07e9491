"""Sign a closed exam or a note, and read one back: the signed bytes are the record.

Order of reading: size, outer form, key, signature; then version, inner form, fields.
Nothing of a newer version is read, so that nothing in it is missed.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import Any

from exam_app.crypto import door
from exam_app.domain.animal.signalment import Owner
from exam_app.domain.exam.exam import Exam
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.record.cbor_form import ARRAY, UNSIGNED, decode, encode, read_head
from exam_app.record.cose import Kind, OpenedRecord, open_record, sign_record
from exam_app.record.errors import (
    CannotBeWrittenError,
    ExamNotClosedError,
    NotARecordError,
    ProtocolNotKeptError,
    RecordTooNewError,
    WordingChangedError,
    WrongKindError,
)
from exam_app.record.field_reader import read_fields
from exam_app.record.field_writer import write_exam, write_fields
from exam_app.record.notes import Note
from exam_app.record.salted_blocks import (
    owner_block,
    private_block,
    read_private,
    salted_hash,
)
from exam_app.record.schema import FIELD_KEYS, FieldMap
from exam_app.record.spelled_values import Surroundings
from exam_app.record.vocabulary import Vocabulary, vocabulary_of

VERSION = 1
_CONTENT, _OWNER_HASH, _VOCABULARY_CHECK, _PRIVATE_HASH = 1, 2, 3, 4
_HASH_LENGTH = 32

ProtocolLookup = Callable[[str], SpeciesProtocol | None]


@dataclass(frozen=True, slots=True)
class SignedExam:
    """A closed exam as signed.

    Attributes:
        signed: The record itself: keep and pass on these bytes, unaltered.
        exam_hash: SHA-256 of ``signed``, in hexadecimal.
        owner_hash: As in the record, in hexadecimal; empty without an owner.
        private_block: The private notes as they stand beside the record; empty
            without any.
    """

    signed: bytes
    exam_hash: str
    owner_hash: str = ""
    private_block: bytes = b""


@dataclass(frozen=True, slots=True)
class ReadExam:
    """A verified exam: a view, the signed bytes stay the record.

    Attributes:
        exam: Without private notes, which stand beside it; a record of an older
            version may hold them inside.
        exam_hash: SHA-256 of the signed bytes, in hexadecimal.
        owner_hash: In hexadecimal; empty without an owner.
        key_id: Which device key signed it.
        unknown: Fields this version does not know, by path.
        private_hash: In hexadecimal; empty when no private note stands beside it.
    """

    exam: Exam
    exam_hash: str
    key_id: bytes
    owner_hash: str = ""
    unknown: dict[str, object] = field(default_factory=dict)
    private_hash: str = ""


@dataclass(frozen=True, slots=True)
class ReadNote:
    """A verified note; attributes as of ``ReadExam``."""

    note: Note
    note_hash: str
    key_id: bytes
    unknown: dict[str, object] = field(default_factory=dict)


def close_and_sign(
    exam: Exam,
    protocol: SpeciesProtocol,
    seed: bytes,
    owner: Owner | None,
    salt: bytes,
    private_salt: bytes = b"",
) -> SignedExam:
    """Sign a closed exam, and read it back before it is called signed.

    Private notes are left out of the signed bytes; these hold their hash.

    Args:
        exam: Closed; it names the protocol by the hash of its content.
        protocol: The protocol of that hash.
        seed: The device's 32-byte Ed25519 seed.
        owner: Details that stand beside the record, or ``None``.
        salt: 32 random bytes for the owner's hash, drawn for this record alone.
        private_salt: Others for the hash of the private notes; may be empty when
            there are none.

    Raises:
        ExamNotClosedError: The exam is still open.
        CannotBeWrittenError: Something in it has no place in a record.
        RecordTooLargeError: It passes a limit.
    """
    if not exam.is_closed:
        raise ExamNotClosedError
    vocabulary = vocabulary_of(protocol)
    block = private_block(exam) if exam.private_notes else b""
    shared = replace(exam, private_notes=())
    body: FieldMap = {
        _CONTENT: write_exam(shared, vocabulary),
        _VOCABULARY_CHECK: vocabulary.check,
    }
    if owner is not None:
        body[_OWNER_HASH] = salted_hash(owner_block(owner), salt)
    if block:
        body[_PRIVATE_HASH] = salted_hash(block, private_salt)
    signed = sign_record(Kind.EXAM, encode([VERSION, body]), seed)
    _require_same(shared, protocol, signed, seed)
    if block and _reread(lambda: read_private(block, shared)) != exam.private_notes:
        raise CannotBeWrittenError("a private note does not read back as it was")
    owner_hash = body.get(_OWNER_HASH, b"").hex()
    return SignedExam(signed, door.sha256(signed).hex(), owner_hash, block)


def read_exam(
    signed: bytes, public_keys: Iterable[bytes], protocol_lookup: ProtocolLookup
) -> ReadExam:
    """Verify a signed exam and return what it says.

    Args:
        public_keys: Ed25519 public keys of the devices known here.
        protocol_lookup: Returns the protocol of a content hash in hexadecimal, or
            ``None`` when it is not kept here.

    Raises:
        NotARecordError, RecordTooLargeError, UnknownDeviceKeyError, BadSignatureError,
        WrongKindError, RecordTooNewError, ProtocolNotKeptError, WordingChangedError:
            See each error; nothing is returned in part.
    """
    opened = open_record(signed, public_keys)
    body, around = _read_body(opened, Kind.EXAM)
    content = body.pop(_CONTENT)
    owner_hash = _hash_in(body, _OWNER_HASH)
    private_hash = _hash_in(body, _PRIVATE_HASH)
    check = body.pop(_VOCABULARY_CHECK, None)
    if check is not None:
        around.vocabulary = _vocabulary_for(content, check, protocol_lookup)
    exam = read_fields(Exam, content, around)
    if not exam.is_closed:
        raise NotARecordError("the exam in it is not closed")
    around.unknown.update((f"//{key}", value) for key, value in body.items())
    exam_hash = door.sha256(signed).hex()
    return ReadExam(
        exam, exam_hash, opened.key_id, owner_hash, around.unknown, private_hash
    )


def _hash_in(body: FieldMap, key: int) -> str:
    found = body.pop(key, b"")
    if not isinstance(found, bytes) or len(found) not in {0, _HASH_LENGTH}:
        raise NotARecordError("a hash in it is no hash")
    return found.hex()


def sign_note(note: Note, seed: bytes) -> bytes:
    """Return a note as signed by a device.

    Raises:
        CannotBeWrittenError: Something in it has no place in a record.
        RecordTooLargeError: It passes a limit.
    """
    body = encode([VERSION, {_CONTENT: write_fields(note, Surroundings())}])
    signed = sign_record(Kind.NOTE, body, seed)
    read = _reread(lambda: read_note(signed, [door.signing_public_key(seed)]).note)
    if read != note:
        raise CannotBeWrittenError("the note does not read back as it was")
    return signed


def read_note(signed: bytes, public_keys: Iterable[bytes]) -> ReadNote:
    """Verify a signed note and return what it says; raises like ``read_exam``."""
    opened = open_record(signed, public_keys)
    body, around = _read_body(opened, Kind.NOTE)
    note = read_fields(Note, body.pop(_CONTENT), around)
    around.unknown.update((f"//{key}", value) for key, value in body.items())
    note_hash = door.sha256(signed).hex()
    return ReadNote(note, note_hash, opened.key_id, around.unknown)


def _read_body(opened: OpenedRecord, kind: Kind) -> tuple[FieldMap, Surroundings]:
    """Return a verified body's fields: kind first, then version, then form."""
    if opened.kind is not kind:
        raise WrongKindError(f"{opened.kind.name} instead of {kind.name}".lower())
    body = opened.body
    major, length, end = read_head(body, 0)
    if major != ARRAY or length < 1:
        raise NotARecordError("it says no version")
    major, version, _ = read_head(body, end)
    if major != UNSIGNED or version == 0:
        raise NotARecordError("it says no version")
    if version > VERSION:
        raise RecordTooNewError(f"version {version}")
    parts = decode(body)
    if len(parts) != 2 or not isinstance(parts[1], dict) or _CONTENT not in parts[1]:
        raise NotARecordError("it has no content")
    return parts[1], Surroundings()


def _vocabulary_for(
    content: object, check: object, lookup: ProtocolLookup
) -> Vocabulary:
    """Return the words of the protocol a record names, if they are the signed ones."""
    key = FIELD_KEYS[Exam]["protocol_hash"]
    named = content.get(key) if isinstance(content, dict) else None
    if not isinstance(named, bytes):
        raise NotARecordError("it names no protocol")
    protocol = lookup(named.hex())
    if protocol is None:
        raise ProtocolNotKeptError(named.hex())
    vocabulary = vocabulary_of(protocol)
    if vocabulary.check != check:
        raise WordingChangedError
    return vocabulary


def _require_same(
    exam: Exam, protocol: SpeciesProtocol, signed: bytes, seed: bytes
) -> None:
    """Refuse to hand out a record that does not say exactly what the exam says."""
    keys = [door.signing_public_key(seed)]
    read = _reread(lambda: read_exam(signed, keys, lambda _: protocol))
    if read.exam != exam or read.unknown:
        raise CannotBeWrittenError("the exam does not read back as it was")


def _reread(read: Callable[[], Any]) -> Any:  # noqa: ANN401
    try:
        return read()
    except (NotARecordError, WordingChangedError) as error:
        raise CannotBeWrittenError("it does not read back") from error
