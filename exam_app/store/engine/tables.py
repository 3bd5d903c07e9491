"""TinyDB's tables over the sealed storage, with text ids.

A body is opened only when a query asks for a field that is not in the head.
"""

from collections.abc import (
    Callable,
    Collection,
    Iterable,
    Iterator,
    Mapping,
    MutableMapping,
)
from typing import Any, cast

from tinydb import TinyDB
from tinydb.table import Table

from exam_app.store.engine.documents import Document
from exam_app.store.engine.format import MOVE, PUT, REMOVE
from exam_app.store.engine.journal import Change
from exam_app.store.engine.state import row_of
from exam_app.store.engine.storage import SealedStorage, encoded
from exam_app.store.errors import ClosedRecordChangedError, UnstorableValueError


class LazyDocument(MutableMapping[str, Any]):
    """A document whose body is opened when a field outside its row is asked for.

    Attributes:
        is_touched: Whether someone may have changed it.
    """

    __slots__ = ("_open", "_rest", "_row", "is_touched")

    def __init__(self, row: Document, open_rest: Callable[[], Document]) -> None:
        """Keep the row; ``open_rest`` gives the other fields."""
        self._row = row
        self._open = open_rest
        self._rest: Document | None = None
        self.is_touched = False

    def __getitem__(self, name: str) -> Any:  # noqa: ANN401
        """Give a field, opening the body only if it is not in the row."""
        value = self._row[name] if name in self._row else self._others()[name]
        if isinstance(value, list | dict):
            self.is_touched = True
        return value

    def __setitem__(self, name: str, value: Any) -> None:  # noqa: ANN401
        self.is_touched = True
        fields = self._row if name in self._row else self._others()
        fields[name] = value

    def __delitem__(self, name: str) -> None:
        self.is_touched = True
        del (self._row if name in self._row else self._others())[name]

    def __iter__(self) -> Iterator[str]:
        return iter({**self._row, **self._others()})

    def __len__(self) -> int:
        return len({**self._row, **self._others()})

    def _others(self) -> Document:
        if self._rest is None:
            self._rest = self._open()
        return self._rest


class _Draft(MutableMapping[str, MutableMapping[str, Any]]):
    """One table while TinyDB reads or updates it."""

    def __init__(self, storage: SealedStorage, table: str) -> None:
        self._storage, self._table = storage, table
        self._kept = storage.entries(table)
        self._shown: dict[str, MutableMapping[str, Any] | None] = dict.fromkeys(
            self._kept
        )
        self._moved: set[str] = set()

    def __getitem__(self, key: str) -> MutableMapping[str, Any]:
        document = self._shown[key]
        if document is None:
            entry = self._kept[key]
            document = LazyDocument(
                row_of(entry), lambda: self._storage.rest(self._table, key, entry)
            )
            self._shown[key] = document
        return document

    def __setitem__(self, key: str, document: MutableMapping[str, Any]) -> None:
        if key not in self._shown and key in self._kept:
            self._moved.add(key)
        self._shown[key] = document

    def __delitem__(self, key: str) -> None:
        del self._shown[key]

    def __contains__(self, key: object) -> bool:
        return key in self._shown

    def __iter__(self) -> Iterator[str]:
        return iter(self._shown)

    def __len__(self) -> int:
        return len(self._shown)

    def clear(self) -> None:
        self._shown.clear()

    def changes(self) -> Iterator[tuple[str, Mapping[str, Any] | None, bool]]:
        """Give removed, new and touched documents, and whether they go to the end."""
        for key in self._kept:
            if key not in self._shown:
                yield key, None, False
        for key, document in self._shown.items():
            is_lazy = isinstance(document, LazyDocument)
            if document is not None and (not is_lazy or document.is_touched):  # type: ignore[attr-defined]
                yield key, document, key in self._moved


