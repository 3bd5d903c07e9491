"""Changes that wait for the end of a transaction, and those that were saved last."""

from collections.abc import Mapping

from exam_app.store.engine.documents import WHERE
from exam_app.store.engine.format import DROP, MOVE, PUT, REMOVE, Entry, Line
from exam_app.store.engine.journal import Change

_REMEMBERED = 32
Entries = dict[str, "Entry | Change"]
Waiting = dict[str, dict[str, Change]]


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


def decided(
    changes: Mapping[str, Change], document_id: str
) -> tuple[bool, Change | None]:
    """Say whether waiting changes decide what a document is, and what they make of it.

    Returns:
        Whether they do; the document's change, or None where it is gone.
    """
    change = changes.get(document_id)
    if change is not None:
        return True, change if change.verb in (PUT, MOVE) else None
    # The whole table was dropped; that stands under no id.
    return "" in changes, None


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


class LastSaved:
    """The bodies that were saved last, to compare the next save with them."""

    __slots__ = ("_kept",)

    def __init__(self) -> None:
        """Remember nothing yet."""
        self._kept: dict[tuple[str, str], tuple[bytes, bytes]] = {}

    def put(self, line: Line, offset: int, body: bytes) -> None:
        """Remember the plain body of a line whose sealed body stands at ``offset``."""
        key = line.table, line.document_id
        self._kept.pop(key, None)
        if line.tag:
            self._kept[key] = WHERE.pack(offset, line.length, line.tag), body
            if len(self._kept) > _REMEMBERED:
                del self._kept[next(iter(self._kept))]

    def get(self, table: str, document_id: str, entry: Entry | Change) -> bytes | None:
        """Give the plain body of an entry, or None where another one was saved last."""
        where, body = self._kept.get((table, document_id), (None, b""))
        return body if not isinstance(entry, Change) and entry[1] == where else None
