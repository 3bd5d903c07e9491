"""The bytes of a journal: its header, frames that carry one save each, and their lines.

A frame is a plain prefix, a sealed head and sealed bodies. The prefix carries the
tag of the frame before it, so frames form a chain, and a seal of its own, so that
a changed length is never mistaken for the end of the file. Nonces are random:
a counter would be used again after a cut tail or in a restored copy.

A head says what a save changes, one change a line: table, document, the length and
tag of its body, and its row, the few fields that lists and searches need.
"""

import struct
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

from exam_app.crypto.door import hkdf_sha256, random_bytes, seal, unseal
from exam_app.crypto.errors import WrongKeyError
from exam_app.store.engine.documents import WHERE, Bodies, deflate, inflate
from exam_app.store.errors import VaultDamagedError, VaultTooNewError

FORMAT_VERSION = 1
HEADER_LENGTH = 78
PREFIX_LENGTH = 72
MARKER_LENGTH = 8
TAG_LENGTH = 16
LONGEST_HEAD = 1 << 30
LONGEST_BODIES = 1 << 32
FIRST_TAG = bytes(TAG_LENGTH)
_MAGIC = b"exam-vault jrnl\n"
_HEADER = struct.Struct(">16sH16s16s")
_PREFIX = struct.Struct(">8sQIQ16s12s")
Entry = tuple[bytes, bytes]
_CHANGES = b"c"
INDEX = b"i"
NEW, PUT, MOVE, REMOVE, DROP, TABLE = b"n", b"p", b"m", b"r", b"d", b"t"


@dataclass(frozen=True, slots=True)
class FrameKeys:
    """What seals the frames and bodies of one journal.

    Attributes:
        data_key: The vault's, from which all others come, 32 bytes.
        vault_id: 16 bytes.
        journal_id: 16 random bytes, new for every file that is written anew.
        head: Seals heads, 32 bytes.
        prefix: Seals prefixes and the header, 32 bytes.
        marker: 8 bytes at the start of every frame of this journal and, by
            chance aside, nowhere else.
        bodies: Seals and opens bodies; the same for every journal of the vault.
    """

    data_key: bytes
    vault_id: bytes
    journal_id: bytes
    head: bytes
    prefix: bytes
    marker: bytes
    bodies: Bodies


@dataclass(frozen=True, slots=True)
class Prefix:
    """The plain part of a frame, authenticated.

    Attributes:
        sequence: Position in the chain, from 1.
        head_length: Bytes of the sealed head.
        bodies_length: Bytes of all sealed bodies behind it.
        previous: Tag of the frame before, 16 bytes.
        nonce: Of both seals, under two keys.
        raw: All 72 bytes.
    """

    sequence: int
    head_length: int
    bodies_length: int
    previous: bytes
    nonce: bytes
    raw: bytes

    @property
    def length(self) -> int:
        """Bytes of the whole frame."""
        return PREFIX_LENGTH + self.head_length + self.bodies_length


class Mark(NamedTuple):
    """What the head page knows of the journal.

    Attributes:
        index_offset: Where the newest index stands; 0 without one.
        sequence: The newest frame known to be kept; 0 without one.
        tag: Its tag, 16 bytes.
    """

    index_offset: int = 0
    sequence: int = 0
    tag: bytes = FIRST_TAG


def derive_frame_keys(data_key: bytes, vault_id: bytes, journal_id: bytes) -> FrameKeys:
    """Derive the keys of one journal from the data key."""
    info = b"exam-vault frames v1"
    made = hkdf_sha256(data_key, vault_id + journal_id, info, 64 + MARKER_LENGTH)
    parts = made[:32], made[32:64], made[64:]
    return FrameKeys(data_key, vault_id, journal_id, *parts, Bodies(data_key, vault_id))


def encode_header(keys: FrameKeys) -> bytes:
    """Write the 78 bytes at the start of a journal."""
    fixed = _HEADER.pack(_MAGIC, FORMAT_VERSION, keys.vault_id, keys.journal_id)
    nonce = random_bytes(12)
    return fixed + nonce + seal(keys.prefix, nonce, b"", fixed)


def check_header(keys: FrameKeys, content: bytes) -> None:
    """Check a header: length, seal, magic, version, ids.

    Raises:
        VaultDamagedError: It is not the header of this journal.
        VaultTooNewError: It authenticates and has a higher version.
    """
    if len(content) != HEADER_LENGTH:
        raise VaultDamagedError("journal has no header")
    fixed, nonce = content[: _HEADER.size], content[_HEADER.size :][:12]
    try:
        unseal(keys.prefix, nonce, content[-TAG_LENGTH:], fixed)
    except WrongKeyError as error:
        raise VaultDamagedError("journal header did not authenticate") from error
    magic, version, vault_id, journal_id = _HEADER.unpack(fixed)
    if (magic, vault_id, journal_id) != (_MAGIC, keys.vault_id, keys.journal_id):
        raise VaultDamagedError("journal header makes no sense")
    if version != FORMAT_VERSION:
        raise VaultTooNewError("journal of a newer version")


