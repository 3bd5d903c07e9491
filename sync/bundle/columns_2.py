"""Packing 2: four columns, in which nothing stands that can be worked out again.

The structure, steps and upper bytes of times, and what looks random. Of a part's times,
sorted, each is written as the difference to the one before: its lowest byte looks
random, the others pack well; a step says which comes next. What is told by other parts
is not written at all: a string that stood before, all but five bytes of an id made
within its exam, and the hash of what stands beside an exam. Nothing is lost: what is
put together is compared with what was signed, byte for byte, by writer and reader.
"""

import re
from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from exam_app.record.cbor_form import BYTES, UNSIGNED, read_head
from exam_app.record.errors import NotARecordError
from exam_app.record.ids_within import (
    DRAWN_LENGTH,
    ID_LENGTH,
    id_within,
    is_id_within,
)
from sync.bundle.columns import (
    IN_COLUMNS,
    PLAIN_ITEM,
    RANDOM_HEADS,
    RANDOM_LENGTHS,
    RandomColumn,
    body_length,
    longer_item,
    read_leb128,
    zigzag_leb128,
)
from sync.errors import NotABundleError

# First bytes that CBOR leaves free; each stands for a whole item.
TIME, AS_BEFORE, WITHIN, BESIDE = 0x1C, 0x5C, 0x5D, 0x5E
# So many strings can be named again, each by one byte.
MOST_NAMED = 256
_HASH_LENGTH = 32
_NAMED_LENGTHS = (ID_LENGTH, _HASH_LENGTH)
_LARGEST_TIME = 2**32 - 1
_SMALLEST_TIME = 24
_HEAD_OF = {length: head for head, length in RANDOM_HEADS.items()}
# The one field of a short map, as the time of an answer is: small numbers count too.
_SHORT_TIME = rb"\xa1\x01(?=[\x18\x19])"
_RUN = re.compile(rb"(?:(?!%b)%b){0,2048}+" % (_SHORT_TIME, PLAIN_ITEM), re.DOTALL)
_SHORT_TIME_HERE = re.compile(_SHORT_TIME)
_HEADS = b"|".join(map(re.escape, RANDOM_HEADS))
_PIECE = re.compile(
    rb"%b{0,2048}+(\x1c|\x5c.|\x5d|\x5e|%b)?" % (PLAIN_ITEM, _HEADS), re.DOTALL
)


@dataclass(slots=True)
class _Taken:
    """One part while it is taken apart.

    Attributes:
        times: In the order in which they stand.
        named: Strings of it that can be named from now on.
        exam_id: Its first string of 16 bytes.
        expected: The hash that is told elsewhere and comes next; None for none.
    """

    structure: bytearray = field(default_factory=bytearray)
    times: list[int] = field(default_factory=list)
    random: bytearray = field(default_factory=bytearray)
    named: list[bytes] = field(default_factory=list)
    exam_id: bytes = b""
    expected: bytes | None = None


class ColumnWriter:
    """Takes parts apart one after the other.

    Attributes:
        structure: CBOR without what the others hold.
        steps: Of each part how many times, then which of them comes next.
        highs: Differences of times, without their lowest byte.
        random: Lowest bytes, then ids, salts, signatures.
    """

    __slots__ = ("_named", "highs", "random", "steps", "structure")

    def __init__(self) -> None:
        """Begin with empty columns."""
        self.structure, self.steps = bytearray(), bytearray()
        self.highs, self.random = bytearray(), bytearray()
        self._named: dict[bytes, int] = {}

    @property
    def columns(self) -> tuple[bytearray, ...]:
        """The four in their order."""
        return self.structure, self.steps, self.highs, self.random

    def add(self, kind: int, head: bytes, part: bytes, told: Iterator[bytes]) -> None:
        """Append one part; whole, if it is not ours to look into.

        Args:
            kind: Of the part; ``IN_COLUMNS`` is added to it when it is taken apart.
            head: Its length, as CBOR spells it.
            told: Hashes that stand in it, in order, and follow from parts before.
        """
        taken = self._take_apart(part, told)
        if taken is None:
            self.structure += bytes([kind]) + head + part
            return
        self.structure += bytes([kind | IN_COLUMNS]) + head + taken.structure
        for named in taken.named:
            if len(self._named) < MOST_NAMED:
                self._named[named] = len(self._named)
        ordered = sorted(set(taken.times))
        self.steps += _leb128(len(ordered))
        places, before = {}, 0
        for place, time in enumerate(ordered):
            places[time] = place
            high, low = divmod(time - before, 256)
            self.highs += _leb128(high)
            self.random.append(low)
            before = time
        last = -1
        for time in taken.times:
            self.steps += zigzag_leb128(places[time] - last - 1)
            last = places[time]
        self.random += taken.random

    def _take_apart(self, part: bytes, told: Iterator[bytes]) -> _Taken | None:
        """Return a part's columns; None for what is not ours to look into."""
        taken, place = _Taken(expected=next(told, None)), 0
        try:
            while place < len(part):
                run: Any = _RUN.match(part, place)
                taken.structure += run[0]
                place = run.end()
                if place < len(part):
                    place = self._take_item(taken, part, place, told)
        except NotARecordError:
            return None
        return taken if place == len(part) else None

    def _take_item(
        self, taken: _Taken, part: bytes, place: int, told: Iterator[bytes]
    ) -> int:
        """Take what stands after a run; return where the next run begins."""
        if short := _SHORT_TIME_HERE.match(part, place):
            taken.structure += short[0]
            place = short.end()
        major, argument, end = read_head(part, place)
        if major == UNSIGNED and _SMALLEST_TIME <= argument <= _LARGEST_TIME:
            taken.structure.append(TIME)
            taken.times.append(argument)
            return end
        if major == BYTES and argument in RANDOM_LENGTHS:
            text = part[end : end + argument]
            if text == taken.expected:
                taken.structure.append(BESIDE)
                taken.expected = next(told, None)
            else:
                self._take_random(taken, text)
            if not taken.exam_id and argument == ID_LENGTH:
                taken.exam_id = text
            return end + argument
        end += body_length(major, argument)
        taken.structure += part[place:end]
        return end

    def _take_random(self, taken: _Taken, text: bytes) -> None:
        named = self._named.get(text)
        if named is None and text in taken.named:
            named = len(self._named) + taken.named.index(text)
        if named is not None and named < MOST_NAMED:
            taken.structure += bytes([AS_BEFORE, named])
        elif self._is_within(taken.exam_id, text):
            taken.structure.append(WITHIN)
            taken.random += text[:DRAWN_LENGTH]
        else:
            taken.structure += _HEAD_OF.get(len(text), b"")
            taken.random += text
            if len(text) in _NAMED_LENGTHS:
                taken.named.append(text)

    @staticmethod
    def _is_within(exam_id: bytes, text: bytes) -> bool:
        return len(text) == ID_LENGTH == len(exam_id) and is_id_within(exam_id, text)


