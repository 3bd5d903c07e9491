"""Lists kept beside the journal, so that lists and searches read a part of its index.

``vault.lists`` is made from one index of one journal, and is of use with that index
alone: whatever changed later lies over it in memory. It is never needed. What does
not open, or belongs to another index, is as if it were not there: the index itself
is read, and closing makes the file anew.

Every page is sealed and bound to the vault, the journal, the tag of the index and its
own name. A list never answers by itself: what it points to is looked up in the
authenticated index and asked again.
"""

import json
import re
import struct
import zlib
from array import array
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count as counting
from itertools import islice
from sys import byteorder

from exam_app.store.engine.documents import Bodies
from exam_app.store.engine.files import SealedFile
from exam_app.store.engine.format import TAG_LENGTH, Entry, FrameKeys
from exam_app.store.errors import DocumentDamagedError

Found = Iterable[tuple[str, Entry]]
# A table of fewer documents is read as quickly without lists.
FEWEST_LISTED = 257
_MAGIC = b"exam-vault list\n"
_HEADER = struct.Struct(">16sHI")
_VERSION = 1
_LONGEST_DIRECTORY = 1 << 24
_TEXTS_IN_A_PAGE = 2048
_SORTED_APART = 256
_LOW = 2**32 - 1
# No table of documents has this name.
_BOUND_TO = "#lists"


@dataclass(frozen=True, slots=True)
class Pick:
    """Which documents of a table a list picks.

    Attributes:
        unless: What in a row leaves its document out.
        key: Field of the row that names a document of ``other``, which leaves it out
            where its row holds ``unless_other``.
    """

    unless: bytes
    key: str
    other: str
    unless_other: bytes


@dataclass(frozen=True, slots=True)
class Listed:
    """What is listed of one table.

    Attributes:
        fields: By whose value its documents are looked up.
        text: Field that is searched, and the one behind it in the row.
        pick: Which documents are picked.
    """

    fields: tuple[str, ...] = ()
    text: tuple[str, str] | None = None
    pick: Pick | None = None


class KeptLists:
    """The lists of one index, read from their file a page at a time.

    Attributes:
        is_damaged: Whether a page did not open; from then on none is used.
    """

    __slots__ = ("_bodies", "_file", "_key", "_pages", "_places", "is_damaged")

    def __init__(
        self,
        file: SealedFile,
        bodies: Bodies,
        key: str,
        places: Mapping[str, Sequence[int | str]],
    ) -> None:
        """Take the directory of a file; see ``open_lists``."""
        self._file, self._bodies, self._key = file, bodies, key
        self._places = places
        self._pages: dict[str, bytes | _Places] = {}
        self.is_damaged = False

    def has(self, name: str) -> bool:
        """Whether there is a page of that name and the file is sound."""
        return name in self._places and not self.is_damaged

    def page(self, name: str) -> bytes | None:
        """Give a page, or None where there is none or the file is damaged."""
        if not self.has(name):
            return None
        try:
            offset, length, tag = self._places[name]
            sealed = self._file.read_at(int(offset), int(length))
            bound = f"{self._key}:{name}"
            return self._bodies.open(_BOUND_TO, bound, sealed, bytes.fromhex(str(tag)))
        except (DocumentDamagedError, OSError, ValueError, TypeError):
            self.is_damaged = True
            return None

    def text(self, name: str) -> bytes | None:
        """Give a page of texts, kept once it was read."""
        page = self._pages.get(name)
        if page is None and (page := self.page(name)) is not None:
            self._pages[name] = page
        return page if isinstance(page, bytes) else None

    def places(self, name: str) -> "_Places | None":
        """Give a page of hashes and places, kept once it was read."""
        page = self._pages.get(name)
        if page is None and (content := self.page(name)) is not None:
            page = self._pages[name] = _Places(content)
        return page if isinstance(page, _Places) else None


