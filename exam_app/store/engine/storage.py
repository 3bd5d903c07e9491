"""TinyDB's storage over a sealed journal, and saves of several changes at once.

Rows are kept in memory, bodies are read and opened when asked for. Whoever reads
gets fresh objects. Every write is one frame; inside ``transaction`` several writes
are one frame. Memory changes only after the frame is on the medium.

One writer at a time; the caller takes turns. Readers may run beside it, in another
thread too: what a transaction has not saved yet is seen by its own context alone.
"""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from exam_app.store.engine.documents import (
    Document,
    check_names,
    decode_document,
    encode_document,
)
from exam_app.store.engine.format import (
    DROP,
    NEW,
    PUT,
    REMOVE,
    TABLE,
    Entry,
    number_after,
)
from exam_app.store.engine.index import Tables, apply_line
from exam_app.store.engine.journal import Change, Journal
from exam_app.store.engine.staged import LastSaved, Waiting, stage
from exam_app.store.engine.state import STAGED, SealedState, row_bytes, row_of
from exam_app.store.engine.table_rows import TableRows
from exam_app.store.errors import DocumentDamagedError


def encoded(fields: Mapping[str, Any]) -> bytes:
    """Give the JSON of some fields, or nothing where there are none."""
    return encode_document(fields) if fields else b""


class SealedStorage(SealedState):
    """TinyDB's three methods over a sealed journal, and finer ones for its tables."""

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
        token = STAGED.set((self, staged))
        try:
            yield
        finally:
            STAGED.reset(token)
        changes = [c for table in staged.values() for c in table.values()]
        if changes:
            self._append(changes)

    def renew(self, write: Callable[[Tables], tuple[Journal, Tables]]) -> None:
        """Go over to a journal that ``write`` makes of the state."""
        with self.saving:
            for rows in self._state().values():
                for read in rows.readers():
                    # While the file that holds them is the open one.
                    with self._turn:
                        read()
            journal, tables = write(self._tables)
            with self._turn:
                self._journal, self._tables, self._lists = journal, tables, None

    def close(self) -> None:
        """Forget the state; the files belong to the vault."""
        with self._turn:
            self._journal, self._lists = None, None
            self._tables, self._saved = {}, LastSaved()

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
        if row_bytes(kept) != row:
            return True
        # Most saves follow one of the same document, whose body is still at hand.
        last = self._saved.get(table, document_id, kept)
        return (self._body(table, document_id, kept) if last is None else last) != body

    def _placed_anew(self, change: Change) -> Change:
        # Whether a document is new is said, so that a reader need not look it up.
        if change.verb != PUT:
            return change
        return change if self._is_saved(change) else change._replace(verb=NEW)

    def _append(self, changes: list[Change]) -> None:
        with self.saving:
            known = [self._placed_anew(change) for change in changes]
            placed = self.journal().append(known)
            with self._turn:
                for line, offset in placed:
                    if line.verb == DROP:
                        self._forget_lists()
                    apply_line(self._tables, line, offset)
            if len(placed) == 1:
                self._saved.put(*placed[0], known[0].body)
