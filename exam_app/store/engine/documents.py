"""Documents as bytes, and sealed: deflated with a dictionary, bound to their place.

Documents hold text, whole numbers, yes/no, nothing, lists and objects: no floats,
since the same value must read the same everywhere, and no bytes.

A body is bound to its vault, table and document, not to its frame: a journal can be
written anew by copying bodies as they are.
"""

import base64
import binascii
import json
import re
import struct
import zlib
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any, TypeVar

from cattrs import Converter

from exam_app.crypto.door import hkdf_sha256, random_bytes, seal, unseal
from exam_app.crypto.errors import WrongKeyError
from exam_app.store.errors import (
    DocumentDamagedError,
    UnstorableValueError,
    VaultDamagedError,
)

Document = dict[str, Any]
_Row = TypeVar("_Row")
_READER = Converter(detailed_validation=False)
_READER.register_structure_hook(bytes, lambda text, _: bytes.fromhex(text))
_READ = json.JSONDecoder().decode
_WRITE = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode
_DEEPEST = 60
_TABLE_NAME = re.compile(r"[a-z_][a-z0-9_]*")
_DOCUMENT_ID = re.compile(r"[ -~]+")
_LARGEST_NUMBER = 2**63 - 1
DICTIONARY = (
    b'{"value":"{"bytes":"{"salt":"","block":{"name":"{"toml":"{"signed":"'
    b'"headline":["URGENT: ","Stopped early: ","Not done: weight, heart rate, '
    b"temperature, hydration signs, pain, body condition, muscle condition, head "
    b"and face, left and right eyes, left and right ears, nose, mouth, lips lifted, "
    b"neck and throat, left and right mandibular nodes, chest wall, left and right "
    b"lungs, heart and pulses, abdomen, left and right forelimbs, left and right "
    b'hindlimbs, skin and coat, back and nerve screen, tail, perineum and anus ("],'
    b'"gaps":0,"is_urgent":false,"continues":"","hash":"","is_demo":true,"title":"'
    b'"find":"{"animal_id":"","name":"","breed":"","sex":"male, neutered",'
    b'"female, spayed","age_days":,"age_on":"2026-","age_basis":"as told",'
    b'"colour":"","chip":"999000000000","place":"","behaviour":"","dangers":"",'
    b'"owner":{"name":"","phone":""},"version":1,"draft":{"exam_id":"","animal":{'
    b'"scope":"technician","setting":"clinic","protocol_id":"dog","protocol_hash":"'
    b'"started":{"utc_ms":,"offset_minutes":},"started_by":"","life_stage":"adult",'
    b'"people":[{"person_id":"","name":"","role":"veterinarian","initials":"",'
    b'"licence":""}],"presentation":{"complaint":""},"vitals":{"weight":{"reading":{'
    b'"typed":" kg","unit":"kg","value":""},"is_estimate":true,"temperature":{"site":'
    b'"rectal","unit":"degC","reason":"refused","heart_rate":{"beat/min",'
    b'"respiratory_rate":{"breath/min","evidence":{"kind":"count","count":,'
    b'"seconds":30},"state":"resting","flag":{"level":"within","text":"/min: within '
    b'the published range \xe2\x80\x93/min (; read)","interval_ids":["'
    b'"],"source_ids":[""],"unchecked":false},"capillary_refill":"mucous_membranes":'
    b'"hydration":"pain":"body_condition":"muscle_condition":"regions":{"distance":'
    b'"head":"eyes.left":"eyes.right":"ears.left":"ears.right":"nose":"mouth":"neck":'
    b'"chest":"lungs.left":"heart":"abdomen":"forelimbs.left":"hindlimbs.right":'
    b'"skin":"tail":{"is_parked":true}},"findings":[{"finding_id":"","words":"",'
    b'"term_id":"wound","side":"left","place":"","severity":"slight","extent":"",'
    b'"since":"","call":"noted","note":"","struck":[],"remark":"","asserted":['
    b'"no swelling, no pain shown","felt: no discharge seen","watched at rest: "],'
    b'{"conclusion":"asserted","asserted":[""],"attribution":{"examined_by":"'
    b'","entered_by":"","observed":{"utc_ms":179},"entered":{"utc_ms":179}}},"'
)
LONGEST_DOCUMENT = 1 << 26
NONCE_LENGTH = 12
WHERE = struct.Struct(">QI16s")
_DEFLATED = b"\1"
_STORED = b"\0"
_LEVEL = 3
# For a small document nearly all of packing was setting up what packs. A small window
# is set up sooner, and holds such a document with the dictionary.
_SMALL, _SMALL_WINDOW, _SMALL_ROOM = 4_096, -13, 6


