"""Closed exams, notes on them, and what stands beside them unsigned.

A closed exam is the signed bytes, kept exactly and never replaced; a revision stands
beside what it revises. Lists are shown from projections: the few fields of each exam
that lists need, kept in the head so that listing opens none.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from functools import lru_cache
from typing import Any

from exam_app.crypto.door import sha256
from exam_app.store.engine.documents import (
    Document,
    decode_document,
    from_text,
    to_text,
)
from exam_app.store.engine.state import row_bytes
from exam_app.store.engine.tables import SealedTables, put_once
from exam_app.store.errors import ClosedRecordChangedError
from exam_app.store.repositories.listed import NOT_RECEIVED
from exam_app.store.repositories.rows import MOST_READ, ClosedExam, read_closed_exam

# Of so many records each is looked up in a list; else all that are revised are read.
_FEW = 100


class ClosedExams:
    """Signed exams, in the order in which this device closed or received them.

    An exam may be revised: a revision names the record it revises by its hash and is
    kept beside it. Two revisions of one record are a fork; both are kept and shown.
    """

    def __init__(self, tables: SealedTables) -> None:
        """Use the tables of signed records and of revisions."""
        self._table = tables.open_table("closed", body_fields=("signed",))
        self._revised = tables.open_table("revised", body_fields=())
        self._transaction = self._table.sealed.transaction
        self._counted: tuple[tuple[int | None, int | None], int] = (None, None), 0
        # Nobody can change what is given, so that a row is read once for all lists.
        self._read = lru_cache(MOST_READ)(read_closed_exam)

    def put(self, shown: ClosedExam, signed: bytes) -> None:
        """Keep signed bytes for ever; the same bytes again change nothing but the row.

        A revision, and a second first record, stand beside what is here; what a
        revision revises may come later.

        Args:
            shown: What lists show of it, by which its animal and revisions find it.
            signed: The exact bytes.

        Raises:
            ClosedRecordChangedError: Different bytes are kept under this id.
        """
        exam_id, is_beside = shown.exam_id, shown.revision or shown.is_fork
        key = f"{exam_id}:{sha256(signed).hex()}" if is_beside else exam_id
        kept = self._signed(key)
        if kept not in (None, signed):
            raise ClosedRecordChangedError("different bytes under the same id")
        with self._transaction():
            self._table.put(key, {**shown.to_row(), "signed": to_text(signed)})
            if is_beside:
                parent = {"exam_id": exam_id, "parent_hash": shown.parent_hash}
                self._revised.put(key, parent)

    def get(self, exam_id: str, record_hash: str | None = None) -> bytes | None:
        """Give exact signed bytes, or None.

        Args:
            exam_id: The exam's own id.
            record_hash: Of one revision; without it, the highest revision, and of
                two in a fork the one that came first.
        """
        if not record_hash and not self._revised.rows_with("exam_id", exam_id):
            return self._signed(exam_id)
        keyed = self._keyed("exam_id", exam_id)
        if record_hash:
            keyed = [one for one in keyed if one[1].record_hash == record_hash]
        newest = max(keyed, key=lambda found: found[1].revision, default=None)
        return None if newest is None else self._signed(newest[0])

    def revisions(self, exam_id: str) -> list[ClosedExam]:
        """Give an exam's records, in the order they came; one alone at once."""
        if self._revised.rows_with("exam_id", exam_id):
            return [row for _, row in self._keyed("exam_id", exam_id)]
        entry = self._table.sealed.entry(self._table.name, exam_id)
        return [] if entry is None else [self._read(row_bytes(entry))]

    def acknowledge(self, exam_id: str, record_hash: str, name: str) -> None:
        """Let lists show who acknowledged one record; the signed bytes stay."""
        for key, row in self._keyed("exam_id", exam_id):
            kept = self._table.fetch(key) if row.record_hash == record_hash else None
            if kept is not None:
                self._table.put(key, {**kept, "acknowledged_by": name})

    def tips(self, exam_id: str) -> list[ClosedExam]:
        """Give the records that no other revises; two and more are a fork."""
        return self._unrevised(self.revisions(exam_id))

    def latest(self, count: int) -> list[ClosedExam]:
        """Give the records kept last, newest first.

        Records that were revised are left out; of a fork, each end is shown.
        """
        wanted = looked_at = max(count, 0)
        while True:
            newest = self._table.sealed.newest(self._table.name, looked_at)
            rows = [self._read(row_bytes(entry)) for entry in newest]
            shown = self._unrevised(rows)
            if len(shown) >= wanted or len(rows) < looked_at:
                return shown[:wanted]
            looked_at = 2 * looked_at + _FEW

    def pressing(self, count: int) -> list[ClosedExam]:
        """Give received records that nobody acknowledged, the most urgent first.

        Empty where the storage lists none: then ``latest`` is all there is.
        """
        found = self._table.sealed.pressing(self._table.name, count) or {}
        return self._unrevised([self._read(row_bytes(e)) for e in found.values()])

    def maybe_not_received(self) -> list[ClosedExam]:
        """Give the records for which the clinic may not have signed, oldest first.

        Revised ones are left out. Where no list was kept that is every record: whoever
        asks looks at each again.
        """
        found = self._table.sealed.picked(self._table.name, NOT_RECEIVED)
        if found is None:
            return self._unrevised(self.everything())
        return self._unrevised([self._read(row_bytes(one)) for one in found.values()])

    def count(self) -> int:
        """Give how many exams there are; revisions of one count as one."""
        sealed, beside = self._table.sealed, self._revised.name
        versions = sealed.version(self._table.name), sealed.version(beside)
        if None in versions or self._counted[0] != versions:
            exam_ids = {str(row["exam_id"]) for _, row in self._revised.rows()}
            alone = sum(sealed.entry(self._table.name, x) is None for x in exam_ids)
            # Whatever stands beside another record is among the revised.
            count = sealed.count(self._table.name) - sealed.count(beside) + alone
            self._counted = versions, count
        return self._counted[1]

    def everything(self) -> list[ClosedExam]:
        """Give every record, revised ones too, oldest first."""
        entries = self._table.sealed.entries(self._table.name)
        return [self._read(row_bytes(entry)) for entry in entries.values()]

    def for_animal(self, animal_id: str) -> list[ClosedExam]:
        """Give one animal's exams, as ``latest`` does."""
        return self._unrevised(self.every_of(animal_id)[::-1])

    def every_of(self, animal_id: str) -> list[ClosedExam]:
        """Give all of one animal's records, revised ones too, oldest first."""
        return [row for _, row in self._keyed("animal_id", animal_id)]

    def for_group(self, group_exam: str) -> list[ClosedExam]:
        """Give a round's exams, by the exam of the group, as ``latest`` does."""
        keyed = self._keyed("group_exam", group_exam)
        return self._unrevised([row for _, row in reversed(keyed)])

    def remove(self, exam_id: str) -> None:
        """Drop every record of an exam, in one save; see ``delete_exams``."""
        with self._transaction():
            for key, _ in self._keyed("exam_id", exam_id):
                self._table.discard(key)
                self._revised.discard(key)

    def _signed(self, key: str) -> bytes | None:
        sealed, name = self._table.sealed, self._table.name
        entry = sealed.entry(name, key)
        return entry and from_text(sealed.rest(name, key, entry)["signed"])

    def _keyed(self, field: str, value: str) -> list[tuple[str, ClosedExam]]:
        found = self._table.sealed.with_field(self._table.name, field, value)
        rows = [(key, self._read(row_bytes(entry))) for key, entry in found.items()]
        return [(key, row) for key, row in rows if getattr(row, field) == value]

    def _unrevised(self, rows: list[ClosedExam]) -> list[ClosedExam]:
        sealed, name = self._revised.sealed, self._revised.name
        at_once = sealed.with_any(name, "exam_id", (row.exam_id for row in rows))
        if at_once is not None:
            found = (decode_document(row_bytes(one)) for one in at_once.values())
            return _without(rows, found)
        count = sealed.count(name)
        if not count:
            return rows
        if len(rows) < _FEW < count and sealed.is_listed(name, "exam_id"):
            return [row for row in rows if not self._is_revised(row)]
        return _without(rows, (row for _, row in self._revised.rows()))

    def _is_revised(self, record: ClosedExam) -> bool:
        rows = self._revised.rows_with("exam_id", record.exam_id)
        return any(row["parent_hash"] == record.record_hash for _, row in rows)


