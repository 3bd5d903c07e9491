"""Exams that are not closed, and what was typed in a form and not saved yet.

A draft is the exam as it stands, saved after every change.
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Any

from exam_app.domain.exam.exam import Exam
from exam_app.record.errors import RecordError
from exam_app.record.plain_form import from_plain
from exam_app.store.engine.documents import Document, stored_row
from exam_app.store.engine.state import row_bytes
from exam_app.store.engine.tables import SealedTables
from exam_app.store.repositories.rows import MOST_READ, OpenExam, read_open_exam


class Drafts:
    """Exams that are not closed.

    One that was begun by mistake is discarded: it is open no more and in no list but
    ``discarded``, kept whole, and can be put back.
    """

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of drafts."""
        self._table = tables.open_table("drafts", body_fields=("draft",))
        # Nobody can change what is given, so that a row is read once for all lists.
        self._read = lru_cache(MOST_READ)(read_open_exam)

    def put(
        self,
        exam_id: str,
        draft: Mapping[str, Any],
        shown: OpenExam | None = None,
    ) -> None:
        """Keep the exam as it stands, in one save.

        Args:
            exam_id: The exam's own id.
            draft: The whole exam.
            shown: What lists show of it; without one, its id alone.
        """
        row = stored_row(replace(shown or OpenExam(exam_id), exam_id=exam_id))
        # Last, so that the drafts stand in the order of their changes.
        self._table.put_last(exam_id, {**row, "draft": dict(draft)})

    def get(self, exam_id: str) -> Document | None:
        """Give the whole exam, discarded or not, or None."""
        kept = self._table.fetch(exam_id)
        return None if kept is None else kept["draft"]

    def open(self) -> list[OpenExam]:
        """Give what lists show of every draft, the one saved last first."""
        return [shown for shown in self.every() if not shown.discarded]

    def discarded(self) -> list[OpenExam]:
        """Give what ``open`` gives, of the drafts that were discarded."""
        return [shown for shown in self.every() if shown.discarded]

    def every(self) -> list[OpenExam]:
        """Give both, for what may be left out nowhere."""
        sealed, name = self._table.sealed, self._table.name
        kept = reversed(sealed.entries(name).items())
        return [self._shown(key, row_bytes(entry)) for key, entry in kept]

    def discard(self, exam_id: str, when_and_by: str) -> None:
        """Take a draft out of the open ones, in one save; nothing of it is lost.

        Args:
            exam_id: The exam's own id.
            when_and_by: In words.
        """
        self._mark(exam_id, when_and_by)

    def put_back(self, exam_id: str) -> None:
        """Open a discarded draft again, as it was, in one save."""
        self._mark(exam_id, "")

    def _mark(self, exam_id: str, discarded: str) -> None:
        kept = self._table.fetch(exam_id)
        if kept is not None:
            self._table.put_last(exam_id, {**kept, "discarded": discarded})

    def of_animal(self, animal_id: str) -> list[OpenExam]:
        """Give what ``open`` gives, of one animal."""
        return [shown for shown in self.open() if shown.animal_id == animal_id]

    def shown(self, exam_id: str) -> OpenExam | None:
        """Give what lists show of one draft, or None."""
        found = (shown for shown in self.every() if shown.exam_id == exam_id)
        return next(found, None)

    def _shown(self, exam_id: str, stored: bytes) -> OpenExam:
        shown, is_whole = self._read(exam_id, stored)
        if is_whole:
            return shown
        # Of an earlier version: until its next save the rest stands in its body only.
        try:
            return shown.completed(from_plain(Exam, self.get(exam_id) or {}))
        except RecordError:
            return shown

    def change(
        self, exam_id: str, changed: Callable[[Document], Mapping[str, Any]]
    ) -> None:
        """Change a draft at its place; what lists show of it stays."""
        kept = self._table.fetch(exam_id)
        if kept is not None:
            self._table.put(exam_id, {**kept, "draft": dict(changed(kept["draft"]))})

    def remove(self, exam_id: str) -> None:
        """Drop a draft, in one save."""
        self._table.discard(exam_id)


class TypedWords:
    """Typed words by the place they were typed in, as ``EXAM_ID/given``.

    They stand beside drafts and records and are part of neither: nothing of them is
    signed, handed over or shown in a record.
    """

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of typed words."""
        self._table = tables.open_table("typed_words")

    def put(self, place: str, label: str, words: Mapping[str, str]) -> None:
        """Keep the words of one place, in one save; without any it is forgotten.

        Args:
            place: Printable ASCII; what belongs to an exam begins with its id and a
                slash.
            label: Names the place for a person.
            words: Text by field.
        """
        if words:
            self._table.put(place, {"label": label, "words": dict(words)})
        elif self._table.fetch(place) is not None:
            self._table.discard(place)

    def all(self) -> dict[str, tuple[str, dict[str, str]]]:
        """Give label and words of every place."""
        places = [place for place, _ in self._table.rows()]
        kept = ((place, self._table.fetch(place)) for place in places)
        return {
            place: (str(found["label"]), dict(found["words"]))
            for place, found in kept
            if found is not None
        }

    def remove_place(self, place: str) -> None:
        """Forget what was typed in one place."""
        self._table.discard(place)

    def remove_words(self, exam_id: str, names: Collection[str]) -> None:
        """Forget some fields wherever they were typed for one exam."""
        for place, (label, words) in self.all().items():
            if place.startswith(f"{exam_id}/"):
                rest = {k: v for k, v in words.items() if k not in names}
                self.put(place, label, rest)

    def remove_of(self, exam_id: str) -> None:
        """Forget everything typed for one exam."""
        for place, _ in self._table.rows():
            if place.startswith(f"{exam_id}/"):
                self._table.discard(place)
