"""What a bundle says of animals, and the questions that only a person answers.

A clash: two sides changed the same field of an animal; the clinic's value stands
until a person chooses. A join: two animals may be the same; nothing is merged, a
decision links them and can be changed again. An animal in a bundle's own list is as
its device has it now; without one, the animal stands as it was signed in its newest
record. What a device sent earlier than what is known of it changes nothing.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from exam_app.domain.animal.signalment import Animal, Owner
from exam_app.exchange.merge import CHIP, OWNER, flat, marks_of, merge
from exam_app.record.plain_form import to_plain
from exam_app.store.engine.documents import Document
from exam_app.store.engine.tables import SealedTables, required_id
from exam_app.store.repositories.animals import Animals

OPEN = "open"
TAKE_THEIRS = "take theirs"
SAME = "same"
DIFFERENT = "different"
ERASED = "erased"


class IdentityQuestions:
    """Clashes, proposed joins, and each animal as each device last had it."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the tables of clashes, joins and known versions."""
        self._clashes = tables.open_table("clashes", body_fields=())
        self._joins = tables.open_table("joins", body_fields=())
        self._versions = tables.open_table("animal_versions")
        self._aside = tables.open_table("joins_aside", body_fields=("pairs",))
        self._transaction = self._aside.sealed.transaction

    def put_clash(self, clash: Mapping[str, Any]) -> None:
        """Keep a clash under its ``key``; one that was decided alike stays decided.

        Args:
            clash: ``key``, ``animal_id``, ``field``, ``ours``, ``theirs``,
                ``device_id``, ``when_ms``.
        """
        key = required_id(clash, "key")
        kept = self._clashes.fetch(key)
        is_known = kept is not None and all(
            kept.get(name) == clash.get(name) for name in ("ours", "theirs")
        )
        if not is_known:
            self._clashes.put(key, {**clash, "state": OPEN})

    def clash(self, key: str) -> Document | None:
        """Give one clash, or None."""
        return self._clashes.fetch(key)

    def clashes(self) -> list[Document]:
        """Give the clashes that wait for a person, oldest first."""
        return [row for row in self.all_clashes() if row["state"] == OPEN]

    def all_clashes(self) -> list[Document]:
        """Give every clash with its decision, oldest first."""
        return [row for _, row in self._clashes.rows()]

    def mark_clash(self, key: str, choice: str, by: str, when_ms: int) -> None:
        """Keep who chose; ``Exchange.decide_clash`` also changes the animal."""
        kept = self._clashes.fetch(key)
        if kept is not None:
            decided = {"state": choice, "decided_by": by, "decided_ms": when_ms}
            self._clashes.put(key, {**kept, **decided})

    def propose_join(self, first: str, second: str, reason: str, when_ms: int) -> None:
        """Keep that two animals may be the same; a known pair stays as it is.

        Args:
            reason: ``chip`` or ``owner and name``.
            when_ms: UTC milliseconds.
        """
        key = join_key(first, second)
        if not self.knows_join(key):
            pair = {"first": first, "second": second, "reason": reason}
            self._joins.put(
                key, {**pair, "when_ms": when_ms, "key": key, "state": OPEN}
            )

    def knows_join(self, key: str) -> bool:
        """Whether a pair was proposed, decided or not."""
        return self._joins.fetch(key) is not None

    def set_joins_aside(
        self, key: str, pairs: Sequence[tuple[str, str, str]], entry: Mapping[str, Any]
    ) -> None:
        """Keep pairs of one bundle that are not asked yet.

        Args:
            key: Names the bundle.
            pairs: Two animal ids and the reason, each.
            entry: ``device_id``, ``sequence``, ``uncompared``, ``when_ms``.
        """
        kept = [list(pair) for pair in pairs]
        self._aside.put(key, {**entry, "count": len(kept), "pairs": kept})

    def joins_aside(self) -> list[tuple[str, Document]]:
        """Give what is set aside of each bundle, by its key, without the pairs."""
        return self._aside.rows()

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

    def joins(self) -> list[Document]:
        """Give the joins that wait for a person, oldest first."""
        return [row for row in self.all_joins() if row["state"] == OPEN]

    def all_joins(self) -> list[Document]:
        """Give every proposed join with its decision, oldest first."""
        return [row for _, row in self._joins.rows()]

    def decide_join(self, key: str, decision: str, by: str, when_ms: int) -> None:
        """Keep ``same``, ``different`` or, to take it back, ``open``."""
        kept = self._joins.fetch(key)
        if kept is not None:
            decided = {"state": decision, "decided_by": by, "decided_ms": when_ms}
            self._joins.put(key, {**kept, **decided})

    def same_as(self, animal_id: str) -> tuple[str, ...]:
        """Give the ids of all animals that are this one, itself first."""
        pairs = [
            (row["first"], row["second"])
            for row in self.all_joins()
            if row["state"] == SAME
        ]
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
                    kept = self._versions.fetch(key) or {}
                    values = dict(kept.get("values") or {})
                    rest = {k: v for k, v in values.items() if k.startswith(of_owner)}
                    if rest:
                        values = {k: v for k, v in values.items() if k not in rest}
                        self._versions.put(key, {**kept, "values": values})
            for key, clash in self._clashes.rows():
                is_its = clash["animal_id"] == animal_id
                if is_its and str(clash["field"]).startswith(of_owner):
                    is_open = clash["state"] == OPEN
                    state = ERASED if is_open else clash["state"]
                    gone = {"ours": None, "theirs": None, "state": state}
                    self._clashes.put(key, {**clash, **gone})

    def version(self, animal_id: str, side: str) -> Document | None:
        """Give ``values`` and ``sequence``, or None when nothing was exchanged."""
        return self._versions.fetch(f"{animal_id}:{side}")


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
        if seen is not None and seen["sequence"] > sequence:
            continue
        sent = identity.version(animal_id, f"sent:{device_id}")
        known = tuple(version["values"] for version in (seen, sent) if version)
        ours = animals.get(animal_id) or {}
        merged = merge(ours, their, known)
        if merged.animal != ours:
            changed.append(merged.animal)
        identity.put_version(animal_id, f"seen:{device_id}", flat(their), sequence)
        for clash in merged.clashes:
            identity.put_clash(
                {
                    "key": f"{animal_id}:{clash.field}:{device_id}",
                    "animal_id": animal_id,
                    "field": clash.field,
                    "ours": clash.ours,
                    "theirs": clash.theirs,
                    "device_id": device_id,
                    "when_ms": when_ms,
                }
            )
    # Compared with each other and with what is kept: so before they are kept.
    pairs, uncompared = _joins(animals, identity, changed)
    for animal in changed:
        animals.put(animal)
    room = min(MOST_ASKED, max(0, MOST_OPEN - len(identity.joins())))
    for pair in pairs[:room]:
        identity.propose_join(*pair, when_ms)
    later = pairs[room:]
    if later:
        sender = {"device_id": device_id, "sequence": sequence}
        entry = {**sender, "uncompared": uncompared, "when_ms": when_ms}
        identity.set_joins_aside(f"{device_id}:{sequence}", later, entry)
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
    for animal in changed[:MOST_COMPARED]:
        if len(found) >= MOST_ASKED + MOST_ASIDE:
            break
        compared += 1
        animal_id = animal["animal_id"]
        kept = {one["animal_id"]: marks_of(one) for one in _alike(animals, animal)}
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


def _alike(animals: Animals, animal: Plain) -> list[dict[str, Any]]:
    fields = flat(animal)
    chip = str(fields.get("chip") or "")
    names = [str(fields.get(name) or "") for name in ("name", f"{OWNER}.name")]
    found = animals.search(chip) if chip.strip() else []
    found += animals.search(" ".join(names)) if all(names) else []
    return [animals.get(one.animal_id) or {} for one in found]


def aside_words(pairs: int, uncompared: int) -> str:
    """Say what of "the same animal?" was not asked; empty when all was."""
    parts = (
        f"{pairs} pairs of animals that may be the same set aside" if pairs else "",
        f"{uncompared} animals compared with nothing" if uncompared else "",
    )
    return ", ".join(part for part in parts if part)