class TableLists:
    """The lists of one table. Places count its documents in the index from 0."""

    __slots__ = ("_lists", "_name")

    def __init__(self, lists: KeptLists, name: str) -> None:
        """Use the pages of the table of this name."""
        self._lists, self._name = lists, name

    def ids(self, document_id: str) -> Sequence[int] | None:
        """Give where a document of this id may stand; None without a list."""
        return self.by("", document_id.encode())

    def by(self, field: str, fragment: bytes) -> Sequence[int] | None:
        """Give where a row may hold a field so; None without a list."""
        page = self._lists.places(f"{self._name}/by/{field}")
        return None if page is None else page.of(fragment)

    def picked(self) -> Sequence[int] | None:
        """Give what was picked; None without a list."""
        page = self._lists.page(f"{self._name}/picked")
        return None if page is None else _numbers(page)

    def texts(self, words: Sequence[bytes]) -> Iterable[int] | None:
        """Give where the listed text may hold all of ``words``; None without a list.

        Raises:
            DocumentDamagedError: While it is used, where a later page does not open.
        """
        # All or none: an answer that ends in the middle would be a wrong one.
        pages = []
        for number in counting():
            name = f"{self._name}/texts/{number}"
            if not self._lists.has(name):
                break
            pages.append(name)
        return self._lines(pages, words) if pages else None

    def _lines(self, pages: Sequence[str], words: Sequence[bytes]) -> Iterator[int]:
        first, *others = words
        for number, name in enumerate(pages):
            page = self._lists.text(name)
            if page is None:
                raise DocumentDamagedError("a list did not open while it was used")
            line, counted_to = number * _TEXTS_IN_A_PAGE, 0
            at = page.find(first)
            while at >= 0:
                end = page.index(b"\n", at)
                begin = page.rfind(b"\n", 0, at) + 1
                if all(page.find(word, begin, end) >= 0 for word in others):
                    line += page.count(b"\n", counted_to, at)
                    counted_to = at
                    yield line
                at = page.find(first, end)


class _Places:
    """Hashes in order, each with a place."""

    __slots__ = ("_hashes", "_places")

    def __init__(self, content: bytes) -> None:
        middle = len(content) // 2
        self._hashes = _numbers(content[:middle])
        self._places = _numbers(content[middle:])

    def of(self, fragment: bytes) -> Sequence[int]:
        wanted = zlib.crc32(fragment)
        at = end = bisect_left(self._hashes, wanted)
        while end < len(self._hashes) and self._hashes[end] == wanted:
            end += 1
        return self._places[at:end]


def open_lists(file: SealedFile, keys: FrameKeys, index_tag: bytes) -> KeptLists | None:
    """Read the directory of a file of lists.

    Args:
        index_tag: Of the index that the lists must be made from.

    Returns:
        None where the file is empty, damaged, too long or of another index.
    """
    key = _key(keys, index_tag)
    try:
        header = file.read_at(0, _HEADER.size)
        if len(header) != _HEADER.size:
            return None
        magic, version, length = _HEADER.unpack(header)
        if (magic, version) != (_MAGIC, _VERSION) or length > _LONGEST_DIRECTORY:
            return None
        sealed = file.read_at(_HEADER.size, length)
        plain = keys.bodies.open(_BOUND_TO, key, sealed, sealed[-TAG_LENGTH:])
        size, places = json.loads(plain)
        is_whole = file.size() == size
    except (DocumentDamagedError, OSError, ValueError, TypeError):
        return None
    return KeptLists(file, keys.bodies, key, places) if is_whole else None


def empty_lists(file: SealedFile) -> None:
    """Empty a file of lists, so that nothing that was erased stands in it.

    Raises:
        OSError: The disk refused.
    """
    if file.size():
        file.truncate(0)
        file.flush()


def write_lists(
    file: SealedFile, keys: FrameKeys, index_tag: bytes, pages: Mapping[str, bytes]
) -> None:
    """Write a file of lists over what a file held; it is not flushed.

    Raises:
        OSError: The disk failed; the file is empty, or none that opens.
    """
    file.truncate(0)
    key = _key(keys, index_tag)
    sealed = {
        name: keys.bodies.seal(_BOUND_TO, f"{key}:{name}", page, packs=False)
        for name, page in pages.items()
    }
    # The directory names places, whose digits change its length: padded to one.
    length = sum(len(name) + 80 for name in sealed) + 80
    at = _HEADER.size + length
    places = {}
    for name, body in sealed.items():
        places[name] = (at, len(body), body[-TAG_LENGTH:].hex())
        at += len(body)
    plain = json.dumps([at, places]).encode("ascii")
    overhead = 12 + 1 + TAG_LENGTH
    directory = keys.bodies.seal(
        _BOUND_TO, key, plain.ljust(length - overhead), packs=False
    )
    file.write_at(0, _HEADER.pack(_MAGIC, _VERSION, len(directory)) + directory)
    at = _HEADER.size + len(directory)
    for body in sealed.values():
        file.write_at(at, body)
        at += len(body)


