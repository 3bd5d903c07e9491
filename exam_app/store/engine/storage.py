"""TinyDB's storage over a sealed journal, and saves of several changes at once.

Rows are kept in memory, bodies are read and opened when asked for. Whoever reads
gets fresh objects. Every write is one frame; inside ``transaction`` several writes
are one frame. Memory changes only after the frame is on the medium.

One writer at a time; the caller takes turns. Readers may run beside it, in another
thread too: what a transaction has not saved yet is seen by its own context alone.
"""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from itertools import islice
from threading import RLock
from typing import Any

from tinydb.storages import Storage

from exam_app.store.engine.documents import (
    Document,
    check_names,
    decode_document,
    encode_document,
)
from exam_app.store.engine.format import (
    DROP,
    MOVE,
    NEW,
    PUT,
    REMOVE,
    TABLE,
    Entry,
    number_after,
)
from exam_app.store.engine.index import TableRows, Tables, apply_line
from exam_app.store.engine.journal import Change, Journal
from exam_app.store.errors import DocumentDamagedError, VaultClosedError

Entries = dict[str, "Entry | Change"]
Waiting = dict[str, dict[str, Change]]


# Whose changes wait in this context, and which: by table, then by document; a whole
# table under no id.
_STAGED: ContextVar[tuple[object, Waiting] | None] = ContextVar("staged", default=None)


def lay_over(entries: Entries, changes: Mapping[str, Change]) -> None:
    """Do waiting changes to a copy of a table's entries."""
    for key, change in changes.items():
        if change.verb == DROP:
            entries.clear()
            continue
        if change.verb in (MOVE, REMOVE):
            entries.pop(key, None)
        if change.verb in (PUT, MOVE):
            entries[key] = change


def stage(tables: Waiting, change: Change) -> None:
    """Put a change behind the staged ones, so that the last on a document counts."""
    table = tables.setdefault(change.table, {})
    if change.verb == DROP:
        table.clear()
    before = table.get(change.document_id)
    verb = change.verb
    if verb == PUT and before is not None:
        # Taken out or moved before: its place is at the end, not the old one.
        verb = PUT if before.verb == PUT else MOVE
    if verb != PUT:
        table.pop(change.document_id, None)
    table[change.document_id] = change._replace(verb=verb)


def row_bytes(entry: Entry | Change) -> bytes:
    """Give the JSON of the fields of an entry that are kept in the head."""
    return entry.row if isinstance(entry, Change) else entry[0]


def row_of(entry: Entry | Change) -> Document:
    """Give the fields of an entry that are kept in the head."""
    row = row_bytes(entry)
    return decode_document(row) if row else {}


def encoded(fields: Mapping[str, Any]) -> bytes:
    """Give the JSON of some fields, or nothing where there are none."""
    return encode_document(fields) if fields else b""


