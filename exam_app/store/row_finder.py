"""Find text in the rows of a table: one search through all rows joined.

A table whose rows hold one text each is searched without parsing any of them.
"""

import json
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

from exam_app.store.sealed_storage import row_bytes
from exam_app.store.sealed_table import SealedTable
from exam_app.store.state import decode_document


@dataclass(frozen=True, slots=True)
class _Joined:
    version: int | None
    ids: tuple[str, ...]
    rows: tuple[bytes, ...]
    text: bytes
    starts: tuple[int, ...]


class RowFinder:
    """Searches one text field of a table."""

    def __init__(self, table: SealedTable, name: str) -> None:
        """Search ``table`` in the field ``name``, the only one in its rows."""
        self._table = table
        self._name = name
        self._joined: _Joined | None = None

    def find(self, words: Sequence[str]) -> Iterator[str]:
        """Give the ids of the rows that hold every word, in order.

        Args:
            words: Without white space; none finds every row.
        """
        joined = self._join()
        if not words:
            yield from joined.ids
            return
        # As they stand in JSON; half a surrogate pair stands in none.
        wanted = [
            json.dumps(word, ensure_ascii=False)[1:-1].encode("utf-8", "surrogatepass")
            for word in sorted(words, key=len, reverse=True)
        ]
        at = joined.text.find(wanted[0])
        while at >= 0:
            line = bisect_right(joined.starts, at) - 1
            row = joined.rows[line]
            if all(word in row for word in wanted) and self._holds(row, words):
                yield joined.ids[line]
            at = joined.text.find(wanted[0], joined.starts[line + 1])

    def _join(self) -> _Joined:
        version = self._table.sealed.version(self._table.name)
        joined = self._joined
        if joined is None or version is None or joined.version != version:
            entries = self._table.sealed.entries(self._table.name)
            rows = tuple(map(row_bytes, entries.values()))
            starts = accumulate((len(row) + 1 for row in rows), initial=0)
            text = b"\n".join(rows)
            joined = _Joined(version, tuple(entries), rows, text, tuple(starts))
            self._joined = joined
        return joined

    def _holds(self, row: bytes, words: Sequence[str]) -> bool:
        text = decode_document(row)[self._name]
        return all(word in text for word in words)
