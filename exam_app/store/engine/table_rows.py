"""One table in memory: what the index of the journal held, and what changed since.

What the index held stays in its chunks, each read once when it is first asked for.
Changes lie over it, so that no change needs a chunk. Where a file of lists was kept
for this index, it says in which chunk to look; without it all chunks are read.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from itertools import accumulate, islice
from itertools import count as counting

from exam_app.store.engine.format import (
    MOVE,
    NEW,
    PUT,
    REMOVE,
    Entry,
    Line,
    number_after,
)
from exam_app.store.engine.kept_lists import FEWEST_LISTED, Found, TableLists
from exam_app.store.errors import VaultAlteredError, VaultTooNewError

Chunk = Callable[[], dict[str, Entry]]
_VERSIONS = counting(1)


class TableRows:
    """One table.

    Attributes:
        next_number: Higher than every number ever used as an id here.
        version: Grows with every change, and no two states share one.
        lists: Say where in the index something stands; None without a file of them.
    """

    __slots__ = (
        "_added",
        "_chunks",
        "_gone",
        "_read",
        "_replaced",
        "_starts",
        "lists",
        "next_number",
        "version",
    )

    def __init__(
        self,
        entries: dict[str, Entry] | None = None,
        next_number: int = 1,
        chunks: Sequence[Chunk] = (),
        sizes: Sequence[int] = (),
    ) -> None:
        """Take entries, or the chunks of an index that hold them.

        Args:
            sizes: How many documents each chunk holds.
        """
        self._chunks = chunks
        self._read: list[dict[str, Entry] | None] = [None] * len(chunks)
        self._starts = [*accumulate(sizes, initial=0)]
        self._replaced: dict[str, Entry] = {}
        self._gone: set[str] = set()
        self._added = entries or {}
        self.next_number = next_number
        self.version = next(_VERSIONS)
        self.lists: TableLists | None = None

    @property
    def entries(self) -> dict[str, Entry]:
        """Document id to row (JSON or empty) and place of its body, in order.

        The place is offset, length and tag, or empty where there is no body. A copy,
        where a part stands in chunks.

        Raises:
            VaultAlteredError: A chunk of the index does not authenticate.
        """
        if not self._chunks:
            return self._added
        entries: dict[str, Entry] = {}
        for number in range(len(self._chunks)):
            entries.update(self._chunk(number))
        for key in self._gone:
            entries.pop(key, None)
        entries.update(self._replaced)
        entries.update(self._added)
        return entries

    def is_large(self) -> bool:
        """Whether lists of what the index held are of use."""
        return self._starts[-1] >= FEWEST_LISTED

    def from_index(self) -> dict[str, Entry]:
        """Give what the index held, in order, whatever changed since."""
        self.read_all()
        return {key: e for chunk in self._read if chunk for key, e in chunk.items()}

    def read_all(self) -> None:
        """Read every chunk now."""
        for read in self.readers():
            read()

    def readers(self) -> Iterator[Callable[[], object]]:
        """Give what reads each chunk, for whoever takes turns in between."""
        return (partial(self._chunk, number) for number in range(len(self._chunks)))

    def let_go(self) -> None:
        """Forget everything, a row at a time: all at once would hold the page.

        For whoever made these rows and has nobody else reading them.
        """
        while self._read:
            self._read.pop()
        for rows in (self._replaced, self._added):
            while rows:
                rows.popitem()
        self._chunks = ()

    def keep_readable(self) -> bool:
        """Read the chunks that open and forget the others.

        Returns:
            Whether all of them opened.
        """
        is_whole = True
        entries: dict[str, Entry] = {}
        for number in range(len(self._chunks)):
            try:
                entries.update(self._chunk(number))
            except VaultAlteredError:
                is_whole = False
        self._chunks, self._read, self._added = (), [], entries
        return is_whole

    def change(self, line: Line, entry: Entry) -> None:
        """Do one change of a document.

        Raises:
            VaultTooNewError: This version does not know the verb.
        """
        key, verb = line.document_id, line.verb
        if verb not in (NEW, PUT, MOVE, REMOVE):
            raise VaultTooNewError("a change that this version does not know")
        self.version = next(_VERSIONS)
        if key.isdecimal():
            self.next_number = max(self.next_number, number_after(key))
        added = self._added
        if verb == PUT and key not in added and self._chunks and key not in self._gone:
            self._replaced[key] = entry
            return
        if verb in (MOVE, REMOVE):
            added.pop(key, None)
            if self._chunks:
                self._replaced.pop(key, None)
                self._gone.add(key)
        if verb != REMOVE:
            added[key] = entry

    def get(self, document_id: str) -> Entry | None:
        """Give the entry of one document, or None.

        Raises:
            VaultAlteredError: A chunk of the index does not authenticate.
        """
        entry = self._added.get(document_id) or self._replaced.get(document_id)
        if entry is not None or not self._chunks or document_id in self._gone:
            return entry
        return self._indexed(document_id)

    def count(self) -> int:
        """Give how many documents there are."""
        gone = sum(self._indexed(key) is not None for key in self._gone)
        return self._starts[-1] - gone + len(self._added)

    def newest(self, count: int) -> list[Entry]:
        """Give the entries put last, newest first, at most ``count``."""
        return list(islice(self._backwards(), max(count, 0)))

    def with_field(self, name: str, fragment: bytes) -> Found | None:
        """Give the documents whose row may hold a field so, in order.

        Args:
            name: Of the field.
            fragment: Field and value as they stand in JSON.

        Returns:
            None where no list of this field was kept.
        """
        return self._at(
            lambda lists: lists.by(name, fragment), lambda row: fragment in row
        )

    def with_words(self, words: Sequence[bytes]) -> Found | None:
        """Give the documents whose listed text may hold all of ``words``, in order.

        Returns:
            None where no list of texts was kept; it is read as far as it is used.
        """
        return self._at(
            lambda lists: lists.texts(words),
            lambda row: all(word in row for word in words),
        )

    def picked(self) -> Found | None:
        """Give the documents that a list picked, and all that changed since."""
        return self._at(lambda lists: lists.picked(), lambda _row: True)

    def changed(self) -> tuple[set[str], dict[str, Entry]]:
        """Give the ids that are gone since the index, and what was put since."""
        return self._gone - set(self._added), {**self._replaced, **self._added}

    def _at(
        self,
        look: Callable[[TableLists], Iterable[int] | None],
        is_met: Callable[[bytes], bool],
    ) -> Found | None:
        """Give what stands at places of the index, with what changed since."""
        if not self._chunks:
            return ((k, e) for k, e in self._added.items() if is_met(e[0]))
        places = look(self.lists) if self.lists else None
        if places is None:
            return None
        over = []
        for key, entry in self._replaced.items():
            if is_met(entry[0]):
                place = self._place(key)
                if place is None:
                    return None
                over.append((place, key, entry))
        return self._merged(places, sorted(over), is_met)

    def _merged(
        self,
        places: Iterable[int],
        over: list[tuple[int, str, Entry]],
        is_met: Callable[[bytes], bool],
    ) -> Found:
        at = 0
        for place in places:
            while at < len(over) and over[at][0] < place:
                yield over[at][1:]
                at += 1
            key, entry = self._item(place)
            if key not in self._gone and key not in self._replaced:
                yield key, entry
        yield from (one[1:] for one in over[at:])
        yield from ((k, e) for k, e in self._added.items() if is_met(e[0]))

    def _indexed(self, document_id: str) -> Entry | None:
        places = self.lists.ids(document_id) if self.lists else None
        if places is None:
            numbers: Iterable[int] = range(len(self._chunks))
        else:
            numbers = [self._number(place) for place in places]
        for number in numbers:
            entry = self._chunk(number).get(document_id)
            if entry is not None:
                return entry
        return None

    def _place(self, document_id: str) -> int | None:
        places = self.lists.ids(document_id) if self.lists else None
        for place in places or ():
            if self._item(place)[0] == document_id:
                return place
        return None

    def _item(self, place: int) -> tuple[str, Entry]:
        number = self._number(place)
        items = self._chunk(number).items()
        return next(islice(items, place - self._starts[number], None))

    def _number(self, place: int) -> int:
        return bisect_right(self._starts, place) - 1

    def _chunk(self, number: int) -> dict[str, Entry]:
        chunk = self._read[number]
        if chunk is None:
            chunk = self._read[number] = self._chunks[number]()
        return chunk

    def _backwards(self) -> Iterator[Entry]:
        yield from reversed(self._added.values())
        for number in reversed(range(len(self._chunks))):
            for key, entry in reversed(self._chunk(number).items()):
                if key not in self._gone:
                    yield self._replaced.get(key, entry)
