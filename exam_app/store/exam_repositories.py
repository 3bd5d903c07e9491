"""Drafts, closed exams and notes.

A draft is the exam as it stands, saved after every change. A closed exam is the
signed bytes, kept exactly and never replaced. Lists are shown from projections: the
few fields of each exam that lists need, kept beside it so that listing opens none.
"""

from collections.abc import Mapping
from typing import Any

from exam_app.store.repositories import from_text, put_once, to_text
from exam_app.store.sealed_storage import SealedStorage, SealedTables
from exam_app.store.state import Document

DRAFT_FIELDS = (
    "animal_id",
    "name",
    "species",
    "started",
    "changed",
    "examined",
    "total",
    "scope",
    "person_id",
)


class Drafts:
    """Exams that are not closed."""

    def __init__(self, tables: SealedTables, storage: SealedStorage) -> None:
        """Use the tables of drafts and of their projections."""
        self._table = tables.open_table("drafts")
        self._rows = tables.open_table("draft_rows")
        self._storage = storage

    def put(
        self,
        exam_id: str,
        draft: Mapping[str, Any],
        projection: Mapping[str, Any] | None = None,
    ) -> None:
        """Keep the exam as it stands, in one save.

        Args:
            exam_id: The exam's own id.
            draft: The whole exam.
            projection: What lists show of it; without one, the ``DRAFT_FIELDS``
                found at the top of the draft.
        """
        shown = draft if projection is None else projection
        row = {field: shown.get(field) for field in DRAFT_FIELDS}
        with self._storage.transaction():
            self._table.put(exam_id, draft)
            # Taken out first, so that the rows stand in the order of their changes.
            self._rows.discard(exam_id)
            self._rows.put(exam_id, {"exam_id": exam_id, **row})

    def get(self, exam_id: str) -> Document | None:
        """Give the whole exam, or None."""
        return self._table.fetch(exam_id)

    def open(self) -> list[Document]:
        """Give the projection of every draft, the one saved last first."""
        return [row for _, row in reversed(self._rows.rows())]

    def remove(self, exam_id: str) -> None:
        """Drop a draft, in one save."""
        with self._storage.transaction():
            self._table.discard(exam_id)
            self._rows.discard(exam_id)


class ClosedExams:
    """Signed exams, in the order in which this device closed or received them."""

    def __init__(self, tables: SealedTables, storage: SealedStorage) -> None:
        """Use the tables of signed bytes and of their projections."""
        self._table = tables.open_table("closed")
        self._rows = tables.open_table("closed_rows")
        self._storage = storage

    def put(self, exam_id: str, signed: bytes, projection: Mapping[str, Any]) -> None:
        """Keep signed bytes for ever; the same bytes again change nothing but the row.

        Args:
            exam_id: The exam's own id.
            signed: The exact bytes.
            projection: What lists show; ``animal_id`` finds it for its animal.

        Raises:
            ClosedRecordChangedError: Different bytes are kept under this id.
        """
        with self._storage.transaction():
            put_once(self._table, exam_id, {"signed": to_text(signed)})
            self._rows.put(exam_id, {**projection, "exam_id": exam_id})

    def get(self, exam_id: str) -> bytes | None:
        """Give the exact signed bytes, or None."""
        kept = self._table.fetch(exam_id)
        return None if kept is None else from_text(kept["signed"])

    def latest(self, count: int) -> list[Document]:
        """Give the projections of the exams closed last, newest first."""
        return self._rows.newest(count)

    def for_animal(self, animal_id: str) -> list[Document]:
        """Give the projections of one animal's exams, newest first."""
        rows = [row for _, row in self._rows.rows()]
        return [row for row in reversed(rows) if row.get("animal_id") == animal_id]


class Notes:
    """Signed notes on closed exams."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of notes."""
        self._table = tables.open_table("notes")

    def put(self, note_id: str, exam_id: str, signed: bytes) -> None:
        """Keep a note's signed bytes for ever.

        Raises:
            ClosedRecordChangedError: Different bytes are kept under this id.
        """
        put_once(self._table, note_id, {"exam_id": exam_id, "signed": to_text(signed)})

    def for_exam(self, exam_id: str) -> list[bytes]:
        """Give the signed bytes of one exam's notes, in the order they came."""
        notes = [note for _, note in self._table.rows() if note["exam_id"] == exam_id]
        return [from_text(note["signed"]) for note in notes]
