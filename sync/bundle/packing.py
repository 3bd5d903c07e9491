"""Parts of a bundle as one run of bytes, and packed.

A part is a kind (one byte) and a byte string as CBOR spells it; kinds never fall. To be
packed, they are taken apart into columns and deflated with a dictionary kept here.
There are two packings: every version reads the first, and the second goes only to
somebody who is known to read it.
"""

import zlib
from collections.abc import Iterable, Iterator, Sequence
from enum import IntEnum
from operator import itemgetter

import cbor2

from exam_app.crypto import door
from exam_app.record.cbor_form import ARRAY, BYTES, UNSIGNED, read_head
from exam_app.record.errors import NotARecordError
from sync.bundle.columns import IN_COLUMNS, ColumnReader, Columns, take_apart
from sync.bundle.columns_2 import ColumnReader2, ColumnWriter
from sync.bundle.dictionary_1 import DICTIONARY_1
from sync.bundle.dictionary_2 import DICTIONARY_2
from sync.bundle.dictionary_3 import DICTIONARY_3
from sync.errors import (
    BundleTooLargeError,
    BundleTooNewError,
    NotABundleError,
)

LARGEST_INFLATED = 4 * 2**20
OLDEST_PACKING, NEWEST_PACKING = 1, 2
_DICTIONARIES = {0: b"", 1: DICTIONARY_1, 2: DICTIONARY_2, 3: DICTIONARY_3}
# Of each packing the number of its newest dictionary, and how many columns it has.
_NEWEST_DICTIONARY = {1: 2, 2: 3}
_COLUMNS = {1: 3, 2: 4}
_FIRST_OF_PACKING_2 = 3
_LENGTH_BYTES = 4
_SALT_LENGTH = 32


def _packing_of(dictionary: int) -> int:
    return 2 if dictionary >= _FIRST_OF_PACKING_2 else 1


def deflate(
    columns: Sequence[bytes | bytearray], number: int = _NEWEST_DICTIONARY[1]
) -> bytes:
    """Return columns as one deflated stream, each in blocks of its own.

    Before them, inside the stream, stand the lengths of all but the last.

    Args:
        columns: As many as the packing has.
        number: Of the dictionary; it tells the packing too.

    Raises:
        BundleTooLargeError: They pass the limit.
    """
    lengths = [len(column).to_bytes(_LENGTH_BYTES, "big") for column in columns[:-1]]
    if sum(map(len, columns)) + sum(map(len, lengths)) > LARGEST_INFLATED:
        raise BundleTooLargeError(f"more than {LARGEST_INFLATED} bytes unpacked")
    press = zlib.compressobj(
        9, zlib.DEFLATED, -15, 9, zlib.Z_DEFAULT_STRATEGY, _DICTIONARIES[number]
    )
    made = press.compress(b"".join(lengths))
    for column in columns[:-1]:
        made += press.compress(column) + press.flush(zlib.Z_BLOCK)
    return bytes([number]) + made + press.compress(columns[-1]) + press.flush()


def inflate(packed: bytes) -> list[bytes]:
    """Return the columns; never more than the limit is unpacked.

    Raises:
        NotABundleError: Damaged, cut off, or something follows.
        BundleTooNewError: A dictionary that this version does not have.
        BundleTooLargeError: It unpacks to more than the limit.
    """
    if not packed:
        raise NotABundleError("nothing is inside")
    if packed[0] not in _DICTIONARIES:
        raise BundleTooNewError(f"dictionary {packed[0]}")
    opener = zlib.decompressobj(-15, _DICTIONARIES[packed[0]])
    try:
        content = opener.decompress(packed[1:], LARGEST_INFLATED + 1)
    except zlib.error as error:
        raise NotABundleError("it cannot be unpacked") from error
    if len(content) > LARGEST_INFLATED:
        raise BundleTooLargeError(f"more than {LARGEST_INFLATED} bytes unpacked")
    if not opener.eof or opener.unused_data:
        raise NotABundleError("it ends too early, or something follows")
    return _columns(content, _COLUMNS[_packing_of(packed[0])])


def _columns(content: bytes, count: int) -> list[bytes]:
    place = _LENGTH_BYTES * (count - 1)
    heads = [content[i : i + _LENGTH_BYTES] for i in range(0, place, _LENGTH_BYTES)]
    columns = []
    for head in heads:
        end = place + int.from_bytes(head, "big")
        columns.append(content[place:end])
        place = end
    if place > len(content):
        raise NotABundleError("a column is cut off")
    return [*columns, content[place:]]


LARGEST_PART = 2**20
MOST_PARTS = 20_000


