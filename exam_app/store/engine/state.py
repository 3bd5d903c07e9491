"""The saved state under TinyDB's tables: rows, and what is looked up by lists.

Rows are kept in memory or read from the index; whoever reads gets copies. What a
transaction has not saved yet is seen by its own context alone.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextvars import ContextVar
from itertools import islice
from threading import RLock

from tinydb.storages import Storage

from exam_app.store.engine.documents import Document, decode_document, field_fragment
from exam_app.store.engine.format import DROP, MOVE, PUT, REMOVE, Entry
from exam_app.store.engine.index import Tables
from exam_app.store.engine.journal import Change, Journal
from exam_app.store.engine.kept_lists import Found, KeptLists, Pick, TableLists
from exam_app.store.engine.staged import (
    Entries,
    LastSaved,
    Waiting,
    decided,
    lay_over,
)
from exam_app.store.engine.table_rows import TableRows
from exam_app.store.errors import DocumentDamagedError, VaultClosedError

# Whose changes wait in this context, and which: by table, then by document; a whole
# table under no id.
STAGED: ContextVar[tuple[object, Waiting] | None] = ContextVar("staged", default=None)


def row_bytes(entry: Entry | Change) -> bytes:
    """Give the JSON of the fields of an entry that are kept in the head."""
    return entry.row if isinstance(entry, Change) else entry[0]


def row_of(entry: Entry | Change) -> Document:
    """Give the fields of an entry that are kept in the head."""
    row = row_bytes(entry)
    return decode_document(row) if row else {}


class SealedState(Storage):
    """What was saved and what waits, by table; read beside the one writer too."""

    def __init__(
        self, journal: Journal, tables: Tables, lists: KeptLists | None = None
    ) -> None:
        """Take over an open journal, the state read from it, and lists of its index."""
        self._journal: Journal | None = journal
        self._tables = tables
        self._saved = LastSaved()
        self._lists = lists
        if lists is not None:
            for name, rows in tables.items():
                rows.lists = TableLists(lists, name)
        # Held while a place in the file is looked up and read, and while a save or
        # a new file changes those places; never while the disk is waited for.
        self._turn = RLock()
        # Held by a save, and by whoever writes anew or closes: a save that comes
        # meanwhile waits, and goes into the journal that counts then or is refused.
        self.saving = RLock()

    def journal(self) -> Journal:
        """Give the open journal.

        Raises:
            VaultClosedError: The vault was closed.
        """
        if self._journal is None:
            raise VaultClosedError("the vault is closed")
        return self._journal

    def tables(self) -> Tables:
        """Give the saved state; never change it."""
        return self._state()

    def entries(self, table: str) -> Entries:
        """Give a copy of one table: every id with its entry, in order."""
        with self._turn:
            rows = self._state().get(table)
            entries: Entries = dict(rows.entries) if rows else {}
        lay_over(entries, self._waiting().get(table, {}))
        return entries

    def newest(self, table: str, count: int) -> list[Entry | Change]:
        """Give the entries put last, newest first; of a large table only those."""
        if table in self._waiting():
            found = reversed(self.entries(table).values())
            return list(islice(found, max(count, 0)))
        with self._turn:
            rows = self._state().get(table)
            return [*rows.newest(count)] if rows else []

    def entry(self, table: str, document_id: str) -> Entry | Change | None:
        """Give the entry of one document, or None."""
        is_decided, change = decided(self._waiting().get(table, {}), document_id)
        if is_decided:
            return change
        with self._turn:
            rows = self._state().get(table)
            return rows.get(document_id) if rows else None

    def count(self, table: str) -> int:
        """Give how many documents a table holds."""
        if table in self._waiting():
            return len(self.entries(table))
        with self._turn:
            rows = self._state().get(table)
            return rows.count() if rows else 0

    def with_field(self, table: str, name: str, value: str) -> Entries:
        """Give the documents whose row may hold a field so, in order.

        Whoever asks reads the rows: what a list says is a guess.
        """
        fragment = field_fragment(name, value)
        found = self._listed(table, lambda rows: rows.with_field(name, fragment))
        staged = self._waiting().get(table, {})
        if found is not None and self._lay_matching_over(found, staged, fragment):
            return found
        every = self.entries(table)
        return {k: e for k, e in every.items() if fragment in row_bytes(e)}

    def is_listed(self, table: str, name: str) -> bool:
        """Whether a list says where a field's values stand; else every row is read."""
        with self._turn:
            rows = self._state().get(table)
            lists = rows.lists if rows else None
            return lists is not None and lists.by(name, b"") is not None

    def _lay_matching_over(
        self, found: Entries, staged: Mapping[str, Change], fragment: bytes
    ) -> bool:
        """Do waiting changes to what was found; False where that cannot be said."""
        for key, change in staged.items():
            is_met = fragment in change.row
            if change.verb == DROP:
                return False
            if change.verb in (MOVE, REMOVE) or not is_met:
                found.pop(key, None)
            if is_met and change.verb in (PUT, MOVE):
                if key not in found and change.verb == PUT and self._is_saved(change):
                    # Its place is between others, which were not looked for.
                    return False
                found[key] = change
        return True

    def _is_saved(self, change: Change) -> bool:
        with self._turn:
            rows = self._state().get(change.table)
            return rows is not None and rows.get(change.document_id) is not None

    def with_words(
        self,
        table: str,
        words: Sequence[bytes],
        is_met: Callable[[bytes], bool],
        limit: int,
    ) -> list[bytes] | None:
        """Give the first rows whose listed text holds ``words`` and that are met.

        Returns:
            None where no list of texts is of use.
        """

        def look(rows: TableRows) -> Found | None:
            found = rows.with_words(words)
            met = (one for one in found or () if is_met(one[1][0]))
            return None if found is None else islice(met, limit)

        found = None if self._waiting().get(table) else self._listed(table, look)
        return None if found is None else [row_bytes(e) for e in found.values()]

    def picked(self, table: str, pick: Pick) -> Entries | None:
        """Give what a pick leaves of a table, and maybe more, in order.

        Returns:
            None where no list is of use.
        """
        if self._waiting().get(table) or self._waiting().get(pick.other):
            return None
        found = self._listed(table, TableRows.picked)
        if found is None:
            return None
        with self._turn:
            others = self._state().get(pick.other)
            gone, over = others.changed() if others else ((), {})
        known = b"".join(row_bytes(entry) for entry in found.values())
        back = (key for key, (row, _) in over.items() if pick.unless_other not in row)
        # What was left out when the list was made may count again.
        is_sure = not gone and all(key.encode() in known for key in back)
        return found if is_sure else None

    def expect(self, wanted: Mapping[str, Iterable[str]]) -> None:
        """Take note of documents, by table, that are asked for next.

        What lies in memory needs no reading ahead.
        """
        del wanted

    def expect_marks(self, table: str, marks: Iterable[str]) -> None:
        """Take note of marks that ``holding`` is asked for next."""
        del table, marks

    def with_any(self, table: str, name: str, values: Iterable[str]) -> Entries | None:
        """Give the documents whose field has one of the values, in order.

        Returns:
            None where asking for each value is as quick.
        """
        del table, name, values
        return None

    def holding(self, table: str, marks: Iterable[str]) -> list[str] | None:
        """Give the ids of documents that bear one of the marks.

        Returns:
            None where the storage lists no marks.
        """
        del table, marks
        return None

    def numbered(self, table: str, device_id: str, number: int) -> set[str] | None:
        """Give the ids of the bundles to which a device gave a number.

        Returns:
            None where the storage lists no numbers.
        """
        del table, device_id, number
        return None

    def gaps(self, table: str, device_id: str, most: int) -> list[int] | None:
        """Give the numbers below a device's highest that never came, lowest first.

        Returns:
            None where the storage lists no numbers.
        """
        del table, device_id, most
        return None

    def pressing(self, table: str, count: int) -> Entries | None:
        """Give the received records that nobody acknowledged, the most urgent first.

        Returns:
            None where the storage lists none.
        """
        del table, count
        return None

    def counted(self, table: str, among: Iterable[str]) -> dict[str, int] | None:
        """Give how many documents belong to each of some exams, of those with any.

        Returns:
            None where counting all rows is as quick.
        """
        del table, among
        return None

    def version(self, table: str) -> int | None:
        """Give a number that grows with every saved change of a table.

        Returns:
            None while a transaction holds changes of the table.
        """
        if table in self._waiting():
            return None
        rows = self._state().get(table)
        return rows.version if rows else 0

    def is_inside_transaction(self) -> bool:
        """Whether the caller's own changes wait for the end of a transaction."""
        staged = STAGED.get()
        return staged is not None and staged[0] is self

    def needs_lists(self) -> bool:
        """Whether lists of the open index would be of use, and there are none."""
        has_lists = self._lists is not None and not self._lists.is_damaged
        is_large = any(rows.is_large() for rows in self._state().values())
        return is_large and not has_lists and bool(self.journal().index_tag)

    def from_index(self) -> dict[str, dict[str, Entry]]:
        """Give what the index held, by table; every chunk is read."""
        with self._turn:
            return {name: rows.from_index() for name, rows in self._state().items()}

    def _listed(
        self, table: str, look: Callable[[TableRows], Found | None]
    ) -> Entries | None:
        with self._turn:
            rows = self._state().get(table)
            if rows is None:
                return {}
            try:
                found = look(rows)
                return None if found is None else dict(found)
            except DocumentDamagedError:
                return None

    def _forget_lists(self) -> None:
        # They know nothing of a table that begins again.
        self._lists = None
        self.journal().index_tag = b""
        for rows in self._tables.values():
            rows.lists = None

    def _waiting(self) -> Waiting:
        staged = STAGED.get()
        return staged[1] if staged and staged[0] is self else {}

    def _state(self) -> Tables:
        self.journal()
        return self._tables
