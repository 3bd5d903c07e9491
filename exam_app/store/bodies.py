"""Documents as sealed bodies: deflated with a dictionary, then bound to their place.

A body is bound to its vault, table and document, not to its frame: a journal can be
written anew by copying bodies as they are.
"""

import struct
import zlib

from exam_app.crypto.door import hkdf_sha256, random_bytes, seal, unseal
from exam_app.crypto.errors import WrongKeyError
from exam_app.store.body_dictionary import DICTIONARY
from exam_app.store.errors import DocumentDamagedError, UnstorableValueError

LONGEST_DOCUMENT = 1 << 26
NONCE_LENGTH = 12
WHERE = struct.Struct(">QI16s")
_DEFLATED = b"\1"
_STORED = b"\0"
_LEVEL = 3


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
        """Seal one document: nonce, sealed bytes, tag.

        Args:
            table: Its table.
            document_id: Its id.
            plain: Its bytes.
            packs: Whether to make it smaller, which costs time.

        Raises:
            UnstorableValueError: It is longer than 64 MiB.
        """
        if len(plain) > LONGEST_DOCUMENT:
            raise UnstorableValueError("a document longer than 64 MiB")
        nonce = random_bytes(NONCE_LENGTH)
        packed = deflate(plain) if packs else _STORED + plain
        return nonce + seal(self._key, nonce, packed, self._bound(table, document_id))

    def open(self, table: str, document_id: str, sealed: bytes, tag: bytes) -> bytes:
        """Open one document.

        Args:
            table: Where the head says it belongs.
            document_id: Likewise.
            sealed: As ``seal`` gave it.
            tag: As the head carries it; an older body of the document has another.

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


def deflate(plain: bytes) -> bytes:
    """Pack bytes, or mark them as stored where packing does not pay."""
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
