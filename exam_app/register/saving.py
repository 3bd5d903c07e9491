"""One save: its locks, the look whether what was read still stands, its writes.

All in one transaction of the server, a few statements whatever the number of
documents; see ``unit`` for why nothing needs a lock before.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from exam_app.register.columns import (
    ANIMALS,
    CLOSED,
    number_of,
    record_columns,
    ref_of,
)
from exam_app.register.connection import RegisterConnection
from exam_app.register.errors import RegisterConflictError
from exam_app.register.keys import RowSealer
from exam_app.register.reader import DocumentReader
from exam_app.register.unit import Lock, Unit, locks_of
from exam_app.store.engine.documents import Document, decode_document
from exam_app.store.engine.format import DROP, MOVE, REMOVE, TABLE
from exam_app.store.engine.journal import Change
from exam_app.store.repositories.animals import mark_texts

_LOCK = """
SELECT CASE WHEN w.is_shared THEN pg_advisory_xact_lock_shared(w.key)
ELSE pg_advisory_xact_lock(w.key) END
FROM unnest(%s::bigint[], %s::boolean[]) AS w (key, is_shared)"""
_VERSIONS = """
SELECT d.kind, d.id, d.version FROM register.document d
JOIN unnest(%s::text[], %s::text[]) AS w (kind, id)
ON d.kind = w.kind AND d.id = w.id WHERE d.clinic = %s"""
_RECORD_VERSIONS = """
SELECT id, exam_id, version FROM register.record_key
WHERE clinic = %s AND (id = ANY(%s) OR exam_id = ANY(%s))"""
_MEMBERS = """
SELECT d.kind, d.ref, d.id, d.version FROM register.document d
JOIN unnest(%s::text[], %s::text[]) AS w (kind, ref)
ON d.kind = w.kind AND d.ref = w.ref WHERE d.clinic = %s"""
_PUT = """
INSERT INTO register.document AS d
    (clinic, kind, id, place, version, ref, number, terms, "row", body)
SELECT %s, w.kind, w.id, w.v, w.v, w.ref, w.number, w.terms::bigint[], w."row", w.body
FROM (SELECT u.*, nextval('register.change') AS v FROM unnest(%s::text[], %s::text[],
    %s::text[], %s::integer[], %s::text[], %s::bytea[], %s::bytea[])
    AS u (kind, id, ref, number, terms, "row", body)) AS w
ON CONFLICT (clinic, kind, id) DO UPDATE SET version = excluded.version,
    ref = excluded.ref, number = excluded.number, terms = excluded.terms,
    "row" = excluded."row", body = excluded.body"""
_DELETE = """
DELETE FROM register.document d USING unnest(%s::text[], %s::text[]) AS w (kind, id)
WHERE d.clinic = %s AND d.kind = w.kind AND d.id = w.id"""
_KEYS = """
INSERT INTO register.record_key AS k (clinic, id, exam_id, month, version)
SELECT %s, w.id, w.exam_id, register.this_month(), nextval('register.change')
FROM unnest(%s::text[], %s::text[]) AS w (id, exam_id)
ON CONFLICT (clinic, id) DO UPDATE SET version = excluded.version"""
_RECORDS = """
INSERT INTO register.record (clinic, id, month, place, exam_id, animal_id, group_exam,
    record_hash, device_id, day, species, class, is_received, is_acknowledged,
    "row", body)
SELECT k.clinic, w.id, k.month, k.version, w.exam_id, w.animal_id, w.group_exam,
    w.record_hash, w.device_id, w.day, w.species, w.class, w.is_received,
    w.is_acknowledged, w."row", w.body
FROM unnest(%s::text[], %s::text[], %s::text[], %s::text[], %s::text[], %s::text[],
    %s::date[], %s::text[], %s::smallint[], %s::boolean[], %s::boolean[], %s::bytea[],
    %s::bytea[]) AS w (id, exam_id, animal_id, group_exam, record_hash, device_id, day,
    species, class, is_received, is_acknowledged, "row", body)
JOIN register.record_key k ON k.clinic = %s AND k.id = w.id ORDER BY k.version
ON CONFLICT (clinic, id, month) DO UPDATE SET exam_id = excluded.exam_id,
    animal_id = excluded.animal_id, group_exam = excluded.group_exam,
    class = excluded.class, is_received = excluded.is_received,
    is_acknowledged = excluded.is_acknowledged, "row" = excluded."row",
    body = excluded.body"""
_DELETE_RECORDS = """
WITH gone AS (DELETE FROM register.record_key WHERE clinic = %s AND id = ANY(%s)
    RETURNING clinic, id, month)
