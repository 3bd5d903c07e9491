"""Keep on a device what the clinic's day pack brought, in one save.

The clinic's value of an animal's field is taken unless somebody here changed it and
the clinic has not heard of that yet; then the value here stays and goes to the clinic,
where a person decides.
"""

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from exam_app.domain.moments import Moment
from exam_app.store.erasure import without_erased
from exam_app.store.identity import RECORD_KEYS, flat, merge
from exam_app.store.imports import (
    ArrivedNote,
    ArrivedRecord,
    keep_record,
    note_set_aside,
)
from exam_app.store.opened_vault import Vault
from exam_app.store.outgoing_repositories import RECEIVED

CLINIC, SHARED, TOLD = "clinic", "shared", "told"


class ArrivedDayPack(Protocol):
    """What a verified day pack brings."""

    @property
    def clinic_id(self) -> str: ...  # noqa: D102
    @property
    def sequence(self) -> int: ...  # noqa: D102
    @property
    def made(self) -> Moment: ...  # noqa: D102
    @property
    def received(self) -> Moment: ...  # noqa: D102
    @property
    def records(self) -> Sequence[ArrivedRecord]: ...  # noqa: D102
    @property
    def notes(self) -> Sequence[ArrivedNote]: ...  # noqa: D102
    @property
    def protocols(self) -> Sequence[tuple[str, bytes]]: ...  # noqa: D102
    @property
    def animals(self) -> Sequence[Mapping[str, Any]]: ...  # noqa: D102
    @property
    def keys(self) -> Mapping[bytes, str]: ...  # noqa: D102


def keep_day_pack(vault: Vault, pack: ArrivedDayPack) -> None:
    """Keep everything; what is here already stays as it is.

    Raises:
        VaultError: The save failed; nothing was kept.
    """
    with vault.transaction():
        for content_hash, content in pack.protocols:
            vault.protocols.put(content_hash, content)
        for key, name in pack.keys.items():
            vault.exchange.keep_vouched_key(key, pack.clinic_id, name)
        aside, renewed = set(), set()
        for record in pack.records:
            animal_id = record.read.exam.animal.animal_id
            if keep_record(vault, record, pack.received):
                aside.add(animal_id)
            elif record.owner is not None:
                renewed.add(animal_id)
        animals, unnamed = without_erased(vault, pack.animals, renewed)
        note_set_aside(vault, aside | unnamed, pack.clinic_id, pack.received)
        for note in pack.notes:
            vault.notes.put(note.note.note_id, note.note.exam_id, note.signed)
        for animal in animals:
            _keep_animal(vault, pack, animal)


def _keep_animal(vault: Vault, pack: ArrivedDayPack, animal: Mapping[str, Any]) -> None:
    theirs = {k: v for k, v in animal.items() if k != RECORD_KEYS}
    animal_id, identity = theirs["animal_id"], vault.exchange.identity
    before = identity.version(animal_id, CLINIC)
    if before is not None and before["sequence"] > pack.sequence:
        return
    had = before["values"] if before else {}
    known = tuple(v for v in (before and had, _heard(vault, pack, animal_id)) if v)
    merged = merge(vault.animals.get(animal_id) or {}, theirs, known)
    # A field that clashes keeps its older common value: the clinic must see the clash.
    common = {c.field: had.get(c.field) for c in merged.clashes}
    values = {k: v for k, v in {**flat(theirs), **common}.items() if v is not None}
    vault.animals.put(merged.animal)
    identity.put_version(animal_id, CLINIC, values, pack.sequence)
    identity.put_version(animal_id, SHARED, values, pack.sequence)


def _heard(
    vault: Vault, pack: ArrivedDayPack, animal_id: str
) -> Mapping[str, Any] | None:
    """Return what this device told, if the clinic had it when it made the pack."""
    told = vault.exchange.identity.version(animal_id, TOLD)
    if told is None:
        return None
    for bundle in vault.exchange.outgoing.all():
        is_it = bundle["sequence"] == told["sequence"]
        if is_it and bundle["recipient_id"] == pack.clinic_id:
            is_heard = bundle["state"] == RECEIVED
            heard_ms = bundle.get("receipted_ms", pack.made.utc_ms + 1)
            if is_heard and heard_ms <= pack.made.utc_ms:
                values: Mapping[str, Any] = told["values"]
                return values
    return None
