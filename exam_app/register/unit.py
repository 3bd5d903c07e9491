"""What one piece of work has looked at, so that its save can say nothing changed since.

A piece of work (an import, an acknowledgement) first reads and decides without any
lock, then saves. The save takes the locks of all that was read or is written, in one
order for everybody, looks whether each document still has the version that was read
and each list the same members, and only then writes; otherwise nothing is written and
the work is done again. So two workers never decide from a state that is gone.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field

from exam_app.crypto import door
from exam_app.register.columns import LARGE, stem
from exam_app.store.engine.format import Entry

# A server has room for some thousands; a save that needs more has the clinic alone.
MOST_LOCKS = 300
_ALL = "all of the clinic"
Place = tuple[str, str]
Members = dict[str, int]


@dataclass(slots=True)
class Unit:
    """What was read in one piece of work.

    Attributes:
        entries: Documents by kind and id, with None for those that are not there.
        versions: Of these, 0 for none.
        lists: By kind and value of the field it is looked up by, the versions of the
            documents by id.
        marks: By mark, the ids of the animals that bear it.
        numbers: By device and number, the ids of bundles.
        whole: By kind, how many documents and the highest version.
        known: As ``whole``, of kinds whose documents nobody asked for yet.
    """

    entries: dict[Place, Entry | None] = field(default_factory=dict)
    versions: dict[Place, int] = field(default_factory=dict)
    lists: dict[Place, Members] = field(default_factory=dict)
    marks: dict[str, frozenset[str]] = field(default_factory=dict)
    numbers: dict[tuple[str, int], frozenset[str]] = field(default_factory=dict)
    whole: dict[str, tuple[int, int]] = field(default_factory=dict)
    known: dict[str, tuple[int, int]] = field(default_factory=dict)

    def forget(self) -> None:
        """Begin anew: what was read was saved, or is looked at again."""
        for one in (self.entries, self.versions, self.lists):
            one.clear()
        self.marks.clear()
        self.numbers.clear()
        self.whole.clear()
        self.known.clear()

    def note(self, place: Place, entry: Entry | None, version: int) -> None:
        """Note a document as it was read."""
        self.entries[place], self.versions[place] = entry, version


@dataclass(frozen=True, slots=True)
class Lock:
    """One lock of a save; shared where it only must not change meanwhile."""

    key: int
    is_shared: bool


def locks_of(
    unit: Unit, written: Iterable[Place], more: Iterable[str], clinic: int
) -> list[Lock]:
    """Give the locks of a save, in the order in which everybody takes them.

    Args:
        unit: What was read.
        written: Kind and id of what is written.
        more: Of what else must not change meanwhile, by name.
        clinic: Others' locks are not concerned.
    """
    written = list(written)
    alone = {stem(document_id) for _, document_id in (*unit.versions, *written)}
    alone |= {value for _, value in unit.lists} | set(more)
    alone |= {f"mark {mark}" for mark in unit.marks}
    alone |= {f"number {device} {number}" for device, number in unit.numbers}
    # Who reads all of a kind shares it with others that do; who writes to it, where
    # it is small, does not. A large kind is written by many and read whole by few.
    kinds = {kind for kind, _ in written}
    alone |= {f"kind {kind}" for kind in kinds if kind not in LARGE}
    alone |= {f"kind {kind}" for kind in unit.whole if kind in LARGE}
    shared = {f"kind {kind}" for kind in {*kinds, *unit.whole}} - alone
    locks = [Lock(_key(clinic, name), is_shared=False) for name in alone]
    locks += [Lock(_key(clinic, name), is_shared=True) for name in shared]
    if len(locks) > MOST_LOCKS:
        return [Lock(_key(clinic, _ALL), is_shared=False)]
    locks.sort(key=lambda lock: (lock.key, lock.is_shared))
    return [Lock(_key(clinic, _ALL), is_shared=True), *locks]


def _key(clinic: int, name: str) -> int:
    digest = door.sha256(f"{clinic}\0{name}".encode("utf-8", "surrogatepass"))
    return int.from_bytes(digest[:8], signed=True)


class Units:
    """The piece of work of each context; other threads' reads are none of it."""

    def __init__(self) -> None:
        """Begin without one."""
        self._now: ContextVar[Unit | None] = ContextVar("unit", default=None)

    @property
    def now(self) -> Unit | None:
        """The piece of work that reads, or None."""
        return self._now.get()

    @contextmanager
    def one(self) -> Iterator[Unit]:
        """Note what is read inside; one inside another belongs to the outer one."""
        unit = self._now.get()
        if unit is not None:
            yield unit
            return
        unit = Unit()
        token = self._now.set(unit)
        try:
            yield unit
        finally:
            self._now.reset(token)