DELETE FROM register.record r USING gone g
WHERE r.clinic = g.clinic AND r.id = g.id AND r.month = g.month"""
Asked = tuple[str, Sequence[object]]


@dataclass(slots=True)
class Saving:
    """Saves changes of one clinic."""

    connection: RegisterConnection
    sealer: RowSealer
    reader: DocumentReader
    clinic: int

    def save(
        self,
        unit: Unit,
        changes: Sequence[Change],
        also: Callable[[RegisterConnection], None] | None = None,
    ) -> None:
        """Save changes, if what the unit read still stands.

        Args:
            unit: What was read, and nothing where it does not matter.
            changes: The last on each document.
            also: Runs in the same transaction.

        Raises:
            RegisterConflictError: Something else was saved meanwhile; nothing was now.
            VaultError: The register refused or was lost.
        """
        rows = {change: _row(change) for change in changes}
        marks = [
            f"mark {mark}"
            for change, row in rows.items()
            if change.table == ANIMALS
            for mark in mark_texts(row.get("animal") or {})
        ]
        refs = [ref for c, row in rows.items() if (ref := ref_of(c.table, row))]
        numbers = [
            f"number {ref_of(c.table, row)} {number}"
            for c, row in rows.items()
            if (number := number_of(c.table, row)) is not None
        ]
        written = [(change.table, change.document_id) for change in changes]
        locks = locks_of(unit, written, (*marks, *refs, *numbers), self.clinic)
        # Sealed before any lock is held.
        asked = self._writes(rows)
        with self.connection.transaction():
            self._take(locks, unit)
            if asked:
                self.connection.run_all(asked)
            if also is not None:
                also(self.connection)

    def _take(self, locks: Sequence[Lock], unit: Unit) -> None:
        """Take the locks and look whether what was read still stands."""
        keys = [lock.key for lock in locks]
        shared = [lock.is_shared for lock in locks]
        asked: list[Asked] = [(_LOCK, (keys, shared))]
        places = [p for p in unit.versions if p[0] != CLOSED]
        exams = [value for kind, value in unit.lists if kind == CLOSED]
        records = [key for kind, key in unit.versions if kind == CLOSED]
        members = [place for place in unit.lists if place[0] != CLOSED]
        if places:
            asked.append((_VERSIONS, (*_columns(places), self.clinic)))
        if records or exams:
            asked.append((_RECORD_VERSIONS, (self.clinic, records, exams)))
        if members:
            asked.append((_MEMBERS, (*_columns(members), self.clinic)))
        answers = self.connection.run_all(asked)[1:]
        found = {(k, i): v for k, i, v in answers.pop(0)} if places else {}
        lists: dict[tuple[str, str], dict[str, int]] = {}
        if records or exams:
            for key, exam_id, version in answers.pop(0):
                found[CLOSED, key] = version
                lists.setdefault((CLOSED, exam_id), {})[key] = version
        for kind, ref, key, version in answers.pop(0) if members else ():
            lists.setdefault((kind, ref), {})[key] = version
        is_same = all(found.get(p, 0) == v for p, v in unit.versions.items())
        is_same &= all(lists.get(p, {}) == kept for p, kept in unit.lists.items())
        if not is_same or self._has_changed(unit):
            raise RegisterConflictError("something else was saved meanwhile")

    def _has_changed(self, unit: Unit) -> bool:
        if unit.whole and self.reader.states(unit.whole) != unit.whole:
            return True
        if unit.marks and self.reader.marked(list(unit.marks)) != unit.marks:
            return True
        return any(
            self.reader.numbered(device, number) != kept
            for (device, number), kept in unit.numbers.items()
        )

    def _writes(self, rows: dict[Change, Document]) -> list[Asked]:
        gone = [c for c in rows if c.verb in (REMOVE, MOVE)]
        put = {c: row for c, row in rows.items() if c.verb not in (REMOVE, DROP, TABLE)}
        asked = [self._dropped(c) for c in rows if c.verb == DROP]
        others = [c for c in gone if c.table != CLOSED]
        records = [c.document_id for c in gone if c.table == CLOSED]
        if others:
            pairs = [c.table for c in others], [c.document_id for c in others]
            asked.append((_DELETE, (*pairs, self.clinic)))
        if records:
            asked.append((_DELETE_RECORDS, (self.clinic, records)))
        documents = {c: row for c, row in put.items() if c.table != CLOSED}
        closed = {c: row for c, row in put.items() if c.table == CLOSED}
        if documents:
            asked.append((_PUT, self._document_columns(documents)))
        if closed:
            asked += self._record_columns(closed)
        return asked

    def _dropped(self, change: Change) -> Asked:
        if change.table == CLOSED:
            raise NotImplementedError("closed exams are never dropped all at once")
        asked = "DELETE FROM register.document WHERE clinic = %s AND kind = %s"
        return asked, (self.clinic, change.table)

    def _document_columns(self, rows: dict[Change, Document]) -> Sequence[object]:
        columns: list[tuple[object, ...]] = []
        for change, row in rows.items():
            kind, key = change.table, change.document_id
            body = self._sealed("body", change, change.body) if change.body else None
            place = kind, key, ref_of(kind, row), number_of(kind, row)
            terms = self._terms(change, row)
            columns.append(
                (*place, terms, self._sealed("row", change, change.row), body)
            )
        return self.clinic, *map(list, zip(*columns, strict=True))

    def _record_columns(self, rows: dict[Change, Document]) -> list[Asked]:
        columns: list[tuple[object, ...]] = []
        keys: list[tuple[str, str]] = []
        for change, row in rows.items():
            clear = record_columns(row)
            keys.append((change.document_id, clear.exam_id))
            columns.append(
                (
                    change.document_id,
                    clear.exam_id,
                    clear.animal_id,
                    clear.group_exam,
                    clear.record_hash,
                    clear.device_id,
                    clear.day,
                    clear.species,
                    int(clear.review),
                    clear.is_received,
                    clear.is_acknowledged,
                    self._sealed("row", change, change.row),
                    self._sealed("body", change, change.body),
                )
            )
        given, (ids, exams) = _columns(columns), _columns(keys)
        return [(_KEYS, (self.clinic, ids, exams)), (_RECORDS, (*given, self.clinic))]

    def _sealed(self, part: str, change: Change, plain: bytes) -> bytes:
        return self.sealer.seal(part, change.table, change.document_id, plain)

    def _terms(self, change: Change, row: Document) -> str | None:
        if change.table != ANIMALS:
            return None
        marks = mark_texts(row.get("animal") or {})
        values = self.sealer.terms_of(str(row.get("find", "")), marks)
        return "{" + ",".join(map(str, values)) + "}"


def _columns(rows: Sequence[Sequence[object]]) -> list[list[object]]:
    return [list(column) for column in zip(*rows, strict=True)]


def _row(change: Change) -> Document:
    return decode_document(change.row) if change.row else {}