class SealedTable(Table):
    """A table with text ids; some fields of its documents are kept in the head."""

    document_id_class = str  # type: ignore[assignment]

    def __init__(
        self,
        storage: SealedStorage,
        name: str,
        cache_size: int = 0,
        *,
        head_fields: Collection[str] = (),
        body_fields: Collection[str] | None = None,
    ) -> None:
        """Open a table.

        Args:
            storage: Of all tables.
            name: Of this one.
            cache_size: Ignored: TinyDB's query cache shares its documents.
            head_fields: Fields kept in the head.
            body_fields: In place of ``head_fields``: the only fields kept out of it.
        """
        del cache_size
        self._head_fields, self._body_fields = head_fields, body_fields
        super().__init__(storage, name, cache_size=0)

    @property
    def sealed(self) -> SealedStorage:
        """The storage of this table."""
        return cast("SealedStorage", self._storage)

    def put(self, document_id: str, document: Mapping[str, Any]) -> None:
        """Keep a document under its id, at the place of the one before, and save."""
        self.sealed.save([self._change(PUT, document_id, document)])

    def put_last(self, document_id: str, document: Mapping[str, Any]) -> None:
        """Keep a document under its id, behind all others, and save."""
        self.sealed.save([self._change(MOVE, document_id, document)])

    def fetch(self, document_id: str) -> Document | None:
        """Give a fresh copy of one document, or None."""
        return self.sealed.fetch(self._name, document_id)

    def discard(self, document_id: str) -> None:
        """Remove a document if it is there, and save."""
        self.sealed.save([Change(REMOVE, self._name, document_id)])

    def rows(self) -> list[tuple[str, Document]]:
        """Give every id with its row, in order; no body is opened."""
        entries = self.sealed.entries(self._name)
        return [(key, row_of(entry)) for key, entry in entries.items()]

    def newest(self, count: int) -> list[Document]:
        """Give the rows put last, newest first, at most ``count``."""
        return [row_of(entry) for entry in self.sealed.newest(self._name, count)]

    def rows_with(self, name: str, value: str) -> list[tuple[str, Document]]:
        """Give the rows whose field has a value, in order; the others stay unparsed."""
        entries = self.sealed.with_field(self._name, name, value)
        found = [(key, row_of(entry)) for key, entry in entries.items()]
        return [(key, row) for key, row in found if row.get(name) == value]

    def everything(self) -> list[Document]:
        """Give every document, in order; every body is opened."""
        storage, name = self.sealed, self._name
        ids = list(storage.entries(name))
        found = (storage.fetch(name, key) for key in ids)
        return [document for document in found if document is not None]

    def update_documents(self, updater: Callable[[Any], None]) -> None:
        """Change the whole table in place, in one save."""
        self._update_table(updater)

    def _read_table(self) -> dict[str, Mapping[str, Any]]:
        return cast("dict[str, Mapping[str, Any]]", _Draft(self.sealed, self._name))

    def _update_table(self, updater: Callable[[dict[Any, Any]], None]) -> None:
        draft = _Draft(self.sealed, self._name)
        updater(cast("dict[Any, Any]", draft))
        changes = []
        for key, document, moves in draft.changes():
            if document is None:
                changes.append(Change(REMOVE, self._name, key))
            else:
                verb = MOVE if moves else PUT
                changes.append(self._change(verb, key, document))
        self.sealed.save(changes)

    def _get_next_id(self) -> int:
        # Never a number that was used before, not even by a removed document.
        known = self._next_id or 1
        number = max(self.sealed.next_number(self._name), known)
        self._next_id = number + 1  # type: ignore[assignment]
        return cast("int", str(number))

    def _change(
        self, verb: bytes, document_id: str, document: Mapping[str, Any]
    ) -> Change:
        if self._body_fields is None:
            row = {k: document[k] for k in document if k in self._head_fields}
        else:
            row = {k: document[k] for k in document if k not in self._body_fields}
        body = {k: document[k] for k in document if k not in row}
        return Change(verb, self._name, document_id, encoded(row), encoded(body))


class SealedTables(TinyDB):
    """TinyDB whose tables are ``SealedTable``."""

    table_class = SealedTable  # type: ignore[assignment]

    def open_table(
        self,
        name: str,
        head_fields: Collection[str] = (),
        body_fields: Collection[str] | None = None,
    ) -> SealedTable:
        """Give a table that keeps these fields in the head."""
        table = self.table(name, head_fields=head_fields, body_fields=body_fields)
        return cast("SealedTable", table)

    def expect(self, wanted: Mapping[str, Iterable[str]]) -> None:
        """Tell the storage which documents, by table, are asked for next."""
        cast("SealedStorage", self.storage).expect(wanted)


def required_id(document: Mapping[str, Any], field: str) -> str:
    """Give the id that a document must carry in ``field``."""
    found = document.get(field)
    if not isinstance(found, str) or not found:
        raise UnstorableValueError(f"a document must carry {field}")
    return found


def put_once(table: SealedTable, document_id: str, document: Document) -> None:
    """Keep a document that never changes.

    Raises:
        ClosedRecordChangedError: A different one is kept under this id.
    """
    kept = table.fetch(document_id)
    if kept is None:
        table.put(document_id, document)
    elif kept != document:
        raise ClosedRecordChangedError("different bytes under the same id")
