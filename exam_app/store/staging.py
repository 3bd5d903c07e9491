"""Entries as they are kept or wait, and the changes that a transaction holds back.

What waits is seen by its own context alone, so that a reader in another thread sees
only what is saved.
"""

from collections.abc import Mapping
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any

from exam_app.store.journal import Change
from exam_app.store.lines import DROP, MOVE, PUT, REMOVE, Entry
from exam_app.store.state import Document, decode_document, encode_document

Entries = dict[str, "Entry | Change"]
Waiting = dict[str, dict[str, Change]]


@dataclass(slots=True)
class Staged:
    """What one storage holds back.

    Attributes:
        storage: Whose changes they are.
        tables: By table, then by document; a whole table under no id.
    """

    storage: object
    tables: Waiting = field(default_factory=dict)


STAGED: ContextVar[Staged | None] = ContextVar("staged", default=None)


def is_inside(storage: object) -> bool:
    """Whether this context is inside a transaction of this storage."""
    staged = STAGED.get()
    return staged is not None and staged.storage is storage


def waiting(storage: object) -> Waiting:
    """Give what waits in this context; nothing outside a transaction."""
    staged = STAGED.get()
    return staged.tables if staged and staged.storage is storage else {}


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


def stage(tables: dict[str, dict[str, Change]], change: Change) -> None:
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
    table[change.document_id] = Change(
        verb, change.table, change.document_id, change.row, change.body
    )


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