def seal_frame(
    keys: FrameKeys, sequence: int, previous: bytes, head: bytes, bodies: bytes
) -> bytes:
    """Lay out one frame around a plain head and sealed bodies, joined.

    ``previous`` is the tag of the frame before, as ``frame_tag`` finds it.
    """
    return seal_frame_head(keys, sequence, previous, head, len(bodies)) + bodies


def seal_frame_head(
    keys: FrameKeys, sequence: int, previous: bytes, head: bytes, bodies_length: int
) -> bytes:
    """Lay out what stands before the bodies of a frame; its end is the frame's tag."""
    nonce = random_bytes(12)
    head_length = len(head) + TAG_LENGTH
    fixed = _PREFIX.pack(
        keys.marker, sequence, head_length, bodies_length, previous, nonce
    )
    prefix = fixed + seal(keys.prefix, nonce, b"", fixed)
    return prefix + seal(keys.head, nonce, head, prefix)


def frame_tag(frame: bytes, bodies_length: int) -> bytes:
    """Give the tag of a frame's head, to which the next frame is chained."""
    end = len(frame) - bodies_length
    return frame[end - TAG_LENGTH : end]


def open_prefix(keys: FrameKeys, raw: bytes) -> Prefix | None:
    """Read a prefix: length, marker, seal, limits; None if one of them is wrong."""
    if len(raw) != PREFIX_LENGTH or not raw.startswith(keys.marker):
        return None
    fixed = raw[: _PREFIX.size]
    _, sequence, head_length, bodies_length, previous, nonce = _PREFIX.unpack(fixed)
    try:
        unseal(keys.prefix, nonce, raw[_PREFIX.size :], fixed)
    except WrongKeyError:
        return None
    if not TAG_LENGTH < head_length <= LONGEST_HEAD or bodies_length > LONGEST_BODIES:
        return None
    return Prefix(sequence, head_length, bodies_length, previous, nonce, raw)


class Line(NamedTuple):
    """One change.

    Attributes:
        verb: ``NEW`` keeps a document that was not there, ``PUT`` keeps it at its
            place, ``MOVE`` at the end, ``REMOVE`` removes it; ``DROP`` removes a whole
            table and ``TABLE`` names one, with the next free number in ``length``.
        table: Its table.
        document_id: Empty for ``DROP`` and ``TABLE``.
        length: Bytes of the sealed body; 0 without one.
        tag: Of the body; empty without one.
        row: JSON of the fields kept in the head; empty without any.
    """

    verb: bytes
    table: str
    document_id: str = ""
    length: int = 0
    tag: bytes = b""
    row: bytes = b""


def encode_changes(lines: Iterable[Line]) -> bytes:
    """Write the head of a save."""
    joined = b"\n".join(
        b"%b\t%b\t%b\t%d\t%b\t%b"
        % (
            line.verb,
            line.table.encode(),
            line.document_id.encode(),
            line.length,
            line.tag.hex().encode(),
            line.row,
        )
        for line in lines
    )
    return _CHANGES + deflate(joined)


def is_index(head: bytes) -> bool:
    """Whether a head is an index."""
    return head[:1] == INDEX


def decode_changes(head: bytes) -> Iterator[Line]:
    """Read the head of a save.

    Raises:
        VaultTooNewError: A kind of head or change that this version does not know.
        VaultDamagedError: It authenticated and makes no sense.
    """
    if head[:1] != _CHANGES:
        raise VaultTooNewError("a head of a kind that this version does not know")
    for line in inflate(head[1:]).split(b"\n"):
        try:
            verb, table, document_id, length, tag, row = line.split(b"\t", 5)
            yield Line(
                verb,
                table.decode("ascii"),
                document_id.decode("ascii"),
                int(length),
                bytes.fromhex(tag.decode("ascii")),
                row,
            )
        except ValueError as error:
            raise VaultDamagedError("a change makes no sense") from error


def placed(lines: Iterable[Line], offset: int) -> Iterator[tuple[Line, int]]:
    """Give every change with the offset of its body, the first at ``offset``."""
    for line in lines:
        yield line, offset
        if line.tag:
            offset += line.length


def place_of(where: bytes) -> tuple[int, int, bytes]:
    """Give offset, length and tag of a body; zeros and nothing without one."""
    return WHERE.unpack(where) if where else (0, 0, b"")


def number_after(document_id: str) -> int:
    """Give the number after an id that is one; 1 after any other."""
    is_number = document_id.isdecimal() and len(document_id) < 19
    return int(document_id) + 1 if is_number else 1
