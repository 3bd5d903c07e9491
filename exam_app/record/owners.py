"""Owner details stand beside a record; the record holds only their salted hash.

The 32 random bytes keep a short name or telephone number from being guessed out of the
hash. Once block and salt are erased, the hash says nothing; the signature still holds.
"""

from exam_app.crypto import door
from exam_app.domain.animal.signalment import Owner
from exam_app.record.cbor_form import encode
from exam_app.record.errors import CannotBeWrittenError
from exam_app.record.field_codec import write_fields
from exam_app.record.spelled_values import Surroundings

SALT_LENGTH = 32


def owner_block(owner: Owner) -> bytes:
    """Return the one spelling of an owner's details: deterministic CBOR."""
    return encode(write_fields(owner, Surroundings()))


def hash_owner(owner: Owner, salt: bytes) -> bytes:
    """Return SHA-256 of the salt followed by the owner block, 32 bytes.

    Args:
        salt: 32 random bytes, drawn for this record alone.

    Raises:
        CannotBeWrittenError: The salt has another length.
    """
    return salted_hash(owner_block(owner), salt)


def salted_hash(block: bytes, salt: bytes) -> bytes:
    """Return SHA-256 of the salt followed by a block that stands beside a record.

    Raises:
        CannotBeWrittenError: The salt has another length.
    """
    if len(salt) != SALT_LENGTH:
        raise CannotBeWrittenError(f"the salt is not {SALT_LENGTH} bytes")
    return door.sha256(salt + block)


def owner_matches(owner_hash: str, salt: bytes, owner: Owner) -> bool:
    """Say whether these are the details that stood beside the record when signed.

    Args:
        owner_hash: As the record holds it, in hexadecimal.
    """
    return len(salt) == SALT_LENGTH and hash_owner(owner, salt).hex() == owner_hash
