"""What a bundle says of animals, and the questions that only a person answers.

A clash: two sides changed the same field of an animal; the clinic's value stands
until a person chooses. A join: two animals may be the same; nothing is merged, a
decision links them and can be changed again. An animal in a bundle's own list is as
its device has it now; without one, the animal stands as it was signed in its newest
record. What a device sent earlier than what is known of it changes nothing.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from exam_app.domain.animal.signalment import Animal, Owner
from exam_app.exchange.merge import CHIP, OPEN, OWNER, Clash, flat, marks_of, merge
from exam_app.language.catalogue import tr
from exam_app.record.plain_form import to_plain
from exam_app.store.engine.documents import Document, read_row, stored_row
from exam_app.store.engine.tables import SealedTables
from exam_app.store.repositories.animals import Animals

TAKE_THEIRS = "take theirs"
SAME = "same"
DIFFERENT = "different"
ERASED = "erased"


@dataclass(frozen=True, slots=True)
class Join:
    """Two animals that may be the same.

    Attributes:
        key: As ``join_key``.
        first, second: Their ids.
        reason: ``chip`` or ``owner and name``.
        when_ms: When it was proposed, UTC milliseconds.
        state: ``open``, ``same`` or ``different``.
    """

    key: str
    first: str
    second: str
    reason: str
    when_ms: int
    state: str = OPEN
    decided_by: str | None = None
    decided_ms: int | None = None


@dataclass(frozen=True, slots=True)
class JoinsAside:
    """Pairs of one bundle that are not asked yet.

    Attributes:
        key: Names the bundle.
        count: Of the pairs.
        uncompared: How many of its animals were compared with nothing.
    """

    key: str
    device_id: str
    sequence: int
    count: int
    uncompared: int
    when_ms: int


@dataclass(frozen=True, slots=True)
class AnimalVersion:
    """An animal's fields as one side last had them, as ``merge.flat`` gives them.

    Attributes:
        sequence: Of the bundle that carried them.
    """

    values: Mapping[str, Any]
    sequence: int


class IdentityQuestions:
    """Clashes, proposed joins, and each animal as each device last had it."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the tables of clashes, joins and known versions."""
        self._clashes = tables.open_table("clashes", body_fields=())
        self._joins = tables.open_table("joins", body_fields=())
        self._versions = tables.open_table("animal_versions")
        self._aside = tables.open_table("joins_aside", body_fields=("pairs",))
        self._transaction = self._aside.sealed.transaction

    def put_clash(self, clash: Clash) -> None:
        """Keep a clash; one that was decided alike stays decided."""
        kept = self.clash(clash.key)
        both = (clash.ours, clash.theirs)
        if kept is None or (kept.ours, kept.theirs) != both:
            self._keep_clash(clash)

    def _keep_clash(self, clash: Clash) -> None:
        both = {"ours": clash.ours, "theirs": clash.theirs}
        self._clashes.put(clash.key, {**stored_row(clash), **both})

    def clash(self, key: str) -> Clash | None:
        """Give one clash, or None."""
        kept = self._clashes.fetch(key)
        return None if kept is None else _clash(kept)

    def clashes(self) -> list[Clash]:
        """Give the clashes that wait for a person, oldest first."""
        return [one for one in self.all_clashes() if one.state == OPEN]

    def all_clashes(self) -> list[Clash]:
        """Give every clash with its decision, oldest first."""
        return [_clash(row) for _, row in self._clashes.rows()]

    def mark_clash(self, key: str, choice: str, by: str, when_ms: int) -> None:
        """Keep who chose; ``Exchange.decide_clash`` also changes the animal."""
        kept = self.clash(key)
        if kept is not None:
            decided = replace(kept, state=choice, decided_by=by, decided_ms=when_ms)
            self._keep_clash(decided)

    def propose_join(self, first: str, second: str, reason: str, when_ms: int) -> None:
        """Keep that two animals may be the same; a known pair stays as it is.

        Args:
            reason: ``chip`` or ``owner and name``.
            when_ms: UTC milliseconds.
        """
        key = join_key(first, second)
        if not self.knows_join(key):
            join = Join(key, first, second, reason, when_ms)
            self._joins.put(key, stored_row(join))

    def knows_join(self, key: str) -> bool:
        """Whether a pair was proposed, decided or not."""
        return self._joins.fetch(key) is not None

    def set_joins_aside(
        self, aside: JoinsAside, pairs: Sequence[tuple[str, str, str]]
    ) -> None:
        """Keep pairs of one bundle, two animal ids and the reason each."""
        row = {**stored_row(aside), "pairs": [list(pair) for pair in pairs]}
        del row["key"]
        self._aside.put(aside.key, row)

    def joins_aside(self) -> list[JoinsAside]:
        """Give what is set aside of each bundle, oldest first."""
        rows = self._aside.rows()
        return [read_row(JoinsAside, row, key=key) for key, row in rows]

    def ask_joins(self, key: str, most: int, when_ms: int) -> None:
        """Ask the next pairs of a bundle that were set aside, in one save."""
        kept = self._aside.fetch(key)
        if kept is None:
            return
        now, later = kept["pairs"][:most], kept["pairs"][most:]
        with self._transaction():
            for first, second, reason in now:
                self.propose_join(first, second, reason, when_ms)
            if later:
                self._aside.put(key, {**kept, "count": len(later), "pairs": later})
            else:
                self._aside.discard(key)

    def joins(self) -> list[Join]:
        """Give the joins that wait for a person, oldest first."""
        return [one for one in self.all_joins() if one.state == OPEN]

    def all_joins(self) -> list[Join]:
        """Give every proposed join with its decision, oldest first."""
        return [read_row(Join, row) for _, row in self._joins.rows()]

    def decide_join(self, key: str, decision: str, by: str, when_ms: int) -> None:
        """Keep ``same``, ``different`` or, to take it back, ``open``."""
        kept = self._joins.fetch(key)
        if kept is not None:
            decided = {"state": decision, "decided_by": by, "decided_ms": when_ms}
            self._joins.put(key, {**kept, **decided})

    def same_as(self, animal_id: str) -> tuple[str, ...]:
        """Give the ids of all animals that are this one, itself first."""
        joins = self.all_joins()
        pairs = [(one.first, one.second) for one in joins if one.state == SAME]
        found = [animal_id]
        for known in found:
            for pair in pairs:
                if known in pair:
                    found += [other for other in pair if other not in found]
        return tuple(found)

    def put_version(
        self, animal_id: str, side: str, values: Mapping[str, Any], sequence: int
    ) -> None:
        """Keep an animal's fields as one side last had them.

        Args:
            side: ``seen:DEVICE`` as the device sent it, ``sent:DEVICE`` as it was
                sent to it; on a field device ``clinic``.
            values: Field to value, as ``identity.flat`` gives them.
            sequence: Of the bundle that carried them.
        """
        version = {"values": dict(values), "sequence": sequence}
        self._versions.put(f"{animal_id}:{side}", version)

    def forget_owner(self, animal_id: str) -> None:
        """Drop what versions and clashes of an animal say of its owner, in one save.

        That there was a clash, and who decided it, stays.
        """
        of_owner = f"{OWNER}."
        with self._versions.sealed.transaction():
            for key, _ in self._versions.rows():
                if key.startswith(f"{animal_id}:"):
                    kept: Document = self._versions.fetch(key) or {}
                    values = dict(kept.get("values") or {})
                    rest = {k: v for k, v in values.items() if k.startswith(of_owner)}
                    if rest:
                        values = {k: v for k, v in values.items() if k not in rest}
                        self._versions.put(key, {**kept, "values": values})
            for clash in self.all_clashes():
                if clash.animal_id == animal_id and clash.field.startswith(of_owner):
                    state = ERASED if clash.state == OPEN else clash.state
                    gone = replace(clash, ours=None, theirs=None, state=state)
                    self._keep_clash(gone)

    def version(self, animal_id: str, side: str) -> AnimalVersion | None:
        """Give the fields as a side had them, or None when nothing was exchanged."""
        kept = self._versions.fetch(f"{animal_id}:{side}")
        return None if kept is None else read_row(AnimalVersion, kept)


