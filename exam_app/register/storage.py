"""The storage of the tables where they stand on PostgreSQL.

It answers what ``SealedStorage`` answers, so that repositories and everything above
them are the same code. Small kinds are read whole and kept, and only asked whether
they changed; large kinds are read by what is asked for. Inside a unit of work what was
read once stays as it was read, and the save looks whether it still stands.
"""

import contextlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from threading import RLock

from exam_app.register.columns import (
    CLOSED,
    INCOMING,
    LARGE,
    RECORD_FIELDS,
    REF_OF,
    REVISED,
)
from exam_app.register.connection import RegisterConnection
from exam_app.register.keys import RowSealer
from exam_app.register.reader import DocumentReader
from exam_app.register.saving import Saving
from exam_app.register.unit import Units
from exam_app.store.engine.documents import decode_document, field_fragment
from exam_app.store.engine.format import MOVE, PUT, Entry
from exam_app.store.engine.index import Tables
from exam_app.store.engine.journal import Change
from exam_app.store.engine.kept_lists import Pick
from exam_app.store.engine.staged import Entries, LastSaved, decided, lay_over
from exam_app.store.engine.state import row_bytes
from exam_app.store.engine.storage import SealedStorage
from exam_app.store.errors import VaultClosedError

# What is saved again goes behind all others.
_REORDERED = ("drafts",)
Also = Callable[[RegisterConnection], None]


class _Kept:
    """A small kind as it was read last."""

    __slots__ = ("entries", "state", "versions")

    def __init__(self) -> None:
        self.entries: dict[str, Entry] = {}
        self.versions: dict[str, int] = {}
        self.state = (0, 0)

    def now(self) -> tuple[int, int]:
        return len(self.entries), max(self.versions.values(), default=0)


