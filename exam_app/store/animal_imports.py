"""What a bundle says of animals, merged into those kept here.

An animal in the bundle's own list is as its device has it now; without one, the
animal stands as it was signed in its newest record. What a device sent earlier than
what is known of it changes nothing.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from exam_app.domain.animal.signalment import Animal, Owner
from exam_app.record.draft_codec import animal_to_plain, owner_to_plain
from exam_app.store.identity import CHIP, OWNER, Clash, flat, marks_of, merge
from exam_app.store.identity_repositories import IdentityQuestions, join_key
from exam_app.store.repositories import Animals

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


@dataclass(frozen=True, slots=True)
class AnimalChanges:
    """What is to be kept of animals.

    Attributes:
        animals: Changed or new ones, whole.
        clashes: Animal id and clash.
        versions: Flat fields as the device has them, by animal id.
        joins: Two animal ids and why they may be one animal: what is asked now.
        aside: The same, of what is asked later.
        uncompared: How many animals were compared with nothing.
    """

    animals: tuple[Plain, ...]
    clashes: tuple[tuple[str, Clash], ...]
    versions: Mapping[str, Plain]
    joins: tuple[Pair, ...]
    aside: tuple[Pair, ...] = ()
    uncompared: int = 0


def animal_changes(
    animals: Animals,
    identity: IdentityQuestions,
    signed: Sequence[tuple[Animal, tuple[bytes, Owner] | None]],
    listed: Sequence[Plain],
    device_id: str,
    sequence: int,
) -> AnimalChanges:
    """Return what a bundle changes, without changing anything.

    Args:
        animals: Kept here.
        identity: Versions of them that the device had.
        signed: The animal of each record, oldest first, with its owner.
        listed: The bundle's own list.
        device_id: Of the sender.
        sequence: Of the bundle.
    """
    theirs = {a.animal_id: _plain(a, owner) for a, owner in signed}
    for animal in listed:
        theirs[animal["animal_id"]] = dict(animal)
    changed: list[Plain] = []
    clashes: list[tuple[str, Clash]] = []
    versions: dict[str, Plain] = {}
    for animal_id, their in theirs.items():
        seen = identity.version(animal_id, f"seen:{device_id}")
        if seen is not None and seen["sequence"] > sequence:
            continue
        sent = identity.version(animal_id, f"sent:{device_id}")
        known = tuple(version["values"] for version in (seen, sent) if version)
        ours = animals.get(animal_id) or {}
        merged = merge(ours, their, known)
        versions[animal_id] = flat(their)
        clashes += [(animal_id, clash) for clash in merged.clashes]
        if merged.animal != ours:
            changed.append(merged.animal)
    pairs, uncompared = _joins(animals, identity, changed)
    room = min(MOST_ASKED, max(0, MOST_OPEN - len(identity.joins())))
    return AnimalChanges(
        tuple(changed),
        tuple(clashes),
        versions,
        pairs[:room],
        pairs[room:],
        uncompared,
    )


def keep_animals(
    animals: Animals,
    identity: IdentityQuestions,
    changes: AnimalChanges,
    device_id: str,
    sequence: int,
    when_ms: int,
) -> None:
    """Keep what ``animal_changes`` gave, inside the caller's transaction."""
    for animal in changes.animals:
        animals.put(animal)
    for animal_id, values in changes.versions.items():
        identity.put_version(animal_id, f"seen:{device_id}", values, sequence)
    for animal_id, clash in changes.clashes:
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
    for first, second, reason in changes.joins:
        proposal = {"first": first, "second": second, "reason": reason}
        identity.propose_join({**proposal, "when_ms": when_ms})
    if changes.aside:
        identity.set_joins_aside(
            f"{device_id}:{sequence}",
            changes.aside,
            {
                "device_id": device_id,
                "sequence": sequence,
                "uncompared": changes.uncompared,
                "when_ms": when_ms,
            },
        )


def _plain(animal: Animal, owner: tuple[bytes, Owner] | None) -> dict[str, Any]:
    plain = animal_to_plain(animal)
    return {**plain, OWNER: owner_to_plain(owner[1])} if owner else plain


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
    return found + (animals.search(" ".join(names)) if all(names) else [])
