"""Small signed objects of the hand-over: a version and a map of numbered fields.

``[1, {key: value}]`` in the record's one spelling, signed like a record. Unknown fields
are left alone; a newer version is refused whole.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, NamedTuple

from exam_app.crypto.errors import CryptoError
from exam_app.domain.moments import Moment
from exam_app.record.cbor_form import ARRAY, UNSIGNED, decode, encode, read_head
from exam_app.record.cose import (
    Kind,
    claimed_body,
    claimed_key_id,
    key_id_of,
    open_record,
    sign_record,
)
from exam_app.record.errors import BadSignatureError, RecordError
from sync.bundle.packing import NEWEST_PACKING, OLDEST_PACKING
from sync.errors import (
    BundleNotMadeError,
    BundleTooNewError,
    NotAReceiptError,
    ReceiptForgedError,
    SyncError,
)

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
class Form:
    """How one kind of value is spelled.

    Attributes:
        fits: Whether what stands in a field may be read.
    """

    fits: Callable[[Any], bool]
    read: Callable[[Any], Any] = lambda value: value
    write: Callable[[Any], object] = lambda value: value


class Numbered(NamedTuple):
    """Where an attribute stands.

    Attributes:
        left_out: The value that is not written; a field without one is needed.
    """

    key: int
    name: str
    form: Form
    left_out: object = ...


def octets(length: int) -> Form:
    """Make the form of a byte string of exactly this length."""
    return Form(lambda value: isinstance(value, bytes) and len(value) == length)


def hexadecimal(length: int) -> Form:
    """Make the form of such a byte string that is text in hexadecimal here."""
    return Form(octets(length).fits, bytes.hex, bytes.fromhex)


def text(longest: int) -> Form:
    """Make the form of a text of at most so many characters."""
    return Form(lambda value: isinstance(value, str) and len(value) <= longest)


def items(most: int, read: Callable[[Any], Any], write: Callable[[Any], Any]) -> Form:
    """Make the form of a list of at most so many items, each spelled by itself."""
    return Form(
        lambda value: isinstance(value, list) and len(value) <= most,
        lambda value: tuple(map(read, value)),
        lambda value: list(map(write, value)),
    )


def _are_counts(value: object) -> bool:
    parts = [*value, *value.values()] if isinstance(value, dict) else [None]
    return all(map(COUNT.fits, parts))


def _is_time(value: Any) -> bool:  # noqa: ANN401
    is_pair = isinstance(value, list) and [type(part) for part in value] == [int, int]
    return is_pair and 0 <= value[0] <= _LAST_MS and abs(value[1]) <= _WIDEST_OFFSET


_LAST_MS = 253_402_300_799_999
_WIDEST_OFFSET = 24 * 60 - 1
COUNT = Form(lambda value: type(value) is int and value >= 0)
COUNTS = Form(_are_counts)
# It stands for True and is left out for False.
FLAG = Form(lambda value: value is True)
# A later packing than is known here counts as the newest that is.
PACKING = Form(
    lambda value: COUNT.fits(value) and value >= OLDEST_PACKING,
    lambda value: min(value, NEWEST_PACKING),
)
MOMENT = Form(
    _is_time, lambda value: Moment(*value), lambda at: [at.utc_ms, at.offset_min]
)


def numbered(value: object, table: Iterable[Numbered]) -> dict[int, object]:
    """Return what is signed of a value: its attributes by number."""
    parts = ((row, getattr(value, row.name)) for row in table)
    return {
        row.key: row.form.write(part) for row, part in parts if part != row.left_out
    }


@dataclass(frozen=True, slots=True)
class Fields:
    """The fields of a verified object.

    Attributes:
        refusal: Makes the error for a field that is missing or has another form.
    """

    fields: dict[object, Any]
    refusal: Refusal

    def get(self, key: int, form: Form, left_out: object = ...) -> Any:  # noqa: ANN401
        """Return what stands in a field, or what it means that it is left out."""
        if key not in self.fields and left_out is not ...:
            return left_out
        value = self.fields.get(key)
        if not form.fits(value):
            raise self.refusal(f"field {key} has another form")
        return form.read(value)

    def named(self, table: Iterable[Numbered]) -> dict[str, Any]:
        """Return what stands in the fields of a table, by attribute."""
        return {row.name: self.get(row.key, row.form, row.left_out) for row in table}


def open_fields(
    signed: bytes,
    kind: Kind,
    public_key: bytes,
    refusal: Refusal,
    forged: Refusal | None = None,
) -> Fields:
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
    return Fields(_fields(opened.body, refusal), refusal)


def open_clinics(signed: bytes, kind: Kind, clinic_signing_key: bytes) -> Fields:
    """Return the fields of what a clinic answers a device, if that clinic signed it.

    Raises:
        ReceiptForgedError: Another key signed it, or it was changed.
        NotAReceiptError: It is of another kind or form.
        BundleTooNewError: A newer version made it.
    """
    try:
        key_id = claimed_key_id(signed)
    except RecordError as error:
        raise NotAReceiptError("it is no signed object") from error
    if key_id != key_id_of(clinic_signing_key):
        raise ReceiptForgedError("another key is said to have signed it")
    return open_fields(
        signed, kind, clinic_signing_key, NotAReceiptError, ReceiptForgedError
    )


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
    found: bytes = Fields(_fields(body, refusal), refusal).get(key, octets(32))
    return found


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