class Part(IntEnum):
    """What a part is."""

    MANIFEST = 0
    EXAM = 1
    NOTE = 2
    OWNER = 3
    PROTOCOL = 4
    ANIMAL = 5
    RECEIPT = 6
    # 7 stands for an unknown kind in a stored bundle and stays one.
    PRIVATE = 8


_KINDS = frozenset(Part)
_BESIDE = (Part.OWNER, Part.PRIVATE)


def join_parts(parts: Iterable[tuple[Part, bytes]]) -> bytes:
    """Return parts as one run of bytes, in the order given.

    Raises:
        BundleTooLargeError: A part passes the limit, or there are too many.
    """
    joined: list[bytes] = []
    for kind, content in parts:
        if len(content) > LARGEST_PART or len(joined) == MOST_PARTS:
            raise BundleTooLargeError(f"over {LARGEST_PART} bytes or {MOST_PARTS}")
        joined.append(bytes([kind]) + cbor2.dumps(content))
    return b"".join(joined)


def split_parts(content: bytes, start: int = 0) -> Iterator[tuple[Part, bytes, int]]:
    """Give each part with the place where it ends.

    Raises:
        NotABundleError: Cut off, out of order, or spelled otherwise.
        BundleTooNewError: A kind that this version does not know.
        BundleTooLargeError: A part passes the limit, or there are too many.
    """
    place, count, last = start, 0, 0
    while place < len(content):
        kind = content[place]
        if kind not in _KINDS:
            raise BundleTooNewError(f"a part of kind {kind}")
        try:
            major, length, begin = read_head(content, place + 1)
        except NotARecordError as error:
            raise NotABundleError("a part is cut off") from error
        place = begin + length
        if major != BYTES or kind < last or place > len(content):
            raise NotABundleError("a part is cut off or out of order")
        count, last = count + 1, kind
        if length > LARGEST_PART or count > MOST_PARTS:
            raise BundleTooLargeError(f"over {LARGEST_PART} bytes or {MOST_PARTS}")
        yield Part(kind), content[begin:place], place


Columned = tuple[bytes | bytearray, ...]


def pack(content: bytes, packing: int = NEWEST_PACKING) -> bytes:
    """Return a run of parts in columns, deflated.

    Args:
        packing: The newest that whoever receives it is known to read; one of these.

    Raises:
        BundleTooLargeError: It passes the limit.
    """
    if len(content) > LARGEST_INFLATED:
        raise BundleTooLargeError(f"more than {LARGEST_INFLATED} bytes unpacked")
    packed = deflate_columns(columns_of(content, packing), packing)
    if packing != OLDEST_PACKING and Unpacking(packed).rest() != content:
        # Not known to be possible; nothing may be lost if it is.
        return pack(content, OLDEST_PACKING)
    return packed


def deflate_columns(columns: Sequence[bytes | bytearray], packing: int) -> bytes:
    """Deflate columns of a packing with its newest dictionary; as ``deflate``."""
    return deflate(columns, _NEWEST_DICTIONARY[packing])


def columns_of(content: bytes, packing: int) -> Columned:
    """Return a run of parts in columns; parts that are not CBOR stay whole."""
    if packing == OLDEST_PACKING:
        columns = Columns()
        for kind, part, _ in split_parts(content):
            apart = take_apart(part)
            mark = kind if apart is None else kind | IN_COLUMNS
            columns.structure += bytes([mark]) + _head_of(part)
            columns.add(apart or Columns(bytearray(part)))
        return columns.structure, columns.times, columns.random
    writer, beside = ColumnWriter(), _HashesBeside()
    parts = [(kind, part) for kind, part, _ in split_parts(content)]
    for kind, part in sorted(parts, key=_place_written):
        writer.add(kind, _head_of(part), part, beside.of_next(kind))
        beside.follow(kind, part)
    return writer.columns


def _head_of(part: bytes) -> bytes:
    return cbor2.dumps(part)[: -len(part) or None]


def _place_written(part: tuple[int, bytes]) -> tuple[bool, bool]:
    """Sort what stands beside exams before them, and the manifest before all."""
    return part[0] != Part.MANIFEST, part[0] not in _BESIDE


class _HashesBeside:
    """The hashes of what stands beside exams, by the place of the exam."""

    __slots__ = ("_exams", "_hashes")

    def __init__(self) -> None:
        self._exams = 0
        self._hashes: dict[int, list[bytes]] = {}

    def of_next(self, kind: int) -> Iterator[bytes]:
        """Give those of the exam that comes now; none for another part."""
        is_exam = kind == Part.EXAM
        return iter(self._hashes.get(self._exams, ()) if is_exam else ())

    def follow(self, kind: int, part: bytes) -> None:
        """Count an exam; hash what stands beside one."""
        self._exams += kind == Part.EXAM
        if kind in _BESIDE and (found := _hash_beside(part)):
            self._hashes.setdefault(found[0], []).append(found[1])