def make_pages(
    tables: Mapping[str, Mapping[str, Entry]], listed: Mapping[str, Listed]
) -> dict[str, bytes]:
    """Make the lists of large tables.

    Args:
        tables: What an index holds.
        listed: What is listed, by table.
    """
    pages: dict[str, bytes] = {}
    for name, entries in tables.items():
        if len(entries) < FEWEST_LISTED:
            continue
        rows = [row for row, _ in entries.values()]
        what = listed.get(name, Listed())
        pages[f"{name}/by/"] = _hashed(
            (key.encode(), place) for place, key in enumerate(entries)
        )
        for field in what.fields:
            pages[f"{name}/by/{field}"] = _hashed(_fragments(field, rows))
        if what.text:
            for number, page in enumerate(_texts(what.text, rows)):
                pages[f"{name}/texts/{number}"] = page
        if what.pick:
            pages[f"{name}/picked"] = _bytes_of(
                _picked(what.pick, rows, tables.get(what.pick.other, {}))
            )
    return pages


def _fragments(field: str, rows: Sequence[bytes]) -> Iterator[tuple[bytes, int]]:
    # Every text that may be the field's value, so that none is missed.
    pattern = re.compile(rb'"%b":"(?:[^"\\]|\\.)*"' % re.escape(field).encode())
    for place, row in enumerate(rows):
        for fragment in set(pattern.findall(row)):
            yield fragment, place


def _texts(names: tuple[str, str], rows: Sequence[bytes]) -> Iterator[bytes]:
    start = len(json.dumps({names[0]: ""}, separators=(",", ":"))) - 2
    end = f'","{names[1]}":'.encode()
    rest = iter(rows)
    while page := [
        row[start : row.index(end)] for row in islice(rest, _TEXTS_IN_A_PAGE)
    ]:
        # Each line has its end, so that the line after a place is always found.
        yield b"\n".join(page) + b"\n"


def _picked(
    pick: Pick, rows: Sequence[bytes], others: Mapping[str, Entry]
) -> Iterator[int]:
    pattern = re.compile(rb'"%b":"([^"\\]*)"' % re.escape(pick.key).encode())
    for place, row in enumerate(rows):
        if pick.unless in row:
            continue
        found = pattern.search(row)
        other = others.get(found[1].decode("ascii", "replace")) if found else None
        if other is None or pick.unless_other not in other[0]:
            yield place


def _hashed(pairs: Iterable[tuple[bytes, int]]) -> bytes:
    # Sorted in parts by their highest bits: one sort of all would hold the
    # interpreter, and with it the page, for as long as it takes.
    parts: list[list[int]] = [[] for _ in range(_SORTED_APART)]
    for fragment, place in pairs:
        hashed = zlib.crc32(fragment)
        parts[hashed * _SORTED_APART >> 32].append(hashed << 32 | place)
    hashes, places = array("I"), array("I")
    for part in parts:
        part.sort()
        hashes.extend([one >> 32 for one in part])
        places.extend([one & _LOW for one in part])
    return _swapped(hashes).tobytes() + _swapped(places).tobytes()


def _bytes_of(numbers: Iterable[int]) -> bytes:
    return _swapped(array("I", numbers)).tobytes()


def _numbers(content: bytes) -> "array[int]":
    numbers = array("I")
    numbers.frombytes(content)
    return _swapped(numbers)


def _swapped(numbers: "array[int]") -> "array[int]":
    if byteorder == "big":
        numbers.byteswap()
    return numbers


def _key(keys: FrameKeys, index_tag: bytes) -> str:
    return f"{keys.journal_id.hex()}:{index_tag.hex()}"
