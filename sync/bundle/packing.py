"""Parts of a bundle as one run of bytes, and packed.

A part is a kind (one byte) and a byte string as CBOR spells it; kinds never fall. To be
packed, they are taken apart into columns and deflated with a dictionary kept here.
"""

import zlib
from collections.abc import Iterable, Iterator, Sequence
from enum import IntEnum

import cbor2

from exam_app.record.cbor_form import BYTES, read_head
from exam_app.record.errors import NotARecordError
from sync.bundle.columns import ColumnReader, Columns, take_apart
from sync.bundle.dictionary_1 import DICTIONARY_1
from sync.bundle.dictionary_2 import DICTIONARY_2
from sync.errors import BundleTooLargeError, BundleTooNewError, NotABundleError

LARGEST_INFLATED = 4 * 2**20
NEWEST_DICTIONARY = 2
COLUMNS = 3
_DICTIONARIES = {0: b"", 1: DICTIONARY_1, 2: DICTIONARY_2}
_LENGTH_BYTES = 4


def deflate(
    columns: Sequence[bytes | bytearray], number: int = NEWEST_DICTIONARY
) -> bytes:
    """Return columns as one deflated stream, each in blocks of its own.

    Before them, inside the stream, stand the lengths of all but the last.

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
    return _columns(content)


def _columns(content: bytes) -> list[bytes]:
    place = _LENGTH_BYTES * (COLUMNS - 1)
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
# Added to a part's kind in the structure: its content stands in columns.
_IN_COLUMNS = 0x80


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


def pack(content: bytes) -> bytes:
    """Return a run of parts in columns, deflated.

    Raises:
        BundleTooLargeError: It passes the limit.
    """
    if len(content) > LARGEST_INFLATED:
        raise BundleTooLargeError(f"more than {LARGEST_INFLATED} bytes unpacked")
    columns = columns_of(content)
    return deflate((columns.structure, columns.times, columns.random))


def columns_of(content: bytes) -> Columns:
    """Return a run of parts in columns; parts that are not CBOR stay whole."""
    columns = Columns()
    for kind, part, _ in split_parts(content):
        apart = take_apart(part)
        mark = kind if apart is None else kind | _IN_COLUMNS
        columns.structure += bytes([mark]) + cbor2.dumps(part)[: -len(part) or None]
        columns.add(apart or Columns(bytearray(part)))
    return columns


class Unpacking:
    """A packed run of parts while it is put together, part by part.

    Whoever receives it looks at the first part, the manifest, and only goes on if a
    known sender signed it: putting the rest together is what costs time.
    """

    __slots__ = ("_made", "_place", "_reader")

    def __init__(self, packed: bytes) -> None:
        """Inflate within the limit; no part is put together yet.

        Raises:
            NotABundleError: Damaged, cut off, or something follows.
            BundleTooNewError: A dictionary that this version does not have.
            BundleTooLargeError: It unpacks to more than the limit.
        """
        self._reader = ColumnReader(Columns(*map(bytearray, inflate(packed))))
        self._place = 0
        self._made = bytearray()

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
        self._made.clear()
        while self._place < len(self._reader.structure):
            self._next(LARGEST_PART)
        self._reader.check_all_read()
        return bytes(self._made)

    def _next(self, longest: int) -> tuple[int, bytes]:
        structure, place = self._reader.structure, self._place
        mark = structure[place]
        try:
            major, length, end = read_head(structure, place + 1)
        except NotARecordError as error:
            raise NotABundleError("a part is cut off") from error
        if major != BYTES:
            raise NotABundleError("a part is no byte string")
        if length > longest or len(self._made) + length > LARGEST_INFLATED:
            raise BundleTooLargeError(f"more than {longest} bytes in a part")
        kind = mark & ~_IN_COLUMNS
        self._made += bytes([kind]) + structure[place + 1 : end]
        if mark & _IN_COLUMNS:
            part, self._place = self._reader.put_together(end, length)
        else:
            self._place = end + length
            part = structure[end : self._place]
        self._made += part
        return kind, part
