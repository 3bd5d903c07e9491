"""The index: all rows of a journal in columns, in chunks that are sealed apart.

It is derived from the frames before it, and laid out so that opening reads as
little as possible: the head of its frame says where the chunks stand.
"""

import json
import struct
from collections.abc import Callable, Iterator, Mapping
from itertools import islice
from typing import NamedTuple

from exam_app.store.bodies import WHERE, Bodies
from exam_app.store.errors import (
    DocumentDamagedError,
    VaultAlteredError,
    VaultDamagedError,
)
from exam_app.store.files import SealedFile
from exam_app.store.frames import TAG_LENGTH
from exam_app.store.lines import INDEX, Entry
from exam_app.store.rows import Chunk, TableRows, Tables

DOCUMENTS_IN_A_CHUNK = 256
# No table of documents has this name.
_BOUND_TO = "#index"
_PLACE = struct.Struct(f"{WHERE.size}s")
_NOWHERE = bytes(WHERE.size)


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
        for number, chunk in enumerate(_chunks(rows.entries)):
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

    Args:
        head: The plain head.
        file: Where the chunks stand.
        offset: Of the first chunk.
        bodies: Opens the chunks.

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
                chunks.append(_reader(file, offset, place, bodies, key))
                offset += place.length
            tables[name] = TableRows(None, int(next_number), chunks)
    except (ValueError, TypeError) as error:
        raise VaultDamagedError("the index makes no sense") from error
    return tables


def _chunks(entries: dict[str, Entry]) -> Iterator[dict[str, Entry]]:
    rest = iter(entries.items())
    while chunk := dict(islice(rest, DOCUMENTS_IN_A_CHUNK)):
        yield chunk


def _reader(
    file: SealedFile, offset: int, place: _ChunkPlace, bodies: Bodies, key: str
) -> Callable[[], dict[str, Entry]]:
    def read() -> dict[str, Entry]:
        try:
            sealed = file.read_at(offset, place.length)
            tag = bytes.fromhex(place.tag)
            return _split(place, bodies.open(_BOUND_TO, key, sealed, tag))
        except (DocumentDamagedError, OSError, ValueError) as error:
            raise VaultAlteredError("a chunk of the index is damaged") from error

    return read


def _split(place: _ChunkPlace, plain: bytes) -> dict[str, Entry]:
    rows_end = place.ids_length + place.rows_length
    ids = plain[: place.ids_length].decode("ascii").split("\n")
    rows = plain[place.ids_length : rows_end].split(b"\n")
    wheres = [where for (where,) in _PLACE.iter_unpack(plain[rows_end:])]
    if _NOWHERE in wheres:
        wheres = [b"" if where == _NOWHERE else where for where in wheres]
    return dict(zip(ids, zip(rows, wheres, strict=True), strict=True))
