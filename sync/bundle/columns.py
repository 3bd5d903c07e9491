"""Three columns that pack better apart: structure, times, and what looks random.

Ids, hashes and signatures cannot be packed and spoil the packing of what stands around
them; times grow by a few seconds each and pack well as differences. So both are taken
out of a part's CBOR and written one after the other; what stays is nearly the same in
every record. Nothing is lost: the reader puts each back where its head says.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from exam_app.record.cbor_form import BYTES, TEXT, read_head, short_strings
from exam_app.record.errors import NotARecordError
from sync.errors import NotABundleError

# Ids, hashes and signatures; a byte string longer than all of these is looked into.
RANDOM_LENGTHS = (16, 32, 64)
FOUR_BYTE_INTEGER = 0x1A
# Added to a part's kind in the structure: its content stands in columns.
IN_COLUMNS = 0x80
_WIDEST = 5
# A run of items that stay in the structure, taken at once: integers below 65 536, heads
# of small arrays and maps, tags, simple values, short strings with their bodies.
_SHORT_STRINGS = short_strings(n for n in range(1, 24) if n not in RANDOM_LENGTHS)
PLAIN_ITEM = (
    rb"(?:[\x00-\x17\x20-\x37\x40\x60\x80-\x97\xa0-\xb7\xc0-\xd7\xe0-\xf7]++"
    rb"|\x18[\x18-\xff]|\x19[\x01-\xff].|\x70.{16}|" + _SHORT_STRINGS + rb")"
)
_PLAIN_RUN = re.compile(PLAIN_ITEM + rb"{1,2048}+", re.DOTALL)
_TIME_HEAD = bytes([FOUR_BYTE_INTEGER])
RANDOM_HEADS = {b"\x50": 16, b"\x58\x20": 32, b"\x58\x40": 64}
# Such a run, which may be empty, and a head whose body stands in another column.
_APART = b"|".join(map(re.escape, (_TIME_HEAD, *RANDOM_HEADS)))
_PIECE = re.compile(b"%b{0,2048}+(%b)?" % (PLAIN_ITEM, _APART), re.DOTALL)


@dataclass(slots=True)
class Columns:
    """What was taken apart so far.

    Attributes:
        structure: CBOR without what the other two hold.
        times: Differences of four-byte integers within a part, zigzag, LEB128.
        random: Byte strings of 16, 32 and 64 bytes, one after the other.
    """

    structure: bytearray = field(default_factory=bytearray)
    times: bytearray = field(default_factory=bytearray)
    random: bytearray = field(default_factory=bytearray)

    def add(self, other: "Columns") -> None:
        """Append another's columns."""
        self.structure += other.structure
        self.times += other.times
        self.random += other.random


def take_apart(content: bytes) -> Columns | None:
    """Return the columns of CBOR items, or ``None`` for what is not ours to look into.

    The columns are joined again for a check, so that nothing is ever lost.
    """
    columns, place, last = Columns(), 0, 0
    try:
        while place < len(content):
            if run := _PLAIN_RUN.match(content, place):
                columns.structure += run[0]
                place = run.end()
                continue
            major, argument, end = read_head(content, place)
            if content[place] == FOUR_BYTE_INTEGER:
                columns.structure.append(FOUR_BYTE_INTEGER)
                columns.times += zigzag_leb128(argument - last)
                last = argument
            else:
                columns.structure += content[place:end]
                body = body_length(major, argument)
                is_random = major == BYTES and argument in RANDOM_LENGTHS
                column = columns.random if is_random else columns.structure
                column += content[end : end + body]
                end += body
            place = end
        joined = ColumnReader(columns).put_together(0, len(content))
    except (NotARecordError, NotABundleError):
        return None
    return columns if joined == (content, len(columns.structure)) else None