def _without(
    rows: list[ClosedExam], of_parents: Iterable[Document]
) -> list[ClosedExam]:
    revised = {(row["exam_id"], row["parent_hash"]) for row in of_parents}
    return [row for row in rows if (row.exam_id, row.record_hash) not in revised]


class Notes:
    """Signed notes on closed exams."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of notes."""
        self._table = tables.open_table("notes", head_fields=("exam_id",))
        self._counted: tuple[int | None, dict[str, int]] = None, {}

    def put(self, note_id: str, exam_id: str, signed: bytes) -> None:
        """Keep a note's signed bytes for ever.

        Raises:
            ClosedRecordChangedError: Different bytes are kept under this id.
        """
        put_once(self._table, note_id, {"exam_id": exam_id, "signed": to_text(signed)})

    def get(self, note_id: str) -> bytes | None:
        """Give a note's signed bytes, or None."""
        kept = self._table.fetch(note_id)
        return None if kept is None else from_text(kept["signed"])

    def all(self) -> list[tuple[str, str, bytes]]:
        """Give hash, exam id and signed bytes of every note, in the order they came."""
        kept = self._table.everything()
        notes = ((n["exam_id"], from_text(n["signed"])) for n in kept)
        return [(sha256(signed).hex(), key, signed) for key, signed in notes]

    def remove(self, exam_id: str) -> None:
        """Drop every note about an exam; see ``delete_exams``."""
        for key, _ in self._table.rows_with("exam_id", exam_id):
            self._table.discard(key)

    def counts_of(self, exam_ids: Iterable[str]) -> dict[str, int]:
        """Give how many notes each of these exams has, of those with any."""
        wanted = set(exam_ids)
        found = self._table.sealed.counted(self._table.name, wanted)
        if found is not None:
            return found
        every = self._counts()
        return {key: every[key] for key in wanted if key in every}

    def counts(self) -> dict[str, int]:
        """Give how many notes each exam has, by exam id, the oldest note first."""
        return dict(self._counts())

    def _counts(self) -> dict[str, int]:
        sealed, name = self._table.sealed, self._table.name
        version = sealed.version(name)
        if version is None or self._counted[0] != version:
            rows = map(row_bytes, sealed.entries(name).values())
            self._counted = version, dict(Counter(map(_exam_of, rows)))
        return self._counted[1]

    def for_exam(self, exam_id: str) -> list[bytes]:
        """Give the signed bytes of one exam's notes, in the order they came."""
        keys = [key for key, _ in self._table.rows_with("exam_id", exam_id)]
        notes = (self._table.fetch(key) for key in keys)
        return [from_text(note["signed"]) for note in notes if note is not None]


