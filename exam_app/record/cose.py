"""Sign and open: COSE_Sign1 of RFC 9052 with Ed25519, and nothing else of COSE.

What a signed object is (its kind) and whose key signed it stand in the protected
header, so both are signed. The unprotected header is always empty. The algorithm is the
fully specified Ed25519 of RFC 9864. Nothing of the body is read before its signature
has been verified.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import cbor2

from exam_app.crypto import door
from exam_app.record.cbor_form import BYTES, LARGEST, decode, encode, read_head
from exam_app.record.errors import (
    BadSignatureError,
    NotARecordError,
    RecordTooLargeError,
    UnknownDeviceKeyError,
)

ED25519 = -19
KEY_ID_LENGTH = 16
SIGNATURE_LENGTH = 64
LARGEST_SIGNED = LARGEST + 1_024
_ALGORITHM, _CONTENT_TYPE, _KEY_ID = 1, 3, 4
_TAG_18_ARRAY_OF_4 = b"\xd2\x84"
_EMPTY_MAP = b"\xa0"


class Kind(StrEnum):
    """What is signed, as the content type of the protected header."""

    EXAM = "application/x.exam"
    NOTE = "application/x.exam-note"
    CARD = "application/x.exam-card"
    MANIFEST = "application/x.exam-manifest"
    RECEIPT = "application/x.exam-receipt"
    PHOTOGRAPH = "application/x.exam-photograph"
    PHOTOGRAPHS = "application/x.exam-photographs"
    EXPORT = "application/x.exam-export"


@dataclass(frozen=True, slots=True)
class OpenedRecord:
    """A verified object: its kind, the signed body, and the key that signed it."""

    kind: Kind
    body: bytes
    key_id: bytes


def key_id_of(public_key: bytes) -> bytes:
    """Return the 16-byte id of a public key: the start of its SHA-256."""
    return door.sha256(public_key)[:KEY_ID_LENGTH]


def signature_input(protected: bytes, body: bytes) -> bytes:
    """Return the bytes that are signed: the Sig_structure of RFC 9052, section 4.4."""
    parts = (b"\x6aSignature1", cbor2.dumps(protected), b"\x40", cbor2.dumps(body))
    return b"\x84" + b"".join(parts)


def sign_record(kind: Kind, body: bytes, seed: bytes) -> bytes:
    """Return the signed object around a body.

    Args:
        seed: The device's 32-byte Ed25519 seed.

    Raises:
        RecordTooLargeError: The body passes the limit.
        BadKeyError: The seed has another length.
    """
    if len(body) > LARGEST:
        raise RecordTooLargeError(f"more than {LARGEST} bytes")
    key_id = key_id_of(door.signing_public_key(seed))
    header = {_ALGORITHM: ED25519, _CONTENT_TYPE: kind.value, _KEY_ID: key_id}
    protected = encode(header)
    signature = door.sign(seed, signature_input(protected, body))
    parts = (cbor2.dumps(protected), _EMPTY_MAP, cbor2.dumps(body))
    return _TAG_18_ARRAY_OF_4 + b"".join(parts) + cbor2.dumps(signature)


def open_record(signed: bytes, public_keys: Iterable[bytes]) -> OpenedRecord:
    """Verify a signed object and return what was signed; the body is not parsed.

    Args:
        public_keys: Ed25519 public keys of the devices known here.

    Raises:
        RecordTooLargeError: It passes the limit.
        NotARecordError: It is not exactly one signed object in our form.
        UnknownDeviceKeyError: None of the keys has the id it names.
        BadSignatureError: The signature does not fit.
    """
    protected, body, signature = _split(signed)
    kind, key_id = _read_protected(protected)
    by_id = {key_id_of(key): key for key in public_keys}
    if key_id not in by_id:
        raise UnknownDeviceKeyError(key_id)
    if not door.verify(by_id[key_id], signature, signature_input(protected, body)):
        raise BadSignatureError
    return OpenedRecord(kind, body, key_id)


def claimed_key_id(signed: bytes) -> bytes:
    """Return whose key is said to have signed an object; nothing is verified by this.

    Raises:
        RecordTooLargeError: It passes the limit.
        NotARecordError: It is not exactly one signed object in our form.
    """
    return _read_protected(_split(signed)[0])[1]


def claimed_kind(signed: bytes) -> Kind:
    """Return what an object is said to be; as ``claimed_key_id``."""
    return _read_protected(_split(signed)[0])[0]


def claimed_body(signed: bytes) -> bytes:
    """Return the body of an object that names its own key; as ``claimed_key_id``."""
    return _split(signed)[1]


def _split(signed: bytes) -> tuple[bytes, bytes, bytes]:
    if len(signed) > LARGEST_SIGNED:
        raise RecordTooLargeError(f"more than {LARGEST_SIGNED} bytes")
    if not signed.startswith(_TAG_18_ARRAY_OF_4):
        raise NotARecordError("it does not begin as a signed record")
    protected, end = _read_bytes(signed, len(_TAG_18_ARRAY_OF_4))
    if signed[end : end + 1] != _EMPTY_MAP:
        raise NotARecordError("its unprotected header is not empty")
    body, end = _read_bytes(signed, end + 1)
    signature, end = _read_bytes(signed, end)
    if len(signature) != SIGNATURE_LENGTH or end != len(signed):
        raise NotARecordError("it does not end with one signature")
    return protected, body, signature


@lru_cache(maxsize=64)
def _read_protected(protected: bytes) -> tuple[Kind, bytes]:
    header = decode(protected)
    ours = {_ALGORITHM, _CONTENT_TYPE, _KEY_ID}
    if not isinstance(header, dict) or set(header) != ours:
        raise NotARecordError("its protected header is not ours")
    key_id, kind = header[_KEY_ID], header[_CONTENT_TYPE]
    if header[_ALGORITHM] != ED25519 or kind not in [k.value for k in Kind]:
        raise NotARecordError("its algorithm or kind is not known")
    if not isinstance(key_id, bytes) or len(key_id) != KEY_ID_LENGTH:
        raise NotARecordError("its key id is not 16 bytes")
    return Kind(kind), key_id


def _read_bytes(signed: bytes, start: int) -> tuple[bytes, int]:
    major, length, end = read_head(signed, start)
    if major != BYTES or end + length > len(signed):
        raise NotARecordError("a byte string is missing or cut off")
    return signed[end : end + length], end + length
