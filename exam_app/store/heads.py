"""What a frame's head says: changes as lines, or the whole index as columns.

Changes name table, document, the length and tag of its body, and its row: the few
fields that lists and searches need. The index is derived from the changes before
it; it is laid out in columns because reading it is most of what opening costs.
"""

import json
import struct
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from exam_app.store.bodies import WHERE, deflate, inflate
from exam_app.store.errors import VaultDamagedError, VaultTooNewError

Entry = tuple[bytes, bytes]
_CHANGES = b"c"
_INDEX = b"i"
_PLACE = struct.Struct(f"{WHERE.size}s")
_NOWHERE = bytes(WHERE.size)
PUT, MOVE, REMOVE, DROP, TABLE = b"p", b"m", b"r", b"d", b"t"


class Line(NamedTuple):
    """One change.

    Attributes:
        verb: ``PUT`` keeps a document at its place or at the end, ``MOVE`` puts it
            at the end, ``REMOVE`` removes it; ``DROP`` removes a whole table and
            ``TABLE`` names one, with the next free number in ``length``.
        table: Its table.
        document_id: Empty for ``DROP`` and ``TABLE``.
        length: Bytes of the sealed body; 0 without one.
        tag: Of the body; empty without one.
        row: JSON of the fields kept in the head; empty without any.
    """

    verb: bytes
    table: str
    document_id: str = ""
    length: int = 0
    tag: bytes = b""
    row: bytes = b""


class TableRows:
    """One table in memory; its rows are split only when they are first asked for.

    Attributes:
        next_number: Higher than every number ever used as an id here.
        version: Grows with every change.
    """

    __slots__ = ("_columns", "_entries", "next_number", "version")

    def __init__(
        self,
        entries: dict[str, Entry] | None = None,
        next_number: int = 1,
        columns: "Columns | None" = None,
    ) -> None:
        """Take entries, or the columns of an index that hold them."""
        self._entries = {} if entries is None else entries
        self._columns = columns
        self.next_number = next_number
        self.version = 0

    @property
    def entries(self) -> dict[str, Entry]:
        """Document id to row (JSON or empty) and place of its body, in order.

        The place is offset, length and tag, or empty where there is no body.
        """
        if self._columns is not None:
            self._entries = self._columns.split()
            self._columns = None
        return self._entries


class Columns(NamedTuple):
    """A table's part of an index.

    Attributes:
        documents: How many.
        ids: Joined by line feeds.
        rows: Joined by line feeds.
        places: 28 bytes for each document.
    """

    documents: int
    ids: bytes
    rows: bytes
    places: bytes

    def split(self) -> dict[str, Entry]:
        """Give the entries.

        Raises:
            VaultDamagedError: The columns are not of one length.
        """
        if self.documents == 0:
            return {}
        places = [place for (place,) in _PLACE.iter_unpack(self.places)]
        if _NOWHERE in places:
            places = [b"" if place == _NOWHERE else place for place in places]
        try:
            rows = zip(self.rows.split(b"\n"), places, strict=True)
            ids = self.ids.decode("ascii").split("\n")
            return dict(zip(ids, rows, strict=True))
        except ValueError as error:
            raise VaultDamagedError("the index makes no sense") from error


Tables = dict[str, TableRows]


def encode_changes(lines: Iterable[Line]) -> bytes:
    """Write the head of a save."""
    joined = b"\n".join(
        b"%b\t%b\t%b\t%d\t%b\t%b"
        % (
            line.verb,
            line.table.encode(),
            line.document_id.encode(),
            line.length,
            line.tag.hex().encode(),
            line.row,
        )
        for line in lines
    )
    return _CHANGES + deflate(joined)


def is_index(head: bytes) -> bool:
    """Whether a head is an index."""
    return head[:1] == _INDEX


def decode_changes(head: bytes) -> Iterator[Line]:
    """Read the head of a save.

    Raises:
        VaultTooNewError: A kind of head or change that this version does not know.
        VaultDamagedError: It authenticated and makes no sense.
    """
    if head[:1] != _CHANGES:
        raise VaultTooNewError("a head of a kind that this version does not know")
    for line in inflate(head[1:]).split(b"\n"):
        try:
            verb, table, document_id, length, tag, row = line.split(b"\t", 5)
            yield Line(
                verb,
                table.decode("ascii"),
                document_id.decode("ascii"),
                int(length),
                bytes.fromhex(tag.decode("ascii")),
                row,
            )
        except ValueError as error:
            raise VaultDamagedError("a change makes no sense") from error


def placed_lines(head: bytes, offset: int) -> Iterator[tuple[Line, int]]:
    """Give every change with the offset of its body, the first at ``offset``."""
    for line in decode_changes(head):
        yield line, offset
        if line.tag:
            offset += line.length


def apply_line(tables: Tables, line: Line, offset: int) -> None:
    """Do one change.

    Args:
        tables: Changed in place.
        line: The change.
        offset: Where the sealed body stands in the file.
    """
    if line.verb == DROP:
        tables.pop(line.table, None)
        return
    rows = tables.setdefault(line.table, TableRows())
    rows.version += 1
    if line.verb == TABLE:
        rows.next_number = max(rows.next_number, line.length)
        return
    if line.verb not in (PUT, MOVE, REMOVE):
        raise VaultTooNewError("a change that this version does not know")
    if line.verb != PUT:
        rows.entries.pop(line.document_id, None)
    if line.verb != REMOVE:
        where = WHERE.pack(offset, line.length, line.tag) if line.length else b""
        rows.entries[line.document_id] = (line.row, where)
        rows.next_number = max(rows.next_number, number_after(line.document_id))


def place_of(where: bytes) -> tuple[int, int, bytes]:
    """Give offset, length and tag of a body; zeros and nothing without one."""
    return WHERE.unpack(where) if where else (0, 0, b"")


def number_after(document_id: str) -> int:
    """Give the number after an id that is one; 1 after any other."""
    is_number = document_id.isdecimal() and len(document_id) < 19
    return int(document_id) + 1 if is_number else 1


def encode_index(tables: Mapping[str, TableRows]) -> bytes:
    """Write all tables as columns."""
    parts = [_INDEX]
    for name, rows in tables.items():
        ids = "\n".join(rows.entries).encode("ascii")
        shown = b"\n".join(row for row, _ in rows.entries.values())
        places = b"".join(
            where.ljust(WHERE.size, b"\0") for _, where in rows.entries.values()
        )
        sizes = [name, rows.next_number, len(rows.entries), len(ids), len(shown)]
        parts += [json.dumps(sizes).encode("ascii"), b"\n", ids, shown, places]
    return b"".join(parts)


def decode_index(head: bytes) -> Tables:
    """Read what ``encode_index`` wrote.

    Raises:
        VaultDamagedError: It authenticated and makes no sense.
    """
    tables: Tables = {}
    at = 1
    try:
        while at < len(head):
            line_end = head.index(b"\n", at)
            name, next_number, count, ids_length, rows_length = json.loads(
                head[at:line_end]
            )
            ids_end = line_end + 1 + ids_length
            rows_end = ids_end + rows_length
            at = rows_end + count * WHERE.size
            columns = Columns(
                count,
                head[line_end + 1 : ids_end],
                head[ids_end:rows_end],
                head[rows_end:at],
            )
            tables[name] = TableRows(None, next_number, columns)
    except (ValueError, TypeError) as error:
        raise VaultDamagedError("the index makes no sense") from error
    if at != len(head):
        raise VaultDamagedError("the index is cut")
    return tables
