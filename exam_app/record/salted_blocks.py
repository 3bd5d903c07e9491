"""Owner details and private notes stand beside a record, which holds a salted hash.

The 32 random bytes keep a short name or telephone number from being guessed out of the
hash. Once block and salt are erased, the hash says nothing; the signature still holds.

The signed bytes of an exam go wherever its record goes, also to other devices; so notes
for the veterinarian only are no part of them. Their block travels to the clinic alone.
That a record has a private note can be seen in it; what it says cannot, as long as the
salt is unknown.
"""

from collections.abc import Sequence

from exam_app.crypto import door
from exam_app.domain.animal.signalment import Owner
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.visit import PrivateNote
from exam_app.record.cbor_form import decode, encode
from exam_app.record.errors import CannotBeWrittenError, NotARecordError
from exam_app.record.field_reader import read_fields
from exam_app.record.field_writer import write_fields
from exam_app.record.spelled_values import Surroundings

SALT_LENGTH = 32


def owner_block(owner: Owner) -> bytes:
    """Return the one spelling of an owner's details: deterministic CBOR."""
    return encode(write_fields(owner, Surroundings()))


def private_block(exam: Exam) -> bytes:
    """Return the one spelling of an exam's private notes: deterministic CBOR.

    People and times are spelled as inside the exam, words are spelled out.
    """
    around = _around(exam)
    return encode([write_fields(note, around) for note in exam.private_notes])


def read_private(block: bytes, exam: Exam) -> Sequence[PrivateNote]:
    """Return the notes of a block, which must match the record's hash.

    Args:
        exam: The record's; it names the people and the start.

    Raises:
        NotARecordError: It is none of this format.
    """
    written = decode(block)
    if not isinstance(written, list):
        raise NotARecordError("no list of private notes")
    around = _around(exam)
    return tuple(read_fields(PrivateNote, one, around) for one in written)


def salted_hash(block: bytes, salt: bytes) -> bytes:
    """Return SHA-256 of the salt followed by a block, 32 bytes.

    Args:
        salt: 32 random bytes, drawn for this block of this record alone.

    Raises:
        CannotBeWrittenError: The salt has another length.
    """
    if len(salt) != SALT_LENGTH:
        raise CannotBeWrittenError(f"the salt is not {SALT_LENGTH} bytes")
    return door.sha256(salt + block)


def block_matches(kept_hash: str, salt: bytes, block: bytes) -> bool:
    """Say whether this is the block that stood beside the record when signed.

    Args:
        kept_hash: As the record holds it, in hexadecimal; empty fits nothing.
    """
    is_whole = bool(kept_hash) and len(salt) == SALT_LENGTH
    return is_whole and salted_hash(block, salt).hex() == kept_hash


def _around(exam: Exam) -> Surroundings:
    people = tuple(person.person_id for person in exam.people)
    return Surroundings(exam.started, exam.started_by, people)