def encode_document(document: Mapping[str, Any]) -> bytes:
    """Write a document as one line of JSON in UTF-8.

    Raises:
        UnstorableValueError: It holds a float, bytes, a number beyond 63 bits, a
            key that is not text, half a surrogate pair, or more than sixty levels.
    """
    plain = dict(document)
    _check(plain)
    return _utf8(_WRITE(plain))


def field_fragment(name: str, value: str) -> bytes:
    """Write a field as it stands among others in ``encode_document``.

    Raises:
        UnstorableValueError: Text with half a surrogate pair.
    """
    return _utf8(f"{_WRITE(name)}:{_WRITE(value)}")


def _utf8(text: str) -> bytes:
    try:
        return text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise UnstorableValueError("text with half a surrogate pair") from error


def decode_document(line: bytes) -> Document:
    """Read what ``encode_document`` wrote, as a fresh object.

    Raises:
        VaultDamagedError: It is no JSON object. The bytes authenticated, so a
            faulty writer made them.
    """
    try:
        document = _READ(line.decode("utf-8", "surrogatepass"))
    except (ValueError, RecursionError) as error:
        raise VaultDamagedError("a document does not parse") from error
    if not isinstance(document, dict):
        raise VaultDamagedError("a document is no object")
    return document


def read_row(kind: type[_Row], stored: Mapping[str, Any], **more: object) -> _Row:
    """Read a stored document as a frozen row.

    Args:
        kind: A dataclass; hexadecimal text becomes bytes, a list a tuple, and what
            the document lacks is as the dataclass says.
        stored: What of it ``kind`` does not know is passed over.
        more: Fields that stand elsewhere, as they would be stored.
    """
    held = {name: value for name, value in stored.items() if value is not None}
    return _READER.structure({**held, **more}, kind)


def stored_row(row: object) -> Document:
    """Return a frozen row as it is stored; what is None is left out."""
    held = {one.name: _stored(getattr(row, one.name)) for one in fields(row)}  # type: ignore[arg-type]
    return {name: value for name, value in held.items() if value is not None}


def _stored(value: object) -> object:
    if isinstance(value, bytes):
        return value.hex()
    if isinstance(value, tuple):
        return [_stored(one) for one in value]
    return stored_row(value) if is_dataclass(value) else value


def _check(document: dict[Any, Any]) -> None:
    """Refuse what must not be stored, one level of the document after the other."""
    level: list[Any] = [document]
    for _ in range(_DEEPEST + 1):
        deeper: list[Any] = []
        for holder in level:
            _check_held(holder, deeper)
        if not deeper:
            return
        level = deeper
    raise UnstorableValueError("more than sixty levels")


def _check_held(holder: Any, deeper: list[Any]) -> None:  # noqa: ANN401
    """Refuse keys and values of one holder; what holds others goes to ``deeper``."""
    if isinstance(holder, dict):
        for key in holder:
            if type(key) is not str and not isinstance(key, str):
                raise UnstorableValueError("a key that is not text")
        holder = holder.values()
    for value in holder:
        # The frequent kinds first: this runs on every field of every save.
        kind = type(value)
        if kind is str or kind is bool:
            continue
        if kind is dict or kind is list or not _is_plain(value):
            deeper.append(value)


def _is_plain(value: object) -> bool:
    """Whether a value holds no others; one that must not be stored is refused."""
    if isinstance(value, int):
        if abs(value) > _LARGEST_NUMBER:
            raise UnstorableValueError("a number beyond 63 bits cannot be stored")
    elif value is not None and not isinstance(value, str):
        if not isinstance(value, dict | list | tuple):
            raise UnstorableValueError(f"a {type(value).__name__} cannot be stored")
        return False
    return True