class ColumnReader2:
    """Joins the columns of packing 2 again, part by part, in the order written."""

    __slots__ = (
        "_highs",
        "_named",
        "_random",
        "_steps",
        "structure",
    )

    def __init__(self, columns: Sequence[bytes]) -> None:
        """Take four columns; ``structure`` may be read in between."""
        self.structure = columns[0]
        self._steps, self._highs = map(read_leb128, columns[1:3])
        self._random = RandomColumn(columns[3])
        self._named: list[bytes] = []

    def put_together(
        self, place: int, length: int, told: Iterator[bytes]
    ) -> tuple[bytes, int]:
        """Return a part of ``length`` bytes, and where the structure goes on.

        Args:
            told: As ``ColumnWriter.add`` took them.

        Raises:
            NotABundleError: A column is too short, an item passes the part's end, or
                something is named that is not there.
        """
        made, exam_id, rank = bytearray(), b"", -1
        structure, find_piece = self.structure, _PIECE.match
        times = self._times(length)
        while (left := length - len(made)) > 0:
            # What stays in the structure is never longer than what it is joined to.
            piece: Any = find_piece(structure, place, place + left)
            head, end = piece[1], piece.end()
            if end == place:
                taken, place = self._longer_item(place)
                made += taken
                continue
            made += structure[place : end - len(head or b"")]
            place = end
            if head == b"\x1c":
                step = _one(self._steps)
                rank += 1 + ((step >> 1) ^ -(step & 1))
                if not 0 <= rank < len(times):
                    raise NotABundleError("a time is named that is not there")
                time = times[rank]
                # Nearly all are of four bytes.
                made += b"\x1a%b" % time.to_bytes(4) if time >> 16 else _spelled(time)
            elif head:
                text = self._text(head, exam_id, told)
                made += _HEAD_OF[len(text)] + text
                if not exam_id and len(text) == ID_LENGTH:
                    exam_id = text
        if left:
            raise NotABundleError("a part is longer than it says")
        return bytes(made), place

    def check_all_read(self) -> None:
        """Refuse columns of which something is left.

        Raises:
            NotABundleError: Something is left.
        """
        left = (next(column, self) for column in (self._steps, self._highs))
        is_left = any(one is not self for one in left)
        if is_left or not self._random.is_taken:
            raise NotABundleError("a column is longer than its parts")

    def _times(self, length: int) -> "array[int]":
        """Return a part's times in order."""
        count = _one(self._steps)
        # Each takes two bytes of the part at least.
        if 2 * count > length:
            raise NotABundleError("a part has more times than bytes")
        times, time = array("I"), 0
        highs = self._highs
        for low in self._random.take(count):
            high = next(highs, None)
            if high is None:
                raise NotABundleError("a column is cut off")
            time += high << 8 | low
            if time > _LARGEST_TIME:
                raise NotABundleError("a time is out of range")
            times.append(time)
        return times

    def _text(self, head: bytes, exam_id: bytes, told: Iterator[bytes]) -> bytes:
        first = head[0]
        if first == AS_BEFORE:
            if head[1] >= len(self._named):
                raise NotABundleError("a string is named that did not stand before")
            return self._named[head[1]]
        if first == WITHIN:
            if not exam_id:
                raise NotABundleError("an id is made within nothing")
            return id_within(exam_id, self._random.take(DRAWN_LENGTH))
        if first == BESIDE:
            text = next(told, None)
            if text is None:
                raise NotABundleError("a hash of something that is not there")
            return text
        text = self._random.take(RANDOM_HEADS[head])
        if len(self._named) < MOST_NAMED and len(text) in _NAMED_LENGTHS:
            self._named.append(text)
        return text

    def _longer_item(self, place: int) -> tuple[bytes, int]:
        taken, end, lacking = longer_item(self.structure, place)
        if lacking:
            raise NotABundleError("a part is longer than it says")
        return taken, end


def _one(numbers: Iterator[int | None]) -> int:
    number = next(numbers, None)
    if number is None:
        raise NotABundleError("a column is cut off")
    return number


def _spelled(time: int) -> bytes:
    """Spell what takes less than four bytes."""
    return bytes((0x18, time)) if time < 2**8 else b"\x19" + time.to_bytes(2, "big")


def _leb128(number: int) -> bytes:
    made = bytearray()
    while number > 127:
        made.append(number & 127 | 128)
        number >>= 7
    return bytes((*made, number))
