"""The animals this device knows, and finding them by what stands in their rows.

What repositories give is a fresh copy or frozen; every ``put`` returns after the save
is on the medium.
"""

import json
import sys
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate, islice
from typing import Any

from exam_app.store.engine.documents import Document, decode_document
from exam_app.store.engine.state import row_bytes
from exam_app.store.engine.tables import SealedTable, SealedTables, required_id
from exam_app.store.repositories.rows import MOST_READ, KnownAnimal, read_animal

# Animals by the hash of what may tell that two are one.
_Marked = dict[int, tuple[str, ...] | dict[str, None]]
_SEARCHED = ("name", "tag", "chip", "chips", "owner", "owner_name", "place")


@dataclass(frozen=True, slots=True)
class _Joined:
    version: int | None
    rows: tuple[bytes, ...]
    texts: tuple[bytes, ...]
    whole: bytes
    starts: tuple[int, ...]


class RowFinder:
    """Searches one text field of a table."""

    def __init__(self, table: SealedTable, name: str, next_name: str) -> None:
        """Search ``table``, whose rows hold the field ``name``, then ``next_name``."""
        self._table = table
        self._name = name
        self._start = len(json.dumps({name: ""}, separators=(",", ":"))) - 2
        self._end = f'","{next_name}":'.encode()
        self._joined: _Joined | None = None

    def find(self, words: Sequence[str], limit: int) -> list[bytes]:
        """Give the first stored rows that hold every word, in order.

        Args:
            words: Without white space; none finds every row.
            limit: At most so many.
        """
        sealed, name = self._table.sealed, self._table.name
        if not words:
            entries = sealed.entries(name)
            return list(map(row_bytes, islice(entries.values(), limit)))
        # As they stand in JSON; half a surrogate pair stands in none.
        wanted = [
            json.dumps(word, ensure_ascii=False)[1:-1].encode("utf-8", "surrogatepass")
            for word in sorted(words, key=len, reverse=True)
        ]

        def is_met(row: bytes) -> bool:
            # A word may have met half of an escaped character.
            text = decode_document(row)[self._name]
            return all(word in text for word in words)

        if self._joined is None or self._joined.version != sealed.version(name):
            # What was joined once is quicker than a list, joining again is not.
            found = sealed.with_words(name, wanted, is_met, limit)
            if found is not None:
                return found
        return list(islice(filter(is_met, self._holding(wanted)), limit))

    def _holding(self, wanted: list[bytes]) -> Iterator[bytes]:
        joined = self._join()
        at = joined.whole.find(wanted[0])
        while at >= 0:
            line = bisect_right(joined.starts, at) - 1
            if all(word in joined.texts[line] for word in wanted):
                yield joined.rows[line]
            at = joined.whole.find(wanted[0], joined.starts[line + 1])

    def _join(self) -> _Joined:
        version = self._table.sealed.version(self._table.name)
        joined = self._joined
        if joined is None or version is None or joined.version != version:
            entries = self._table.sealed.entries(self._table.name)
            rows = tuple(map(row_bytes, entries.values()))
            start, end = self._start, self._end
            texts = tuple([row[start : row.index(end)] for row in rows])
            starts = accumulate(map(len, texts), lambda at, n: at + n + 1, initial=0)
            joined = _Joined(version, rows, texts, b"\n".join(texts), tuple(starts))
            self._joined = joined
        return joined


def searchable(value: object) -> str:
    """Give the words in a value and all it holds, and once more without spaces."""
    words = " ".join(_texts(value)).casefold().split()
    return " ".join([*words, "".join(words)])


def _texts(value: object) -> list[str]:
    if isinstance(value, str):
        return [value]
    if isinstance(value, Mapping):
        return _texts(list(value.values()))
    if isinstance(value, list | tuple):
        return [text for inner in value for text in _texts(inner)]
    return []


