"""The bytes of a journal: its header, and frames that carry one save each.

A frame is a plain prefix, a sealed head and sealed bodies. The prefix carries the
tag of the frame before it, so frames form a chain, and a seal of its own, so that
a changed length is never mistaken for the end of the file. Nonces are random:
a counter would be used again after a cut tail or in a restored copy.
"""

import struct
from dataclasses import dataclass

from exam_app.crypto.door import hkdf_sha256, random_bytes, seal, unseal
from exam_app.crypto.errors import WrongKeyError
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


@dataclass(frozen=True, slots=True)
class FrameKeys:
    """What seals the frames of one journal.

    Attributes:
        data_key: The vault's, from which all others come, 32 bytes.
        vault_id: 16 bytes.
        journal_id: 16 random bytes, new for every file that is written anew.
        head: Seals heads, 32 bytes.
        prefix: Seals prefixes and the header, 32 bytes.
        marker: 8 bytes at the start of every frame of this journal and, by
            chance aside, nowhere else.
    """

    data_key: bytes
    vault_id: bytes
    journal_id: bytes
    head: bytes
    prefix: bytes
    marker: bytes


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


@dataclass(frozen=True, slots=True)
class Mark:
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
    return FrameKeys(data_key, vault_id, journal_id, made[:32], made[32:64], made[64:])


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
    """Lay out one frame.

    Args:
        keys: Of this journal.
        sequence: One more than the frame before.
        previous: Tag of the frame before.
        head: Plain head.
        bodies: Sealed bodies, joined.

    Returns:
        The whole frame; ``frame_tag`` finds the tag that the next one carries.
    """
    nonce = random_bytes(12)
    head_length = len(head) + TAG_LENGTH
    fixed = _PREFIX.pack(
        keys.marker, sequence, head_length, len(bodies), previous, nonce
    )
    prefix = fixed + seal(keys.prefix, nonce, b"", fixed)
    return b"".join((prefix, seal(keys.head, nonce, head, prefix), bodies))


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


def open_head(keys: FrameKeys, prefix: Prefix, sealed: bytes) -> bytes | None:
    """Open a frame's head; None if it does not authenticate."""
    try:
        return unseal(keys.head, prefix.nonce, sealed, prefix.raw)
    except WrongKeyError:
        return None