class ColumnReader:
    """Joins columns again, part by part; each column is read from its start."""

    __slots__ = ("_numbers", "_random", "structure")

    def __init__(self, columns: Columns) -> None:
        """Take three columns; ``structure`` may be read in between."""
        self.structure = bytes(columns.structure)
        self._numbers = read_leb128(bytes(columns.times))
        self._random = RandomColumn(bytes(columns.random))

    def put_together(self, place: int, length: int) -> tuple[bytes, int]:
        """Return a part of ``length`` bytes, and where the structure goes on.

        Raises:
            NotABundleError: A column is too short, or an item passes the part's end.
        """
        made, left, last = [], length, 0
        structure, numbers, find_piece = self.structure, self._numbers, _PIECE.match
        while left > 0:
            # What stays in the structure is never longer than what it is joined to.
            piece: Any = find_piece(structure, place, place + left)
            head, end = piece[1], piece.end()
            if end == place:
                taken, place, lacking = longer_item(structure, place)
                # Where it lacks any, its head passes the part's end: it is refused.
                taken += self._random.take(lacking)
                made.append(taken)
                left -= len(taken)
                continue
            made.append(structure[place:end])
            left -= end - place
            place = end
            if head == _TIME_HEAD:
                number = next(numbers, None)
                if number is None:
                    raise NotABundleError("a column is cut off")
                last += (number >> 1) ^ -(number & 1)
                if not 0 <= last < 2**32:
                    raise NotABundleError("a time is out of range")
                made.append(last.to_bytes(4, "big"))
                left -= 4
            elif head:
                made.append(self._random.take(RANDOM_HEADS[head]))
                left -= RANDOM_HEADS[head]
        if left:
            raise NotABundleError("a part is longer than it says")
        return b"".join(made), place

    def check_all_read(self) -> None:
        """Refuse columns of which something is left.

        Raises:
            NotABundleError: Something is left.
        """
        is_time_left = next(self._numbers, self) is not self
        if is_time_left or not self._random.is_taken:
            raise NotABundleError("a column is longer than its parts")


class RandomColumn:
    """What looks random, one string after the other, taken from the front."""

    __slots__ = ("_content", "_place")

    def __init__(self, content: bytes) -> None:
        """Take the column."""
        self._content, self._place = content, 0

    def take(self, length: int) -> bytes:
        """Return the next string.

        Raises:
            NotABundleError: The column is too short.
        """
        start, self._place = self._place, self._place + length
        if self._place > len(self._content):
            raise NotABundleError("a column is cut off")
        return self._content[start : self._place]

    @property
    def is_taken(self) -> bool:
        """Whether nothing is left."""
        return self._place == len(self._content)


def longer_item(structure: bytes, place: int) -> tuple[bytes, int, int]:
    """Return an item that is none of a run, where it ends, and what it lacks.

    What it lacks is the length of a string that stands in another column; 0 for none.

    Raises:
        NotABundleError: It is cut off.
    """
    try:
        major, argument, end = read_head(structure, place)
    except NotARecordError as error:
        raise NotABundleError("a part is cut off") from error
    if major == BYTES and argument in RANDOM_LENGTHS:
        return structure[place:end], end, argument
    end += body_length(major, argument)
    if end > len(structure):
        raise NotABundleError("a part is cut off")
    return structure[place:end], end, 0


def read_leb128(times: bytes) -> Iterator[int | None]:
    """Give each number of at most five bytes; None for one that is cut off."""
    # Bytes below 128 are each a number of its own.
    return iter(times) if times.isascii() else _read_longer(times)


def _read_longer(times: bytes) -> Iterator[int | None]:
    number = shift = 0
    for byte in times:
        number |= (byte & 127) << shift
        shift += 7
        if byte < 128 or shift == 7 * _WIDEST:
            yield number
            number = shift = 0
    if shift:
        yield None


def body_length(major: int, argument: int) -> int:
    """Return how many bytes follow a head before the next head."""
    is_whole = major == TEXT or (major == BYTES and argument <= max(RANDOM_LENGTHS))
    return argument if is_whole else 0


def zigzag_leb128(number: int) -> bytes:
    """Spell a number of either sign: 0, −1, 1, −2 … as 0, 1, 2, 3 …, then LEB128."""
    rest, made = number << 1 if number >= 0 else (-number << 1) - 1, bytearray()
    while rest > 127:
        made.append(rest & 127 | 128)
        rest >>= 7
    return bytes((*made, rest))
