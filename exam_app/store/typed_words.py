"""What was typed in a form and not saved yet, kept until it is saved or thrown away.

It stands beside drafts and records and is part of neither: nothing of it is signed,
handed over or shown in a record.
"""

from collections.abc import Collection, Mapping

from exam_app.store.sealed_table import SealedTables


class TypedWords:
    """Typed words by the place they were typed in, as ``EXAM_ID/given``."""

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