def _exam_of(row: bytes) -> str:
    """Read the one field of a note's row; the first screen counts thousands."""
    start = b'{"exam_id":"'
    if row.startswith(start) and row.count(b'"') == 4 and b"\\" not in row:
        return row[len(start) : -2].decode()
    return str(decode_document(row)["exam_id"])


class OwnerBlocks:
    """Owner data beside the signed record, by exam: the salt and the block."""

    def __init__(self, tables: SealedTables, forget: Callable[[], None]) -> None:
        """Use the table of owner blocks.

        Args:
            tables: The open tables.
            forget: Writes the files anew, so that nothing removed is left in them.
        """
        self._table = tables.open_table("owner_blocks")
        self._forget = forget

    def put(self, exam_id: str, salt: bytes, block: Mapping[str, Any]) -> None:
        """Keep an exam's owner block with the salt that the record's hash covers."""
        self._table.put(exam_id, {"salt": to_text(salt), "block": dict(block)})

    def get(self, exam_id: str) -> tuple[bytes, Document] | None:
        """Give salt and block, or None where there was none or it was erased."""
        kept = self._table.fetch(exam_id)
        return None if kept is None else (from_text(kept["salt"]), kept["block"])

    def of(self, exam_id: str) -> list[tuple[str, bytes, Document]]:
        """Give id, salt and block of an exam and of its forks."""
        keys = [key for key, _ in self._table.rows() if _is_of(key, exam_id)]
        found = [(key, self.get(key)) for key in keys]
        return [(key, *kept) for key, kept in found if kept is not None]

    def exam_ids(self) -> set[str]:
        """Give every exam that has an owner block, or whose fork has one."""
        return {key.partition(":")[0] for key, _ in self._table.rows()}

    def drop(self, exam_id: str) -> None:
        """Remove salt and block in one save; the files still hold sealed traces.

        Those of forks of the exam, kept under its id and a record's hash, go along.
        """
        keys = [key for key, _ in self._table.rows() if _is_of(key, exam_id)]
        with self._table.sealed.transaction():
            for key in keys:
                self._table.discard(key)

    def erase(self, exam_id: str) -> None:
        """Remove salt and block, and write the files anew without them.

        Not inside a transaction, which would save the removal only afterwards.

        Raises:
            VaultError: The removal was not saved, or it was and the files still
                hold sealed traces; erase again.
        """
        if self._table.sealed.is_inside_transaction():
            raise RuntimeError("erase outside of transactions")
        self.drop(exam_id)
        self._forget()


def _is_of(key: str, exam_id: str) -> bool:
    return key == exam_id or key.startswith(f"{exam_id}:")


class PrivateBlocks:
    """Private notes beside signed records, by record: the salt and the block."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of private blocks."""
        self._table = tables.open_table("private_blocks", head_fields=("exam_id",))

    def put(self, exam_id: str, record_hash: str, salt: bytes, block: bytes) -> None:
        """Keep a block with the salt that the record's hash covers."""
        kept = {"exam_id": exam_id, "salt": to_text(salt), "block": to_text(block)}
        self._table.put(record_hash, kept)

    def get(self, record_hash: str) -> tuple[bytes, bytes] | None:
        """Give salt and block of one record, or None where none is kept here."""
        kept = self._table.fetch(record_hash)
        if kept is None:
            return None
        return from_text(kept["salt"]), from_text(kept["block"])

    def drop(self, exam_id: str) -> None:
        """Remove those of every record of an exam; files still hold sealed traces."""
        rows = self._table.rows_with("exam_id", exam_id)
        with self._table.sealed.transaction():
            for record_hash, _ in rows:
                self._table.discard(record_hash)
