"""The tables of a journal in memory, and the index from which an opening starts.

An index is derived from the frames before it and holds every table in columns, in
chunks of some hundred documents that are sealed apart; the head of its frame says
where they stand. Opening reads none; showing the newest documents reads the last;
anything else reads the whole table once. Changes that come after the index wait for
that, unless it was read already.
"""

import json
import struct
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from itertools import islice
from typing import NamedTuple

from exam_app.store.engine.documents import WHERE, Bodies
from exam_app.store.engine.files import SealedFile
from exam_app.store.engine.format import (
    DROP,
    INDEX,
    MOVE,
    NEW,
    PUT,
    REMOVE,
    TABLE,
    TAG_LENGTH,
    Entry,
    Line,
    number_after,
)
from exam_app.store.errors import (
    DocumentDamagedError,
    VaultAlteredError,
    VaultDamagedError,
    VaultTooNewError,
)

Chunk = Callable[[], dict[str, Entry]]
DOCUMENTS_IN_A_CHUNK = 256
# No table of documents has this name.
_BOUND_TO = "#index"
_PLACE = struct.Struct(f"{WHERE.size}s")
_NOWHERE = bytes(WHERE.size)


class TableRows:
    """One table.

    Attributes:
        next_number: Higher than every number ever used as an id here.
        version: Grows with every change.
    """

    __slots__ = ("_chunks", "_entries", "_pending", "next_number", "version")

    def __init__(
        self,
        entries: dict[str, Entry] | None = None,
        next_number: int = 1,
        chunks: list[Chunk] | None = None,
    ) -> None:
        """Take entries, or the chunks of an index that hold them."""
        self._entries = entries or {}
        self._chunks = chunks or []
        self._pending: list[tuple[Line, Entry]] = []
        self.next_number = next_number
        self.version = 0

    @property
    def entries(self) -> dict[str, Entry]:
        """Document id to row (JSON or empty) and place of its body, in order.

        The place is offset, length and tag, or empty where there is no body.

        Raises:
            VaultAlteredError: A chunk of the index does not authenticate.
        """
        if self._chunks:
            entries: dict[str, Entry] = {}
            for chunk in self._chunks:
                entries.update(chunk())
            for line, entry in self._pending:
                _apply(entries, line, entry)
            self._entries, self._chunks, self._pending = entries, [], []
        return self._entries

    def keep_readable(self) -> bool:
        """Read the chunks that open and forget the others.

        Returns:
            Whether all of them opened.
        """
        is_whole = True
        for chunk in self._chunks:
            try:
                self._entries.update(chunk())
            except VaultAlteredError:
                is_whole = False
        self._chunks = []
        return is_whole

    def change(self, line: Line, entry: Entry) -> None:
        """Do one change of a document.

        Raises:
            VaultTooNewError: This version does not know the verb.
        """
        if line.verb not in (NEW, PUT, MOVE, REMOVE):
            raise VaultTooNewError("a change that this version does not know")
        self.version += 1
        self.next_number = max(self.next_number, number_after(line.document_id))
        if self._chunks:
            self._pending.append((line, entry))
        else:
            _apply(self._entries, line, entry)

    def newest(self, count: int) -> list[Entry]:
        """Give the entries put last, newest first, at most ``count``."""
        return list(islice(self._backwards(), max(count, 0)))

    def _backwards(self) -> Iterator[Entry]:
        added: dict[str, Entry] = {}
        replaced: dict[str, Entry] = {}
        gone = set()
        for line, entry in self._pending:
            key = line.document_id
            if line.verb == PUT:
                (added if key in added else replaced)[key] = entry
                continue
            added.pop(key, None)
            gone.add(key)
            if line.verb != REMOVE:
                added[key] = entry
        yield from reversed(added.values())
        for chunk in reversed(self._chunks):
            for key, entry in reversed(chunk().items()):
                if key not in gone:
                    yield replaced.get(key, entry)
        yield from reversed(self._entries.values())


Tables = dict[str, TableRows]


