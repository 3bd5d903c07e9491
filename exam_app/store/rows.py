"""One table in memory: rows and places of bodies, read from the index in chunks.

An index holds a table in chunks of some hundred documents. Opening reads none;
showing the newest documents reads the last; anything else reads the whole table
once. Changes that come after the index wait for that, unless it was read already.
"""

from collections.abc import Callable, Iterator
from itertools import islice

from exam_app.store.bodies import WHERE
from exam_app.store.errors import VaultAlteredError, VaultTooNewError
from exam_app.store.lines import (
    DROP,
    MOVE,
    NEW,
    PUT,
    REMOVE,
    TABLE,
    Entry,
    Line,
    number_after,
)

Chunk = Callable[[], dict[str, Entry]]


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
