"""Small signed objects of the hand-over: a version and a map of numbered fields.

``[1, {key: value}]`` in the record's one spelling, signed like a record. Unknown fields
are left alone; a newer version is refused whole.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from exam_app.crypto.errors import CryptoError
from exam_app.record.cbor_form import ARRAY, UNSIGNED, decode, encode, read_head
from exam_app.record.cose import Kind, claimed_body, open_record, sign_record
from exam_app.record.errors import BadSignatureError, RecordError
from sync.errors import BundleNotMadeError, BundleTooNewError, SyncError

VERSION = 1
Refusal = Callable[[str], SyncError]


def sign_fields(kind: Kind, fields: dict[int, object], seed: bytes) -> bytes:
    """Return the fields as one signed object.

    Raises:
        BundleNotMadeError: A field has no spelling, or a limit is passed.
    """
    try:
        return sign_record(kind, encode([VERSION, fields]), seed)
    except RecordError as error:
        raise BundleNotMadeError("a field has no place in it") from error


@dataclass(frozen=True, slots=True)
class FieldReader:
    """Reads fields, each once checked for its type.

    Attributes:
        refusal: Makes the error for a field that is missing or has another form.
    """

    fields: dict[object, Any]
    refusal: Refusal

    def octets(self, key: int, length: int) -> bytes:
        """Return a byte string of exactly this length."""
        value = self.fields.get(key)
        if not isinstance(value, bytes) or len(value) != length:
            raise self.refusal(f"field {key} is not {length} bytes")
        return value

    def hexadecimal(self, key: int, length: int) -> str:
        """Return such a byte string in hexadecimal."""
        return self.octets(key, length).hex()

    def text(self, key: int, longest: int, default: str | None = None) -> str:
        """Return a text of at most so many characters."""
        value = self.fields.get(key, default)
        if not isinstance(value, str) or len(value) > longest:
            raise self.refusal(f"field {key} is no text of that length")
        return value

    def count(self, key: int) -> int:
        """Return an integer from zero."""
        value = self.fields.get(key)
        if type(value) is not int or value < 0:
            raise self.refusal(f"field {key} is no count")
        return value

    def flag(self, key: int) -> bool:
        """Return True where the field stands; it is left out for False."""
        if self.fields.get(key, True) is not True:
            raise self.refusal(f"field {key} is no mark")
        return key in self.fields

    def items(self, key: int, most: int) -> list[Any]:
        """Return a list, empty where the field is left out."""
        value = self.fields.get(key, [])
        if not isinstance(value, list) or len(value) > most:
            raise self.refusal(f"field {key} is no list of that length")
        return value

    def numbers(self, key: int) -> dict[int, int]:
        """Return a map of integers from zero, empty where the field is left out."""
        value = self.fields.get(key, {})
        parts = [*value, *value.values()] if isinstance(value, dict) else [None]
        if any(type(part) is not int or part < 0 for part in parts):
            raise self.refusal(f"field {key} is no map of numbers")
        return dict(value)

    def moment_parts(self, key: int) -> tuple[int, int]:
        """Return UTC milliseconds and the offset in minutes."""
        value = self.fields.get(key)
        if not isinstance(value, list) or [type(part) for part in value] != [int, int]:
            raise self.refusal(f"field {key} is no time")
        utc_ms, offset = value
        if not 0 <= utc_ms <= _LAST_MS or abs(offset) > _WIDEST_OFFSET:
            raise self.refusal(f"field {key} is no time")
        return utc_ms, offset


_LAST_MS = 253_402_300_799_999
_WIDEST_OFFSET = 24 * 60 - 1


def open_fields(
    signed: bytes,
    kind: Kind,
    public_key: bytes,
    refusal: Refusal,
    forged: Refusal | None = None,
) -> FieldReader:
    """Verify a signed object with a key and return its fields.

    Args:
        forged: Makes the error for a signature that does not fit, if that is another.

    Raises:
        SyncError: What ``refusal`` makes: another key, another kind, or another form.
        BundleTooNewError: A newer version made it.
    """
    try:
        opened = open_record(signed, [public_key])
    except BadSignatureError as error:
        raise (forged or refusal)("its signature does not fit") from error
    except (RecordError, CryptoError) as error:
        raise refusal("it is not signed with that key") from error
    if opened.kind is not kind:
        raise refusal("it is of another kind")
    return FieldReader(_fields(opened.body, refusal), refusal)


def key_inside(signed: bytes, key: int, refusal: Refusal) -> bytes:
    """Return the public key that an object says it was signed with; not verified.

    Raises:
        SyncError: What ``refusal`` makes.
        BundleTooNewError: A newer version made it.
    """
    try:
        body = claimed_body(signed)
    except RecordError as error:
        raise refusal("it is no signed object") from error
    return FieldReader(_fields(body, refusal), refusal).octets(key, 32)


def _fields(body: bytes, refusal: Refusal) -> dict[object, Any]:
    try:
        major, parts, end = read_head(body, 0)
        version_major, version, _ = read_head(body, end)
        if (major, version_major, parts) != (ARRAY, UNSIGNED, 2) or version == 0:
            raise refusal("it says no version")
        if version > VERSION:
            raise BundleTooNewError(f"version {version}")
        fields = decode(body)[1]
    except RecordError as error:
        raise refusal("its fields have another form") from error
    if not isinstance(fields, dict):
        raise refusal("it has no fields")
    return fields