def _hash_beside(part: bytes) -> tuple[int, bytes] | None:
    """Return the exam's place and H(salt ‖ block); None for what has another form."""
    try:
        *list_of, end = read_head(part, 0)
        place_major, exam, end = read_head(part, end)
        *salt_head, salt = read_head(part, end)
        block_major, length, block = read_head(part, salt + _SALT_LENGTH)
    except NotARecordError:
        return None
    is_ours = (list_of, salt_head) == ([ARRAY, 3], [BYTES, _SALT_LENGTH])
    majors = (place_major, block_major)
    if not is_ours or majors != (UNSIGNED, BYTES) or block + length != len(part):
        return None
    return exam, door.sha256(part[salt : salt + _SALT_LENGTH] + part[block:])


class Unpacking:
    """A packed run of parts while it is put together, part by part.

    Whoever receives it looks at the first part, the manifest, and only goes on if a
    known sender signed it: putting the rest together is what costs time.
    """

    __slots__ = ("_beside", "_is_sorted", "_length", "_parts", "_place", "_reader")

    def __init__(self, packed: bytes) -> None:
        """Inflate within the limit; no part is put together yet.

        Raises:
            NotABundleError: Damaged, cut off, or something follows.
            BundleTooNewError: A dictionary that this version does not have.
            BundleTooLargeError: It unpacks to more than the limit.
        """
        columns = inflate(packed)
        # In packing 2, what stands beside exams comes before them.
        self._is_sorted = len(columns) == _COLUMNS[2]
        self._reader: ColumnReader | ColumnReader2
        if self._is_sorted:
            self._reader = ColumnReader2(columns)
        else:
            self._reader = ColumnReader(Columns(*map(bytearray, columns)))
        self._beside = _HashesBeside()
        self._place = self._length = 0
        self._parts: list[tuple[int, bytes]] = []

    def first(self, longest: int) -> tuple[Part, bytes]:
        """Return kind and content of the first part.

        Args:
            longest: Bytes that such a part may have.

        Raises:
            NotABundleError: There is none, or it is cut off.
            BundleTooNewError: It is of a kind that this version does not know.
            BundleTooLargeError: It is longer.
        """
        if not self._reader.structure:
            raise NotABundleError("it has no part")
        kind, part = self._next(longest)
        if kind not in _KINDS:
            raise BundleTooNewError(f"a part of kind {kind}")
        return Part(kind), part

    def rest(self) -> bytes:
        """Return the run of all parts that were not given yet.

        Raises:
            NotABundleError: Damaged, cut off, or something follows.
            BundleTooLargeError: It passes a limit.
        """
        self._parts.clear()
        while self._place < len(self._reader.structure):
            # One more than the parts of a bundle's contents: its manifest.
            if len(self._parts) > MOST_PARTS:
                raise BundleTooLargeError(f"more than {MOST_PARTS} parts")
            self._next(LARGEST_PART)
        self._reader.check_all_read()
        if self._is_sorted:
            # Kinds never fall in what was packed, so that this is its order.
            self._parts.sort(key=itemgetter(0))
        return b"".join(part for _, part in self._parts)

    def _next(self, longest: int) -> tuple[int, bytes]:
        structure, place = self._reader.structure, self._place
        mark = structure[place]
        try:
            major, length, end = read_head(structure, place + 1)
        except NotARecordError as error:
            raise NotABundleError("a part is cut off") from error
        if major != BYTES:
            raise NotABundleError("a part is no byte string")
        if length > longest or self._length + length > LARGEST_INFLATED:
            raise BundleTooLargeError(f"more than {longest} bytes in a part")
        kind = mark & ~IN_COLUMNS
        if not mark & IN_COLUMNS:
            self._place = end + length
            part = structure[end : self._place]
            if len(part) < length:
                raise NotABundleError("a part is cut off")
        elif isinstance(self._reader, ColumnReader2):
            told = self._beside.of_next(kind)
            part, self._place = self._reader.put_together(end, length, told)
        else:
            part, self._place = self._reader.put_together(end, length)
        if self._is_sorted:
            self._beside.follow(kind, part)
        spelled = bytes([kind]) + structure[place + 1 : end] + part
        self._length += len(spelled)
        self._parts.append((kind, spelled))
        return kind, part
