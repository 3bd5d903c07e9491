"""The list of sums of an export, signed by the computer that made it."""

from dataclasses import dataclass

from exam_app.crypto.door import signing_public_key
from exam_app.domain.moments import Moment
from exam_app.record.cbor_form import decode, encode
from exam_app.record.cose import Kind, open_record, sign_record
from exam_app.record.errors import NotARecordError, RecordTooNewError, WrongKindError

LIST_SIGNED = "SHA256SUMS.cose"
VERSION = 1
_SUM, _MADE_MS, _OFFSET = 1, 2, 3


@dataclass(frozen=True, slots=True)
class SignedList:
    """What a signed list says.

    Attributes:
        sums_sha256: SHA-256 of ``SHA256SUMS``, in hexadecimal.
        made: When the export was finished.
        key_id: Of the key that signed it, 16 bytes.
    """

    sums_sha256: str
    made: Moment
    key_id: bytes


def sign_list(sums_sha256: str, made: Moment, seed: bytes) -> tuple[bytes, str]:
    """Return the signed list and the public key that checks it, in hexadecimal."""
    said = {
        _SUM: bytes.fromhex(sums_sha256),
        _MADE_MS: made.utc_ms,
        _OFFSET: made.offset_min,
    }
    signed = sign_record(Kind.EXPORT, encode([VERSION, said]), seed)
    return signed, signing_public_key(seed).hex()


def open_list(signed: bytes, key: bytes) -> SignedList:
    """Verify a signed list and return what it says.

    Args:
        key: The Ed25519 public key of the computer that made the export.

    Raises:
        RecordError: It does not verify, or is no signed list.
    """
    opened = open_record(signed, [key])
    if opened.kind is not Kind.EXPORT:
        raise WrongKindError(opened.kind.name.lower())
    said = decode(opened.body)
    if isinstance(said, list) and said and type(said[0]) is int and said[0] > VERSION:
        raise RecordTooNewError(f"version {said[0]}")
    try:
        version, fields = said
        digest, made = fields[_SUM], Moment(fields[_MADE_MS], fields[_OFFSET])
        is_whole = version == VERSION and len(digest) == 32
        if not is_whole or not isinstance(digest, bytes):
            raise NotARecordError("a signed list says something else")
    except (TypeError, ValueError, KeyError, IndexError) as error:
        raise NotARecordError("a signed list says something else") from error
    return SignedList(digest.hex(), made, opened.key_id)
