"""Erase what is kept of an animal's owner, and set it aside where it arrives again.

Signed records stay as they are: they hold a salted hash of the owner block and never
the block. What was typed into a record itself cannot be taken out of its signature.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from exam_app.domain.animal.signalment import Owner
from exam_app.domain.errors import ExamError
from exam_app.exchange.exchange import Erasure, Exchange
from exam_app.exchange.merge import CHANGED_FROM, OWNER
from exam_app.exchange.outgoing import RECEIVED
from exam_app.language.catalogue import to_translate
from exam_app.record.plain_form import from_plain
from exam_app.record.salted_blocks import owner_block, salted_hash
from exam_app.store.vault.vault import Vault

Plain = Mapping[str, Any]

_NAMES = (
    to_translate("name"),
    to_translate("phone"),
    to_translate("address"),
    to_translate("other"),
)
# What people type of the owner into an exam; it is signed when the exam is closed.
_TYPED_IN_EXAMS = ("presented_by", "consent_by")


@dataclass(frozen=True, slots=True)
class OwnerTraces:
    """Where owner details of some animals stand in a store.

    Attributes:
        animal_ids: The animals, as one: a person said that they are the same.
        fields: Which details stand in one of the places.
        animals: How many of the animals carry any.
        blocks: Ids of the owner blocks beside records.
        exam_ids: Closed exams with such a block.
        drafts: Open exams in which the one who brought the animal, or who consented,
            is named.
        forms: Animals for which something is typed of the owner and not saved.
        bundles: Hashes of sealed bundles with such an exam, for whose recipient's
            receipt this device still waits.
    """

    animal_ids: tuple[str, ...]
    fields: tuple[str, ...]
    animals: int
    blocks: tuple[str, ...]
    exam_ids: tuple[str, ...]
    drafts: tuple[str, ...]
    forms: tuple[str, ...]
    bundles: tuple[str, ...]

    @property
    def is_empty(self) -> bool:
        """Whether nothing of an owner is kept."""
        return not (self.fields or self.drafts or self.forms)


def owner_traces(vault: Vault, animal_id: str) -> OwnerTraces:
    """Look where owner details of an animal stand; nothing is changed."""
    ids = Exchange(vault).identity.same_as(animal_id)
    kept = [vault.animals.get(one) or {} for one in ids]
    owners = [animal[OWNER] for animal in kept if _names_somebody(animal.get(OWNER))]
    # Revised records too: each may have had an owner block of its own.
    rows = [row for one in ids for row in vault.closed.every_of(one)]
    exams = {row.exam_id for row in rows}
    blocks = [block for exam_id in sorted(exams) for block in vault.owners.of(exam_id)]
    fields = [*owners, *(block for _, _, block in blocks)]
    drafts = [
        row.exam_id
        for row in vault.drafts.every()
        if row.animal_id in ids and _typed(vault.drafts.get(row.exam_id) or {})
    ]
    return OwnerTraces(
        ids,
        tuple(name for name in _NAMES if any(one.get(name) for one in fields)),
        len(owners),
        tuple(key for key, _, _ in blocks),
        tuple(sorted({key.partition(":")[0] for key, _, _ in blocks})),
        tuple(drafts),
        tuple(one for one in ids if _is_typed_of_owner(vault, one)),
        tuple(
            one.bundle_hash
            for one in Exchange(vault).outgoing.all()
            if exams & set(one.exam_ids) and one.state != RECEIVED and not one.withdrawn
        ),
    )


def erase_traces(vault: Vault, traces: OwnerTraces, erasure: Erasure) -> None:
    """Erase them, and mark their hashes, in one save; the files still hold the past.

    Args:
        vault: Open; it is written anew by ``rewrite`` afterwards.
        traces: From ``owner_traces``, with the exchange's turn held since.
        erasure: For the log.
    """
    hashes = [one for block in traces.blocks if (one := _hash(vault, block))]
    with vault.transaction():
        for animal_id in traces.animal_ids:
            animal = vault.animals.get(animal_id)
            if animal is not None:
                vault.animals.put({k: v for k, v in animal.items() if k != OWNER})
            Exchange(vault).identity.forget_owner(animal_id)
            vault.typed.remove_place(f"animal/{animal_id}")
        for exam_id in traces.exam_ids:
            vault.owners.drop(exam_id)
        for exam_id in traces.drafts:
            vault.drafts.change(exam_id, _without_typed)
            vault.typed.remove_words(exam_id, _TYPED_IN_EXAMS)
        for bundle_hash in traces.bundles:
            Exchange(vault).outgoing.withdraw(bundle_hash)
        Exchange(vault).erasures.keep(erasure, hashes)


def without_erased(
    exchange: Exchange, animals: Iterable[Plain], renewed: Iterable[str]
) -> tuple[list[Plain], set[str]]:
    """Take erased owner details out of animals that arrive.

    What arrives beside no record has neither hash nor date. It is set aside while the
    animal has no owner here, since nothing tells it from what was erased.

    Args:
        animals: As the other side has them.
        renewed: Animals with an owner block in this arrival that is kept.

    Returns:
        The animals, and the ids of those whose owner details were set aside.
    """
    kept, aside, known = [], set(), set(renewed)
    for animal in animals:
        animal_id = animal["animal_id"]
        erased = exchange.erasures.of_animal(animal_id)
        ours = (exchange.vault.animals.get(animal_id) or {}).get(OWNER)
        if erased is None or animal_id in known or _names_somebody(ours):
            kept.append(animal)
            continue
        before = animal.get(CHANGED_FROM) or {}
        said = {k: v for k, v in before.items() if not k.startswith(f"{OWNER}.")}
        rest = {k: v for k, v in animal.items() if k not in (OWNER, CHANGED_FROM)}
        kept.append({**rest, CHANGED_FROM: said} if said else rest)
        if _names_somebody(animal.get(OWNER)) or len(said) < len(before):
            aside.add(animal_id)
    return kept, aside


def _is_typed_of_owner(vault: Vault, animal_id: str) -> bool:
    _, words = vault.typed.all().get(f"animal/{animal_id}", ("", {}))
    return any(name.startswith(f"{OWNER}_") and text for name, text in words.items())


def _names_somebody(owner: object) -> bool:
    return isinstance(owner, Mapping) and any(owner.get(name) for name in _NAMES)


def _hash(vault: Vault, block_id: str) -> str:
    kept = vault.owners.get(block_id)
    if kept is None:
        return ""
    try:
        block = owner_block(from_plain(Owner, kept[1]))
        return salted_hash(block, kept[0]).hex()
    except ExamError:
        # Of a newer version: the date of the erasure alone keeps it out.
        return ""


def _typed(draft: Plain) -> bool:
    return any((draft.get("presentation") or {}).get(one) for one in _TYPED_IN_EXAMS)


def _without_typed(draft: Plain) -> Plain:
    said = draft.get("presentation") or {}
    rest = {k: v for k, v in said.items() if k not in _TYPED_IN_EXAMS}
    return {**draft, "presentation": rest}