class SealedStorage(Storage):
    """TinyDB's three methods over a sealed journal, and finer ones for its tables."""

    def __init__(self, journal: Journal, tables: Tables) -> None:
        """Take over an open journal and the state that was read from it."""
        self._journal: Journal | None = journal
        self._tables = tables
        # Held while a place in the file is looked up and read, and while a save or
        # a new file changes those places; never while the disk is waited for.
        self._turn = RLock()

    def read(self) -> dict[str, dict[str, Document]] | None:
        """Give every table with fresh documents; None while there is no table."""
        names = [*self._state(), *(name for name in self._waiting() if name)]
        if not names:
            return None
        return {
            name: {
                key: self.document(name, key, entry)
                for key, entry in self.entries(name).items()
            }
            for name in dict.fromkeys(names)
        }

    def write(self, data: Mapping[str, Mapping[Any, Mapping[str, Any]]]) -> None:
        """Make the whole state this, in one save of what differs.

        Raises:
            UnstorableValueError: A document holds what must not be stored.
            VaultError: The save failed; the state is as before.
        """
        changes = [Change(DROP, name) for name in self._state() if name not in data]
        for name, documents in data.items():
            kept = {str(key): document for key, document in documents.items()}
            before = self.entries(name)
            changes += [Change(REMOVE, name, key) for key in before if key not in kept]
            for key, document in kept.items():
                changes.append(self._whole(name, key, document, before.get(key)))
            if not kept and name not in self._state():
                changes.append(Change(TABLE, name))
        self.save(changes)

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
        staged = self._waiting().get(table, {})
        change = staged.get(document_id)
        if change is not None:
            return change if change.verb in (PUT, MOVE) else None
        if "" in staged:
            # The whole table was dropped; that stands under no id.
            return None
        with self._turn:
            rows = self._state().get(table)
            return rows.entries.get(document_id) if rows else None

    def fetch(self, table: str, document_id: str) -> Document | None:
        """Give a fresh copy of one document, or None."""
        entry = self.entry(table, document_id)
        return None if entry is None else self.document(table, document_id, entry)

    def document(self, table: str, document_id: str, entry: Entry | Change) -> Document:
        """Give a fresh copy of the document of an entry.

        Raises:
            DocumentDamagedError: Its body does not authenticate.
        """
        return {**row_of(entry), **self.rest(table, document_id, entry)}

    def rest(self, table: str, document_id: str, entry: Entry | Change) -> Document:
        """Give the fields of a document that are not in its row."""
        plain = self._body(table, document_id, entry)
        return decode_document(plain) if plain else {}

    def save(self, changes: list[Change]) -> None:
        """Save changes that change something, or keep them for the transaction.

        Raises:
            UnstorableValueError: A name is not allowed.
            VaultError: The save failed; the state is as before.
        """
        for change in changes:
            check_names(change.table, change.document_id or "-")
        needed = [change for change in changes if self._is_news(change)]
        if self.is_inside_transaction():
            for change in needed:
                stage(self._waiting(), change)
        elif needed:
            self._append(needed)

    def next_number(self, table: str) -> int:
        """Give a number that was never an id in this table."""
        rows = self._state().get(table, TableRows())
        staged = self._waiting().get(table, {})
        return max([rows.next_number, *map(number_after, staged)])

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Gather the writes inside into one save; an exception undoes them all.

        A transaction inside another belongs to the outer one.
        """
        if self.is_inside_transaction():
            yield
            return
        self._state()
        staged: Waiting = {}
        token = _STAGED.set((self, staged))
        try:
            yield
        finally:
            _STAGED.reset(token)
        changes = [c for table in staged.values() for c in table.values()]
        if changes:
            self._append(changes)

    def renew(self, write: Callable[[Tables], tuple[Journal, Tables]]) -> None:
        """Go over to a journal that ``write`` makes of the state."""
        with self._turn:
            for rows in self._state().values():
                # Read while the file that holds them is the open one.
                rows.entries  # noqa: B018
        journal, tables = write(self._tables)
        with self._turn:
            self._journal, self._tables = journal, tables

    def tables(self) -> Tables:
        """Give the saved state; never change it."""
        return self._state()

    def journal(self) -> Journal:
        """Give the open journal.

        Raises:
            VaultClosedError: The vault was closed.
        """
        if self._journal is None:
            raise VaultClosedError("the vault is closed")
        return self._journal

    def is_inside_transaction(self) -> bool:
        """Whether the caller's own changes wait for the end of a transaction."""
        staged = _STAGED.get()
        return staged is not None and staged[0] is self

    def version(self, table: str) -> int | None:
        """Give a number that grows with every saved change of a table.

        Returns:
            None while a transaction holds changes of the table.
        """
        if table in self._waiting():
            return None
        rows = self._state().get(table)
        return rows.version if rows else 0

    def close(self) -> None:
        """Forget the state; the files belong to the vault."""
        with self._turn:
            self._journal = None
            self._tables = {}

    def _waiting(self) -> Waiting:
        staged = _STAGED.get()
        return staged[1] if staged and staged[0] is self else {}

    def _state(self) -> Tables:
        self.journal()
        return self._tables

    def _body(self, table: str, document_id: str, entry: Entry | Change) -> bytes:
        if isinstance(entry, Change):
            return entry.body
        if not entry[1]:
            return b""
        with self._turn:
            journal = self.journal()
            sealed, tag = journal.read_sealed(entry[1])
        try:
            return journal.keys.bodies.open(table, document_id, sealed, tag)
        except DocumentDamagedError:
            # Where the entry was looked up before the journal was written anew,
            # its body stands at another place now.
            now = self.entry(table, document_id)
            if now is None or now == entry:
                raise
            return self._body(table, document_id, now)

    def _whole(
        self,
        table: str,
        document_id: str,
        document: Mapping[str, Any],
        before: Entry | Change | None,
    ) -> Change:
        in_row = row_of(before) if before else {}
        row = {key: document[key] for key in document if key in in_row}
        rest = {key: document[key] for key in document if key not in in_row}
        return Change(PUT, table, document_id, encoded(row), encoded(rest))

    def _is_news(self, change: Change) -> bool:
        verb, table, document_id, row, body = change
        if verb in (DROP, TABLE):
            return True
        kept = self.entry(table, document_id)
        if kept is None or verb == REMOVE:
            return (kept is None) != (verb == REMOVE)
        return row_bytes(kept) != row or self._body(table, document_id, kept) != body

    def _placed_anew(self, change: Change) -> Change:
        # Whether a document is new is said, so that a reader need not look it up.
        if change.verb != PUT:
            return change
        with self._turn:
            rows = self._state().get(change.table)
            is_new = rows is None or change.document_id not in rows.entries
        return change._replace(verb=NEW) if is_new else change

    def _append(self, changes: list[Change]) -> None:
        known = [self._placed_anew(change) for change in changes]
        placed = self.journal().append(known)
        with self._turn:
            for line, offset in placed:
                apply_line(self._tables, line, offset)