class Animals:
    """The animals this device knows, by ``animal_id``."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of animals."""
        self._table = tables.open_table("animals", body_fields=())
        self._finder = RowFinder(self._table, "find", "animal")
        # Nobody can change what is given, so that a row is read once for all lists.
        self._read = lru_cache(MOST_READ)(read_animal)
        # Ids by what may tell that two are one; grows only, made when first asked.
        self._marked: _Marked | None = None

    def put(self, animal: Mapping[str, Any]) -> None:
        """Keep an animal under its own ``animal_id``."""
        animal_id = required_id(animal, "animal_id")
        found = searchable([animal.get(field) for field in _SEARCHED])
        self._table.put(animal_id, {"find": found, "animal": dict(animal)})
        if self._marked is not None:
            _mark(self._marked, animal)

    def get(self, animal_id: str) -> Document | None:
        """Give the whole animal in plain form, its owner beside it, or None."""
        kept = self._table.fetch(animal_id)
        return None if kept is None else kept["animal"]

    def remove(self, animal_id: str) -> None:
        """Drop an animal that nothing else names, with its owner."""
        self._table.discard(animal_id)

    def alike(self, animal: Mapping[str, Any]) -> tuple[str, ...]:
        """Give the ids of animals with the chip of this one, or its name and owner.

        Case and spaces do not count. Any number of animals is searched at once; they
        are read when this is asked for the first time.
        """
        marks = _marks(animal)
        listed = self._table.sealed.holding(self._table.name, mark_texts(animal))
        found = self._with_marks(marks) if listed is None else listed
        # What an animal was once marked by it may have lost since.
        return tuple(
            animal_id
            for animal_id in dict.fromkeys(found)
            if not marks.keys().isdisjoint(_marks(self.get(animal_id) or {}))
        )

    def expect_alike(self, animals: Iterable[Mapping[str, Any]]) -> None:
        """Take note that ``alike`` is asked for each of these next."""
        marks = (mark for animal in animals for mark in mark_texts(animal))
        self._table.sealed.expect_marks(self._table.name, marks)

    def _with_marks(self, marks: Iterable[int]) -> list[str]:
        if self._marked is None:
            self._marked = {}
            for _, row in self._table.rows():
                _mark(self._marked, row["animal"])
        return [one for mark in marks for one in self._marked.get(mark, ())]

    def shown(self, animal_id: str) -> KnownAnimal | None:
        """Give what lists show of one animal, or None."""
        entry = self._table.sealed.entry(self._table.name, animal_id)
        return None if entry is None else self._read(row_bytes(entry))

    def all(self) -> list[KnownAnimal]:
        """Give what lists show of every animal, in the order they were first put."""
        return self.search("")

    def search(self, text: str, limit: int | None = None) -> list[KnownAnimal]:
        """Find animals by name, tag, chip number, owner's name or place.

        Args:
            text: Words in any order and case; each must occur. A chip number may be
                typed with or without spaces. Empty finds every animal.
            limit: At most so many, the first ones put.
        """
        most = sys.maxsize if limit is None else limit
        found = self._finder.find(text.casefold().split(), most)
        return [self._read(row) for row in found]


def _mark(marked: _Marked, animal: Mapping[str, Any]) -> None:
    animal_id = str(animal["animal_id"])
    for mark in _marks(animal):
        known = marked.setdefault(mark, (animal_id,))
        if animal_id in known:
            continue
        # Nearly every mark is of one animal, for which a dict is large.
        if isinstance(known, dict):
            known[animal_id] = None
        else:
            marked[mark] = dict.fromkeys((*known, animal_id))


def _marks(animal: Mapping[str, Any]) -> dict[int, None]:
    """Return the hashes of chip, and of name with owner; they are compared anyway."""
    return {hash(mark): None for mark in _marked_by(animal)}


def mark_texts(animal: Mapping[str, Any]) -> list[str]:
    """Return chip, and name with owner, without case and spaces, each as one text."""
    return [
        mark if isinstance(mark, str) else "\n".join(mark)
        for mark in _marked_by(animal)
    ]


def _marked_by(animal: Mapping[str, Any]) -> list[str | tuple[str, str]]:
    owner = animal.get("owner") or {}
    chip, name, owned_by = (
        "".join(str(said or "").casefold().split())
        for said in (animal.get("chip"), animal.get("name"), owner.get("name"))
    )
    both = (name, owned_by) if name and owned_by else ()
    return [mark for mark in (chip, both) if mark]