def check_names(table: str, document_id: object = "-") -> None:
    """Refuse names that a line of a head could not hold.

    Raises:
        UnstorableValueError: A table or document has a name that is not allowed.
    """
    is_plain = isinstance(document_id, str) and _DOCUMENT_ID.fullmatch(document_id)
    if not (is_plain and _TABLE_NAME.fullmatch(table)):
        raise UnstorableValueError("a table or document has a name with odd characters")


def to_text(content: bytes) -> str:
    """Write bytes as base 64, since documents hold no bytes."""
    return base64.b64encode(content).decode("ascii")


def from_text(text: str) -> bytes:
    """Read what ``to_text`` wrote."""
    return binascii.a2b_base64(text, strict_mode=True)


class Bodies:
    """Seals and opens the bodies of one vault."""

    __slots__ = ("_key", "_vault_id")

    def __init__(self, data_key: bytes, vault_id: bytes) -> None:
        """Derive the key of bodies from the data key."""
        self._key = hkdf_sha256(data_key, vault_id, b"exam-vault bodies v1", 32)
        self._vault_id = vault_id

    def seal(
        self, table: str, document_id: str, plain: bytes, *, packs: bool = True
    ) -> bytes:
        """Seal one document: nonce, sealed bytes, tag; ``packs`` costs time.

        Raises:
            UnstorableValueError: It is longer than 64 MiB.
        """
        if len(plain) > LONGEST_DOCUMENT:
            raise UnstorableValueError("a document longer than 64 MiB")
        nonce = random_bytes(NONCE_LENGTH)
        packed = deflate(plain) if packs else _STORED + plain
        return nonce + seal(self._key, nonce, packed, self._bound(table, document_id))

    def open(self, table: str, document_id: str, sealed: bytes, tag: bytes) -> bytes:
        """Open what ``seal`` gave for the table and document that the head names.

        The head carries its tag too; an older body of the document has another.

        Raises:
            DocumentDamagedError: It is not what the head says.
        """
        nonce, rest = sealed[:NONCE_LENGTH], sealed[NONCE_LENGTH:]
        if len(nonce) != NONCE_LENGTH or rest[-len(tag) :] != tag:
            raise DocumentDamagedError("a document is not the one its head names")
        try:
            packed = unseal(self._key, nonce, rest, self._bound(table, document_id))
        except WrongKeyError as error:
            raise DocumentDamagedError("a document did not authenticate") from error
        return inflate(packed)

    def _bound(self, table: str, document_id: str) -> bytes:
        return b"%b%b\t%b" % (self._vault_id, table.encode(), document_id.encode())


# Never used itself: each small document is packed by a copy that knows the dictionary.
_SMALL_PACKER = zlib.compressobj(
    _LEVEL, zlib.DEFLATED, _SMALL_WINDOW, _SMALL_ROOM, zdict=DICTIONARY
)


def deflate(plain: bytes) -> bytes:
    """Pack bytes, or mark them as stored where packing does not pay."""
    if len(plain) <= _SMALL:
        packer = _SMALL_PACKER.copy()
    else:
        packer = zlib.compressobj(_LEVEL, zlib.DEFLATED, -15, zdict=DICTIONARY)
    packed = packer.compress(plain) + packer.flush()
    return _DEFLATED + packed if len(packed) < len(plain) else _STORED + plain


def inflate(packed: bytes) -> bytes:
    """Give back what ``deflate`` packed, never more than 64 MiB.

    Raises:
        DocumentDamagedError: The bytes authenticated and make no sense.
    """
    kind, content = packed[:1], packed[1:]
    if kind == _STORED:
        return content
    if kind != _DEFLATED:
        raise DocumentDamagedError("a document is packed in an unknown way")
    unpacker = zlib.decompressobj(-15, zdict=DICTIONARY)
    try:
        plain = unpacker.decompress(content, LONGEST_DOCUMENT)
    except zlib.error as error:
        raise DocumentDamagedError("a document does not unpack") from error
    if not unpacker.eof or unpacker.unused_data:
        raise DocumentDamagedError("a document does not unpack to its end")
    return plain