def _clash(row: Document) -> Clash:
    return read_row(Clash, row, ours=row.get("ours"), theirs=row.get("theirs"))


def join_key(first: str, second: str) -> str:
    """Name a pair of animals, whichever comes first."""
    return ":".join(sorted((first, second)))


Plain = Mapping[str, Any]
# A name that half a shelter bears is no question for a person.
MOST_PROPOSED = 5
# Nobody answers thousands of questions: what one bundle asks at once, what may be open
# in all, what of a bundle is kept to be asked later, and how many of its animals are
# compared at all. More than any honest day.
MOST_ASKED = 20
MOST_OPEN = 200
MOST_ASIDE = 2_000
MOST_COMPARED = 2_000
Pair = tuple[str, str, str]


def keep_animals(
    animals: Animals,
    identity: IdentityQuestions,
    signed: Sequence[tuple[Animal, tuple[bytes, Owner] | None]],
    listed: Sequence[Plain],
    device_id: str,
    sequence: int,
    when_ms: int,
) -> tuple[int, int]:
    """Keep what a bundle says of animals, inside the caller's transaction.

    Args:
        signed: The animal of each record, oldest first, with its owner.
        listed: The bundle's own list.
        when_ms: UTC milliseconds.

    Returns:
        How many pairs that may be one animal are to be asked later, and how many
        animals were compared with nothing.
    """
    theirs = {a.animal_id: _plain(a, owner) for a, owner in signed}
    theirs |= {animal["animal_id"]: dict(animal) for animal in listed}
    changed: list[Plain] = []
    for animal_id, their in theirs.items():
        seen = identity.version(animal_id, f"seen:{device_id}")
        if seen is not None and seen.sequence > sequence:
            continue
        sent = identity.version(animal_id, f"sent:{device_id}")
        known = tuple(version.values for version in (seen, sent) if version)
        ours = animals.get(animal_id) or {}
        merged = merge(ours, their, known)
        if merged.animal != ours:
            changed.append(merged.animal)
        identity.put_version(animal_id, f"seen:{device_id}", flat(their), sequence)
        for clash in merged.clashes:
            key = f"{animal_id}:{clash.field}:{device_id}"
            named = replace(clash, key=key, animal_id=animal_id, device_id=device_id)
            identity.put_clash(replace(named, when_ms=when_ms))
    # Compared with each other and with what is kept: so before they are kept.
    pairs, uncompared = _joins(animals, identity, changed)
    for animal in changed:
        animals.put(animal)
    room = min(MOST_ASKED, max(0, MOST_OPEN - len(identity.joins())))
    for pair in pairs[:room]:
        identity.propose_join(*pair, when_ms)
    later = pairs[room:]
    if later:
        key, count = f"{device_id}:{sequence}", len(later)
        aside = JoinsAside(key, device_id, sequence, count, uncompared, when_ms)
        identity.set_joins_aside(aside, later)
    return len(later), uncompared


