"""Keep everything that one bundle or day pack brought, in one save.

What is kept already is looked up before the save begins; whoever imports holds the
exchange's ``turn`` from the first look to the commit. On a device the clinic's value
of an animal's field is taken unless somebody here changed it and the clinic has not
heard of that yet; then the value here stays and goes to the clinic, where a person
decides.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from exam_app.domain.moments import Moment
from exam_app.exchange.erasure import is_set_aside, without_erased
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.identity import AnimalChanges, animal_changes, keep_animals
from exam_app.exchange.incoming import ADMITTED, HELD
from exam_app.exchange.merge import RECORD_KEYS, flat, merge
from exam_app.exchange.outgoing import RECEIVED
from exam_app.record.draft_codec import owner_to_plain
from exam_app.store.projections import closed_projection
from exam_app.store.vault import Vault
from sync.clinic.inbox import Arrival, RecordArrival, SetApart
from sync.device.day_pack import DayPack
from sync.receipts import Outcome


def keep_arrival(vault: Vault, arrival: Arrival) -> None:
    """Keep an arrival with its receipt: all of it or nothing.

    Raises:
        VaultError: The save failed; nothing was kept.
    """
    owners = [None if _is_aside(vault, r) else r.owner for r in arrival.records]
    signed = [
        (record.read.exam.animal, owner)
        for record, owner in zip(arrival.records, owners, strict=True)
    ]
    renewed = [animal.animal_id for animal, owner in signed if owner is not None]
    listed, aside = without_erased(vault, arrival.animals, renewed)
    changes = animal_changes(
        vault.animals,
        Exchange(vault).identity,
        signed,
        listed,
        arrival.device_id,
        arrival.sequence,
    )
    with vault.transaction():
        for content_hash, content in arrival.protocols:
            vault.protocols.put(content_hash, content)
        for record in arrival.records:
            if keep_record(vault, record, arrival.received):
                aside.add(record.read.exam.animal.animal_id)
        for private in arrival.privates:
            vault.privates.put(*private)
        note_set_aside(vault, aside, arrival.device_id, arrival.received)
        for note in arrival.notes:
            vault.notes.put(note.note.note_id, note.note.exam_id, note.signed)
        _keep_animals(vault, changes, arrival)
        _keep_apart(vault, arrival)
        entry = {**entry_of(arrival), **_aside_of(changes)}
        Exchange(vault).incoming.put(entry, arrival.receipt)


def _aside_of(changes: AnimalChanges) -> dict[str, int]:
    counts = {"pairs_aside": len(changes.aside), "uncompared": changes.uncompared}
    return {name: count for name, count in counts.items() if count}


def entry_of(arrival: Arrival) -> dict[str, Any]:
    """Return the log's entry of an arrival."""
    return {
        "bundle_hash": arrival.bundle_hash,
        "device_id": arrival.device_id,
        "sequence": arrival.sequence,
        "kind": arrival.kind,
        "made_ms": arrival.made.utc_ms,
        "received_ms": arrival.received.utc_ms,
        "received": arrival.received.date_and_time(),
        "skew_ms": arrival.skew_ms,
        "exam_count": len(arrival.records),
        "admitted_by": arrival.admitted_by,
        "outcomes": {key: str(value) for key, value in arrival.outcomes.items()},
    }


def apart_entry(item: SetApart, received: Moment) -> dict[str, Any]:
    """Return the entry of something set apart."""
    return {
        "key": item.key,
        "kind": item.kind,
        "reason": item.reason,
        "bundle_hash": item.bundle_hash,
        "device_id": item.device_id,
        "sequence": item.sequence,
        "exam_id": item.exam_id,
        "waits_for": item.waits_for,
        "received_ms": received.utc_ms,
        "received": received.date_and_time(),
    }


