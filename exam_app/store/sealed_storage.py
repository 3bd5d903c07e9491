"""TinyDB on a sealed body: a storage of three methods, and the table that goes with it.

The state is kept in memory as encoded lines. Whoever reads gets fresh objects, so
nothing that a caller changes reaches the state except through a write. Every write
is a save of the whole state; inside ``transaction`` several writes are one save. If
the save fails, memory goes back to what is on the medium.

One writer at a time; the caller takes turns. Readers may run beside it, in another
thread too: what a transaction has not saved yet is seen by its own context alone.
"""

from collections.abc import Callable, Iterator, Mapping, MutableMapping
from contextlib import contextmanager
from contextvars import ContextVar
from itertools import islice
from typing import Any, Protocol, cast

from tinydb import TinyDB
from tinydb.storages import Storage
from tinydb.table import Table

from exam_app.store.errors import UnstorableValueError, VaultClosedError
from exam_app.store.state import (
    Document,
    Tables,
    decode_document,
    decode_state,
    encode_document,
    encode_state,
)


class StateBody(Protocol):
    """Where the state lies; the two-slot files today."""

    def load(self) -> bytes:
        """Give the newest whole state."""
        ...

    def save(self, plain: bytes) -> None:
        """Return once the state is on the medium, or raise a ``VaultError``."""
        ...

    def close(self) -> None:
        """Release the files."""
        ...


_STAGED: ContextVar[tuple["SealedStorage", Tables] | None] = ContextVar(
    "staged", default=None
)


class SealedStorage(Storage):
    """TinyDB's three methods over a sealed body."""

    def __init__(self, body: StateBody) -> None:
        """Load the state once; it is never read from the files again."""
        self._body: StateBody | None = body
        self._saved: Tables = decode_state(body.load())

    def read(self) -> dict[str, dict[str, Document]] | None:
        """Give every table with fresh documents; None while there is no table."""
        tables = self._current()
        if not tables:
            return None
        return {
            name: {key: decode_document(line) for key, line in table.items()}
            for name, table in tables.items()
        }

    def write(self, data: Mapping[str, Mapping[Any, Mapping[str, Any]]]) -> None:
        """Replace the whole state and save it.

        Raises:
            UnstorableValueError: A document holds what must not be stored.
            VaultError: The save failed; the state is as before.
        """
        self._replace_all(
            {
                name: {str(key): encode_document(item) for key, item in table.items()}
                for name, table in data.items()
            }
        )

    def lines(self, table: str) -> dict[str, bytes]:
        """Give the encoded documents of one table; never change the mapping."""
        return self._current().get(table, {})

    def replace_lines(self, table: str, lines: dict[str, bytes]) -> None:
        """Replace one table and save, unless nothing changed."""
        tables = self._current()
        if tables.get(table, {}) != lines:
            self._replace_all({**tables, table: lines})

    def save_again(self) -> None:
        """Save the same state once more, so that both copies on disk hold it."""
        self._replace_all(self._current())

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Gather the writes inside into one save; an exception undoes them all.

        A transaction inside another belongs to the outer one.
        """
        if self._staged() is not None:
            yield
            return
        before = self._current()
        token = _STAGED.set((self, before))
        try:
            yield
            after = self._current()
        finally:
            _STAGED.reset(token)
        if after is not before:
            self._replace_all(after)

    def close(self) -> None:
        """Release the files and forget the state."""
        if self._body:
            self._body.close()
        self._body = None
        self._saved = {}

    def _staged(self) -> Tables | None:
        staged = _STAGED.get()
        return staged[1] if staged and staged[0] is self else None

    def _current(self) -> Tables:
        if self._body is None:
            raise VaultClosedError("the vault is closed")
        staged = self._staged()
        return self._saved if staged is None else staged

    def _replace_all(self, tables: Tables) -> None:
        if self._body is None:
            raise VaultClosedError("the vault is closed")
        if self._staged() is not None:
            _STAGED.set((self, tables))
            return
        self._body.save(encode_state(tables))
        self._saved = tables


class _Draft(MutableMapping[str, Document]):
    """One table during an update; a document is parsed when it is first touched."""

    def __init__(self, lines: Mapping[str, bytes]) -> None:
        self._documents: dict[str, bytes | Document] = dict(lines)

    def __getitem__(self, document_id: str) -> Document:
        document = self._documents[document_id]
        if isinstance(document, bytes):
            document = self._documents[document_id] = decode_document(document)
        return document

    def __setitem__(self, document_id: str, document: Document) -> None:
        self._documents[document_id] = document

    def __delitem__(self, document_id: str) -> None:
        del self._documents[document_id]

    def __contains__(self, document_id: object) -> bool:
        return document_id in self._documents

    def __iter__(self) -> Iterator[str]:
        return iter(self._documents)

    def __len__(self) -> int:
        return len(self._documents)

    def encoded(self) -> dict[str, bytes]:
        """Give every line, encoding only what was touched."""
        return {
            key: value if isinstance(value, bytes) else encode_document(value)
            for key, value in self._documents.items()
        }


class SealedTable(Table):
    """A table whose documents carry their own id and are parsed when asked for."""

    document_id_class = str  # type: ignore[assignment]

    def _lines(self) -> dict[str, bytes]:
        return cast("SealedStorage", self._storage).lines(self._name)

    def _read_table(self) -> dict[str, Mapping[str, Any]]:
        return cast("dict[str, Mapping[str, Any]]", _Draft(self._lines()))

    def _update_table(self, updater: Callable[[dict[Any, Any]], None]) -> None:
        storage = cast("SealedStorage", self._storage)
        draft = _Draft(storage.lines(self._name))
        updater(cast("dict[Any, Any]", draft))
        storage.replace_lines(self._name, draft.encoded())
        self.clear_cache()

    def _get_next_id(self) -> int:
        raise UnstorableValueError("a document must carry its own id")

    def put(self, document_id: str, document: Mapping[str, Any]) -> None:
        """Keep a document under its id, replacing the one before, and save."""

        def updater(table: dict[Any, Any]) -> None:
            table[document_id] = dict(document)

        self._update_table(updater)

    def fetch(self, document_id: str) -> Document | None:
        """Give a fresh copy of one document, or None."""
        line = self._lines().get(document_id)
        return None if line is None else decode_document(line)

    def rows(self) -> list[tuple[str, Document]]:
        """Give every id with a fresh copy of its document, in order of first put."""
        return [(key, decode_document(line)) for key, line in self._lines().items()]

    def newest(self, count: int) -> list[Document]:
        """Give the documents put last, newest first, at most ``count``."""
        lines = islice(reversed(self._lines().values()), max(count, 0))
        return [decode_document(line) for line in lines]

    def update_documents(self, updater: Callable[[dict[Any, Any]], None]) -> None:
        """Change the whole table in place, in one save."""
        self._update_table(updater)

    def discard(self, document_id: str) -> None:
        """Remove a document if it is there, and save."""

        def updater(table: dict[Any, Any]) -> None:
            table.pop(document_id, None)

        self._update_table(updater)


class SealedTables(TinyDB):
    """TinyDB whose tables are ``SealedTable``."""

    table_class = SealedTable

    def open_table(self, name: str) -> SealedTable:
        """Give a table without query cache, which would share its documents."""
        return cast("SealedTable", self.table(name, cache_size=0))