def _plain(animal: Animal, owner: tuple[bytes, Owner] | None) -> dict[str, Any]:
    plain = to_plain(animal)
    return {**plain, OWNER: to_plain(owner[1])} if owner else plain


def _joins(
    animals: Animals, identity: IdentityQuestions, changed: Sequence[Plain]
) -> tuple[tuple[Pair, ...], int]:
    """Return pairs that may be one, chips first, and how many were not compared."""
    found: dict[str, Pair] = {}
    marked: dict[tuple[str, ...], list[str]] = {}
    compared = 0
    animals.expect_alike(changed[:MOST_COMPARED])
    for animal in changed[:MOST_COMPARED]:
        if len(found) >= MOST_ASKED + MOST_ASIDE:
            break
        compared += 1
        animal_id = animal["animal_id"]
        kept = {one: marks_of(animals.get(one) or {}) for one in animals.alike(animal)}
        for mark, reason in marks_of(animal).items():
            others = [key for key, marks in kept.items() if mark in marks]
            alike = (*others, *marked.get(mark, ()))
            for other in alike[-MOST_PROPOSED:]:
                pair, key = (other, animal_id, reason), join_key(other, animal_id)
                if other != animal_id and not identity.knows_join(key):
                    found.setdefault(key, pair)
            marked.setdefault(mark, []).append(animal_id)
    pairs = sorted(found.values(), key=lambda pair: pair[2] != CHIP)
    return tuple(pairs[: MOST_ASKED + MOST_ASIDE]), len(changed) - compared


def aside_words(pairs: int, uncompared: int) -> str:
    """Say what of "the same animal?" was not asked; empty when all was."""
    parts = (
        tr("{count} pairs of animals that may be the same set aside", count=pairs)
        if pairs
        else "",
        tr("{count} animals compared with nothing", count=uncompared)
        if uncompared
        else "",
    )
    return ", ".join(part for part in parts if part)