class RegisterStorage(SealedStorage):
    """Documents of one clinic in the register, as tables read and save them.

    Attributes:
        units: The pieces of work under way.
        reader: Reads documents.
        also: What the next save does besides, in its transaction.
        saves: How many succeeded.
    """

    def __init__(
        self, connection: RegisterConnection, sealer: RowSealer, clinic: int
    ) -> None:
        """Read and save by this connection."""
        # What the store in a folder begins with is a journal, which is not here.
        self._journal = None
        self._saved = LastSaved()
        self._turn, self.saving = RLock(), RLock()
        self.connection = connection
        self.units = Units()
        self.reader = DocumentReader(connection, sealer, clinic)
        self.also: Also | None = None
        self.saves = 0
        self._saver = Saving(connection, sealer, self.reader, clinic)
        self._kept: dict[str, _Kept] = {}
        self._is_closed = False

    def tables(self) -> Tables:
        """Refuse: the register's state is not in memory.

        Raises:
            VaultClosedError: Always.
        """
        raise VaultClosedError("a register has no tables in memory")

    def entries(self, table: str) -> Entries:
        """Give one table: every id with its entry, in order."""
        if table in LARGE:
            self._note_whole(table)
            found: Entries = {k: e for k, e, _ in self.reader.everything(table)}
        else:
            found = dict(self._small(table).entries)
        lay_over(found, self._waiting().get(table, {}))
        return found

    def newest(self, table: str, count: int) -> list[Entry | Change]:
        """Give the entries put last, newest first."""
        most = max(count, 0)
        if table not in LARGE or table in self._waiting():
            return [*reversed(self.entries(table).values())][:most]
        return [*self.reader.newest(table, most)]

    def entry(self, table: str, document_id: str) -> Entry | Change | None:
        """Give the entry of one document, or None."""
        is_decided, change = decided(self._waiting().get(table, {}), document_id)
        if is_decided:
            return change
        if table not in LARGE:
            return self._small(table).entries.get(document_id)
        unit, place = self.units.now, (table, document_id)
        if unit is not None and place in unit.entries:
            return unit.entries[place]
        entry, version = self.reader.points([place]).get(place, (None, 0))
        if unit is not None:
            unit.note(place, entry, version)
        return entry

    def expect(self, wanted: Mapping[str, Iterable[str]]) -> None:
        """Read documents that are asked for next, all at once."""
        unit = self.units.now
        if unit is None:
            return
        places = dict.fromkeys(
            (table, key)
            for table, keys in wanted.items()
            if table in LARGE
            for key in keys
            if (table, key) not in unit.entries
        )
        if places:
            found = self.reader.points(list(places))
            for place in places:
                unit.note(place, *found.get(place, (None, 0)))
        exams = [key for kind, key in places if kind == CLOSED and ":" not in key]
        self._read_lists(REVISED, "exam_id", exams)

    def expect_marks(self, table: str, marks: Iterable[str]) -> None:
        """Read who bears the marks that are asked for next."""
        del table
        unit = self.units.now
        if unit is not None:
            wanted = [mark for mark in dict.fromkeys(marks) if mark not in unit.marks]
            if wanted:
                unit.marks |= self.reader.marked(wanted)

    def holding(self, table: str, marks: Iterable[str]) -> list[str] | None:
        """Give the ids of animals that bear one of the marks."""
        asked, unit = list(dict.fromkeys(marks)), self.units.now
        self.expect_marks(table, asked)
        found = self.reader.marked(asked) if unit is None else unit.marks
        return sorted({key for mark in asked for key in found[mark]})

    def count(self, table: str) -> int:
        """Give how many documents a table holds."""
        if table not in LARGE or table in self._waiting():
            return len(self.entries(table))
        return self.reader.count(table)

    def with_field(self, table: str, name: str, value: str) -> Entries:
        """Give the documents whose row may hold a field so, in order."""
        fragment = field_fragment(name, value)
        if not self.is_listed(table, name):
            every = self.entries(table)
            return {k: e for k, e in every.items() if fragment in row_bytes(e)}
        found = self._list(table, name, value)
        for key, change in self._waiting().get(table, {}).items():
            if change.verb not in (PUT, MOVE) or fragment not in change.row:
                found.pop(key, None)
            else:
                found[key] = change
        return found

    def with_any(self, table: str, name: str, values: Iterable[str]) -> Entries | None:
        """Give the documents whose field has one of the values."""
        wanted = list(dict.fromkeys(values))
        if not self.is_listed(table, name) or table in self._waiting():
            return None
        rows = self.reader.by_field(table, name, wanted) if wanted else []
        return {key: entry for key, entry, _ in rows}

    def is_listed(self, table: str, name: str) -> bool:
        """Whether the register finds documents by a field."""
        return REF_OF.get(table) == name or (table == CLOSED and name in RECORD_FIELDS)

    def with_words(
        self,
        table: str,
        words: Sequence[bytes],
        is_met: Callable[[bytes], bool],
        limit: int,
    ) -> list[bytes] | None:
        """Give animals that hold whole words, or begin so; at most ``limit``."""
        said = [word.decode("utf-8", "surrogatepass") for word in words]
        found = self.reader.with_words(said, min(limit, 2**31 - 1))
        met = [entry[0] for entry in found if is_met(entry[0])]
        return met[:limit]

    def picked(self, table: str, pick: Pick) -> Entries | None:
        """Give this clinic's own records: others are received ones."""
        if table != CLOSED or self._waiting().get(table):
            return None
        return {key: entry for key, entry, _ in self.reader.own_records()}

    def pressing(self, table: str, count: int) -> Entries | None:
        """Give the received records that nobody acknowledged, urgent ones first."""
        return {key: entry for key, entry, _ in self.reader.pressing(count)}

    def numbered(self, table: str, device_id: str, number: int) -> set[str] | None:
        """Give the ids of the bundles to which a device gave a number."""
        unit, place = self.units.now, (device_id, number)
        if unit is None:
            return set(self.reader.numbered(*place))
        if place not in unit.numbers:
            unit.numbers[place] = self.reader.numbered(*place)
        return set(unit.numbers[place])

    def gaps(self, table: str, device_id: str, most: int) -> list[int] | None:
        """Give the numbers below a device's highest that never came."""
        return self.reader.gaps(device_id, most) if table == INCOMING else None

    def counted(self, table: str, among: Iterable[str]) -> dict[str, int] | None:
        """Give how many notes each of some exams has."""
        return self.reader.noted(list(among))

    def version(self, table: str) -> int | None:
        """Give a number that grows with every change; None of a large table."""
        if table in LARGE or table in self._waiting():
            return None
        count, version = self._small(table).state
        # What was removed changes the count alone.
        return (version << 20) + (count & 0xFFFFF)

    def next_number(self, table: str) -> int:
        """Give a number that was never an id in this table."""
        ids = [int(key) for key in self.entries(table) if key.isdecimal()]
        return max(ids, default=0) + 1

    def save(self, changes: list[Change]) -> None:
        """Save changes that change something, or keep them for the transaction."""
        with self.units.one():
            super().save(changes)

    @contextlib.contextmanager
    def transaction(self) -> Iterator[None]:
        """Gather the writes inside into one save; an exception undoes them all."""
        with self.units.one(), super().transaction():
            yield

    def close(self) -> None:
        """Close the connection and forget what was read."""
        self._is_closed = True
        self._kept.clear()
        self.connection.close()

    def _append(self, changes: list[Change]) -> None:
        with self.saving, self.units.one() as unit:
            try:
                self._saver.save(unit, changes, self.also)
                self.also = None
                self.saves += 1
            finally:
                # Whatever is read next is read anew.
                unit.forget()

    def _body(self, table: str, document_id: str, entry: Entry | Change) -> bytes:
        if isinstance(entry, Change):
            return entry.body
        return self.reader.body(table, document_id, entry[1])

    def _state(self) -> Tables:
        if self._is_closed:
            raise VaultClosedError("the register is closed")
        return {}

    def _small(self, table: str) -> _Kept:
        """Give all of a small kind, read again only as far as it changed."""
        with self._turn:
            kept = self._kept.setdefault(table, _Kept())
            wanted = self._note_whole(table)
            if wanted != kept.state:
                self._bring_up(table, kept, wanted)
                if self.units.now is not None:
                    self.units.now.whole[table] = kept.state
            return kept

    def _bring_up(self, table: str, kept: _Kept, wanted: tuple[int, int]) -> None:
        for key, entry, version in self.reader.changed_since(table, kept.state[1]):
            kept.entries[key], kept.versions[key] = entry, version
        if kept.now() != wanted or table in _REORDERED:
            rows = self.reader.everything(table)
            kept.entries = {key: entry for key, entry, _ in rows}
            kept.versions = {key: version for key, _, version in rows}
        kept.state = kept.now()

    def _note_whole(self, table: str) -> tuple[int, int]:
        unit = self.units.now
        if unit is None:
            return self.reader.states([table])[table]
        if table not in unit.whole:
            if table not in unit.known:
                # The first of a piece of work asks for all small kinds at once.
                kinds = {one for one in (table, *self._kept) if one not in unit.known}
                unit.known |= self.reader.states(kinds)
            unit.whole[table] = unit.known[table]
        return unit.whole[table]

    def _list(self, table: str, name: str, value: str) -> Entries:
        unit = self.units.now
        is_noted = table != CLOSED or name == "exam_id"
        if unit is None or not is_noted:
            rows = self.reader.by_field(table, name, [value])
            return {key: entry for key, entry, _ in rows}
        self._read_lists(table, name, [value])
        found = ((key, unit.entries[table, key]) for key in unit.lists[table, value])
        return {key: entry for key, entry in found if entry is not None}

    def _read_lists(self, table: str, name: str, values: Iterable[str]) -> None:
        unit = self.units.now
        wanted = [
            one
            for one in dict.fromkeys(values)
            if unit is not None and (table, one) not in unit.lists
        ]
        if unit is None or not wanted:
            return
        for value in wanted:
            unit.lists[table, value] = {}
        for key, entry, version in self.reader.by_field(table, name, wanted):
            unit.note((table, key), entry, version)
            value = str(decode_document(entry[0])[name])
            unit.lists[table, value][key] = version