def keep_record(vault: Vault, record: RecordArrival, received: Moment) -> bool:
    """Keep one verified record with its owner, inside the caller's transaction.

    Returns:
        Whether its owner details were erased here before, and so set aside.
    """
    read, exam = record.read, record.read.exam
    shown = closed_projection(
        exam, record.protocol, read.exam_hash, record.device_id, read.key_id
    )
    row = {
        **shown,
        "is_received": True,
        "received": received.date_and_time(),
        "revision": exam.revision,
        "parent_hash": exam.parent_hash,
    }
    owner_key = exam.exam_id
    if record.outcome is Outcome.STORED:
        vault.closed.put(exam.exam_id, record.signed, row)
    else:
        vault.closed.put_revision(
            exam.exam_id,
            record.signed,
            {**row, "is_fork": record.outcome is Outcome.FORK},
            revision=exam.revision,
            parent_hash=exam.parent_hash,
        )
    if record.outcome is Outcome.FORK:
        owner_key = f"{exam.exam_id}:{read.exam_hash}"
    if _is_aside(vault, record):
        return True
    if record.owner is not None:
        salt, owner = record.owner
        vault.owners.put(owner_key, salt, owner_to_plain(owner))
    return False


def note_set_aside(
    vault: Vault, animal_ids: Iterable[str], device_id: str, received: Moment
) -> None:
    """Keep for a person that erased owner details came again and were not kept."""
    for animal_id in sorted(animal_ids):
        when = received.date_and_time()
        Exchange(vault).erasures.note_set_aside(animal_id, device_id, when)


def _is_aside(vault: Vault, record: RecordArrival) -> bool:
    return record.owner is not None and is_set_aside(vault, record.read)


def _keep_animals(vault: Vault, changes: AnimalChanges, arrival: Arrival) -> None:
    when, device = arrival.received.utc_ms, arrival.device_id
    identity = Exchange(vault).identity
    keep_animals(vault.animals, identity, changes, device, arrival.sequence, when)


def _keep_apart(vault: Vault, arrival: Arrival) -> None:
    quarantine, when = Exchange(vault).quarantine, arrival.received.utc_ms
    for item in arrival.set_apart:
        quarantine.put(apart_entry(item, arrival.received), item.content)
    stored = {r.read.exam_hash for r in arrival.records}
    for key in (*arrival.freed, arrival.bundle_hash, *stored):
        kept = quarantine.get(key)
        if kept is not None and kept["state"] == HELD:
            quarantine.decide(key, ADMITTED, arrival.admitted_by, when)


CLINIC, SHARED, TOLD = "clinic", "shared", "told"


def keep_day_pack(vault: Vault, pack: DayPack) -> None:
    """Keep everything; what is here already stays as it is.

    Raises:
        VaultError: The save failed; nothing was kept.
    """
    with vault.transaction():
        for content_hash, content in pack.protocols:
            vault.protocols.put(content_hash, content)
        for key, name in pack.keys.items():
            Exchange(vault).keep_vouched_key(key, pack.clinic_id, name)
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
            _keep_clinics_animal(vault, pack, animal)


def _keep_clinics_animal(
    vault: Vault, pack: DayPack, animal: Mapping[str, Any]
) -> None:
    theirs = {k: v for k, v in animal.items() if k != RECORD_KEYS}
    animal_id, identity = theirs["animal_id"], Exchange(vault).identity
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


def _heard(vault: Vault, pack: DayPack, animal_id: str) -> Mapping[str, Any] | None:
    """Return what this device told, if the clinic had it when it made the pack."""
    told = Exchange(vault).identity.version(animal_id, TOLD)
    if told is None:
        return None
    for bundle in Exchange(vault).outgoing.all():
        is_it = bundle["sequence"] == told["sequence"]
        if is_it and bundle["recipient_id"] == pack.clinic_id:
            is_heard = bundle["state"] == RECEIVED
            heard_ms = bundle.get("receipted_ms", pack.made.utc_ms + 1)
            if is_heard and heard_ms <= pack.made.utc_ms:
                values: Mapping[str, Any] = told["values"]
                return values
    return None
