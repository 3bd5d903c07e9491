"""A sealed bundle as frames: short texts, one to a QR code, of which any K rebuild it.

    frame   = tag[6] ‖ length[2] ‖ K[1] ‖ id[1] ‖ block
    in a QR code: "EX1" Base45(frame ‖ crc32("EX1" ‖ frame)[4])
    for a scanner that types: the keyboard-safe form of the same frame

The tag is the beginning of the bundle's SHA-256. Blocks are of equal length, the last
source block is filled up with zeros. Frames 0 to K − 1 are the bundle itself.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from hashlib import sha256
from zlib import crc32

from sync.errors import BundleTooLargeError, NotAFrameError
from sync.transport.erasure_code import BLOCK_IDS, MOST_SOURCES, encode_block
from sync.transport.keyboard import (
    LONGEST_TEXT,
    Kind,
    from_keys,
    longest_keyed,
    to_keys,
)

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
_VALUES = {character: value for value, character in enumerate(ALPHABET)}


def encode_base45(content: bytes) -> str:
    """Write bytes in Base45."""
    characters: list[str] = []
    for start in range(0, len(content) - 1, 2):
        high, rest = divmod(content[start] << 8 | content[start + 1], 2025)
        middle, low = divmod(rest, 45)
        characters += (ALPHABET[low], ALPHABET[middle], ALPHABET[high])
    if len(content) % 2:
        middle, low = divmod(content[-1], 45)
        characters += (ALPHABET[low], ALPHABET[middle])
    return "".join(characters)


def decode_base45(text: str) -> bytes:
    """Read Base45.

    Raises:
        ValueError: A foreign character, an impossible length, or a group above what
            its bytes can hold.
    """
    try:
        values = [_VALUES[character] for character in text]
    except KeyError as error:
        msg = "no character of Base45"
        raise ValueError(msg) from error
    decoded = bytearray()
    for start in range(0, len(values), 3):
        group = values[start : start + 3]
        number = sum(value * 45**place for place, value in enumerate(group))
        try:
            # A single character is no byte, so it has no room for any number.
            decoded += number.to_bytes(len(group) - 1, "big")
        except OverflowError as error:
            msg = "a group is above what its bytes can hold"
            raise ValueError(msg) from error
        if len(group) == 1:
            msg = "one character is left over"
            raise ValueError(msg)
    return bytes(decoded)


def longest_content(characters: int) -> int:
    """Give how many bytes fit in so many characters."""
    return characters // 3 * 2 + (characters % 3 == 2)


TAG_LENGTH = 6
HEAD_LENGTH = TAG_LENGTH + 4
LONGEST_BUNDLE = 0xFFFF
_MAGIC = "EX1"
_CRC_LENGTH = 4
_TURN = 5


class DotSize(StrEnum):
    """How large the dots of a code are; the smaller, the more it holds."""

    BIGGER = "bigger"
    NORMAL = "normal"
    DENSE = "dense"


# Characters of the alphanumeric mode in versions 8-M, 13-M and 20-L (ISO/IEC 18004,
# table of data capacities; from memory, and tested against another encoder).
CAPACITIES = {DotSize.BIGGER: 221, DotSize.NORMAL: 483, DotSize.DENSE: 1249}


@dataclass(frozen=True, slots=True)
class Frame:
    """One frame as read.

    Attributes:
        tag: First 6 bytes of the bundle's SHA-256.
        length: Bytes of the bundle.
        count: Frames that rebuild it, K.
        block_id: 0 to 255.
    """

    tag: bytes
    length: int
    count: int
    block_id: int
    block: bytes


@dataclass(frozen=True, slots=True)
class Frames:
    """A bundle cut into frames.

    Attributes:
        tag: First 6 bytes of the bundle's SHA-256.
        length: Bytes of the bundle.
        sources: K blocks of equal length.
        dots: The size of dots they were cut for.
        for_typing: Whether texts are keyboard-safe.
    """

    tag: bytes
    length: int
    sources: tuple[bytes, ...]
    dots: DotSize
    for_typing: bool = False

    @property
    def count(self) -> int:
        """How many frames rebuild the bundle, K."""
        return len(self.sources)

    def text(self, frame_id: int) -> str:
        """Give the text of a frame, all of the same length.

        Args:
            frame_id: 0 to 255.

        Raises:
            ValueError: There is no such frame.
        """
        head = self.tag + self.length.to_bytes(2, "big") + bytes([self.count, frame_id])
        content = head + encode_block(self.sources, frame_id)
        if self.for_typing:
            return to_keys(content, Kind.FRAME)
        return _MAGIC + encode_base45(content + _check(content))

    def order(self, start: int = 0) -> Iterator[int]:
        """Give frame ids without end: the bundle itself, then repairs, then again.

        Each round of 256 begins five further on, since 5 is odd and 256 − 5 is prime:
        whoever sees only every second, or every nth, frame sees others next time.

        Args:
            start: How many frames were shown before, to go on from there.
        """
        shown = start
        while True:
            turn, place = divmod(shown, BLOCK_IDS)
            yield (_TURN * turn + place) % BLOCK_IDS
            shown += 1


def split(sealed: bytes, dots: DotSize, *, for_typing: bool = False) -> Frames:
    """Cut a sealed bundle into frames.

    Args:
        sealed: At least one byte.
        dots: How large the dots will be shown.
        for_typing: Whether a scanner that types will read them.

    Raises:
        BundleTooLargeError: More than ``largest_bundle`` for these dots.
    """
    if not 0 < len(sealed) <= largest_bundle(dots, for_typing=for_typing):
        raise BundleTooLargeError(f"{len(sealed)} bytes")
    most = _longest_block(dots, for_typing=for_typing)
    fewest = -(-len(sealed) // most)
    length = -(-len(sealed) // fewest)
    sources = tuple(
        sealed[start : start + length].ljust(length, b"\0")
        for start in range(0, len(sealed), length)
    )
    tag = sha256(sealed).digest()[:TAG_LENGTH]
    return Frames(tag, len(sealed), sources, dots, for_typing)


def largest_bundle(dots: DotSize, *, for_typing: bool = False) -> int:
    """Give how many bytes a bundle may have to be shown with these dots."""
    longest = MOST_SOURCES * _longest_block(dots, for_typing=for_typing)
    return min(LONGEST_BUNDLE, longest)


def read_frame(text: str) -> Frame:
    """Read the text of one code, or what a scanner typed.

    Raises:
        NotAFrameError: Anything else, or changed, or a head that cannot be true.
    """
    text = text.strip("\r\n\t")
    if len(text) > LONGEST_TEXT:
        raise NotAFrameError("too long")
    content = _coded(text) if text.startswith(_MAGIC) else _typed(text)
    if len(content) <= HEAD_LENGTH:
        raise NotAFrameError("too short")
    length = int.from_bytes(content[TAG_LENGTH : TAG_LENGTH + 2], "big")
    count, block_id = content[HEAD_LENGTH - 2], content[HEAD_LENGTH - 1]
    block = content[HEAD_LENGTH:]
    if not 1 <= count <= MOST_SOURCES or -(-length // len(block)) != count:
        raise NotAFrameError("the head does not fit the block")
    return Frame(content[:TAG_LENGTH], length, count, block_id, block)


def _coded(text: str) -> bytes:
    try:
        whole = decode_base45(text[len(_MAGIC) :])
    except ValueError as error:
        raise NotAFrameError("not Base45") from error
    content = whole[:-_CRC_LENGTH]
    if whole[-_CRC_LENGTH:] != _check(content):
        raise NotAFrameError("the check does not fit")
    return content


def _typed(text: str) -> bytes:
    try:
        typed = from_keys(text)
    except ValueError as error:
        raise NotAFrameError("neither a frame nor typed by a scanner") from error
    if typed.kind is not Kind.FRAME:
        raise NotAFrameError("typed, but no frame")
    return typed.content


def _check(content: bytes) -> bytes:
    return crc32(_MAGIC.encode() + content).to_bytes(_CRC_LENGTH, "big")


def _longest_block(dots: DotSize, *, for_typing: bool) -> int:
    characters = CAPACITIES[dots]
    if for_typing:
        return longest_keyed(characters) - HEAD_LENGTH
    whole = longest_content(characters - len(_MAGIC))
    return whole - _CRC_LENGTH - HEAD_LENGTH