def apply_line(tables: Tables, line: Line, offset: int) -> None:
    """Do one change in place; its sealed body stands at ``offset`` in the file."""
    if line.verb == DROP:
        tables.pop(line.table, None)
        return
    rows = tables.setdefault(line.table, TableRows())
    if line.verb == TABLE:
        rows.next_number = max(rows.next_number, line.length)
        return
    where = WHERE.pack(offset, line.length, line.tag) if line.length else b""
    rows.change(line, (line.row, where))


def _apply(entries: dict[str, Entry], line: Line, entry: Entry) -> None:
    if line.verb in (MOVE, REMOVE):
        entries.pop(line.document_id, None)
    if line.verb != REMOVE:
        entries[line.document_id] = entry


class _ChunkPlace(NamedTuple):
    documents: int
    ids_length: int
    rows_length: int
    length: int
    tag: str


def encode_index(
    tables: Mapping[str, TableRows], bodies: Bodies
) -> tuple[bytes, list[bytes]]:
    """Write all tables: the plain head, and the sealed chunks as its bodies."""
    lines, sealed = [], []
    for name, rows in tables.items():
        places = []
        for number, chunk in enumerate(chunks_of(rows.entries, DOCUMENTS_IN_A_CHUNK)):
            ids = "\n".join(chunk).encode("ascii")
            shown = b"\n".join(row for row, _ in chunk.values())
            wheres = b"".join(where or _NOWHERE for _, where in chunk.values())
            plain = b"".join((ids, shown, wheres))
            body = bodies.seal(_BOUND_TO, f"{name}:{number}", plain, packs=False)
            tag = body[-TAG_LENGTH:].hex()
            places.append(_ChunkPlace(len(chunk), len(ids), len(shown), len(body), tag))
            sealed.append(body)
        lines.append(json.dumps([name, rows.next_number, places]).encode("ascii"))
    return INDEX + b"\n".join(lines), sealed


def decode_index(head: bytes, file: SealedFile, offset: int, bodies: Bodies) -> Tables:
    """Read the head of an index; its chunks are read when they are asked for.

    The first of them stands at ``offset`` in the file.

    Raises:
        VaultDamagedError: It authenticated and makes no sense.
    """
    tables: Tables = {}
    try:
        for line in head[1:].split(b"\n") if head[1:] else ():
            name, next_number, places = json.loads(line)
            chunks: list[Chunk] = []
            for number, place in enumerate(_ChunkPlace(*place) for place in places):
                key = f"{name}:{number}"
                chunks.append(partial(_read_chunk, file, offset, place, bodies, key))
                offset += place.length
            tables[name] = TableRows(None, int(next_number), chunks)
    except (ValueError, TypeError) as error:
        raise VaultDamagedError("the index makes no sense") from error
    return tables


def chunks_of(entries: dict[str, Entry], most: int) -> Iterator[dict[str, Entry]]:
    """Cut a table into pieces of at most so many documents, in order."""
    rest = iter(entries.items())
    while chunk := dict(islice(rest, most)):
        yield chunk


def _read_chunk(
    file: SealedFile, offset: int, place: _ChunkPlace, bodies: Bodies, key: str
) -> dict[str, Entry]:
    try:
        sealed = file.read_at(offset, place.length)
        tag = bytes.fromhex(place.tag)
        return _split(place, bodies.open(_BOUND_TO, key, sealed, tag))
    except (DocumentDamagedError, OSError, ValueError) as error:
        raise VaultAlteredError("a chunk of the index is damaged") from error


def _split(place: _ChunkPlace, plain: bytes) -> dict[str, Entry]:
    rows_end = place.ids_length + place.rows_length
    ids = plain[: place.ids_length].decode("ascii").split("\n")
    rows = plain[place.ids_length : rows_end].split(b"\n")
    wheres = [where for (where,) in _PLACE.iter_unpack(plain[rows_end:])]
    if _NOWHERE in wheres:
        wheres = [b"" if where == _NOWHERE else where for where in wheres]
    return dict(zip(ids, zip(rows, wheres, strict=True), strict=True))
