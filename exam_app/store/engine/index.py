"""The index from which an opening starts.

An index is derived from the frames before it and holds every table in columns, in
chunks of some hundred documents that are sealed apart; the head of its frame says
where they stand. Opening reads none; showing the newest documents reads the last.
"""

import json
import struct
from collections.abc import Iterator, Mapping
from functools import partial
from itertools import islice
from typing import NamedTuple

from exam_app.store.engine.documents import WHERE, Bodies
from exam_app.store.engine.files import SealedFile
from exam_app.store.engine.format import (
    DROP,
    INDEX,
    TABLE,
    TAG_LENGTH,
    Entry,
    Line,
)
from exam_app.store.engine.table_rows import Chunk, TableRows
from exam_app.store.errors import (
    DocumentDamagedError,
    VaultAlteredError,
    VaultDamagedError,
)

DOCUMENTS_IN_A_CHUNK = 256
# No table of documents has this name.
_BOUND_TO = "#index"
_PLACE = struct.Struct(f"{WHERE.size}s")
_NOWHERE = bytes(WHERE.size)


Tables = dict[str, TableRows]


def apply_line(tables: Tables, line: Line, offset: int) -> None:
    """Do one change in place; its sealed body stands at ``offset`` in the file."""
    if line.verb == DROP:
        tables.pop(line.table, None)
        return
    rows = tables.get(line.table)
    if rows is None:
        rows = tables[line.table] = TableRows()
    if line.verb == TABLE:
        rows.next_number = max(rows.next_number, line.length)
        return
    where = WHERE.pack(offset, line.length, line.tag) if line.length else b""
    rows.change(line, (line.row, where))


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
            sizes = [int(place[0]) for place in places]
            tables[name] = TableRows(None, int(next_number), chunks, sizes)
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
