"""Keep everything that one bundle brought, in one save.

What is kept already is looked up before the save begins; whoever imports holds the
exchange's ``turn`` from the first look to the commit.
"""

from collections.abc import Iterable

from exam_app.domain.moments import Moment
from exam_app.exchange.arriving import Plan
from exam_app.exchange.erasure import is_set_aside, without_erased
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.identity import animal_changes, keep_animals
from exam_app.exchange.incoming import ADMITTED, HELD
from exam_app.exchange.verdicts import RecordArrival, is_animal
from exam_app.record.draft_codec import owner_to_plain
from exam_app.store.projections import closed_projection
from sync.receipts import Outcome


def keep_arrival(
    plan: Plan, receipt: bytes, received: Moment, skew_ms: int, admitted_by: str
) -> None:
    """Keep what was planned of a bundle with its receipt: all of it or nothing.

    Args:
        plan: Of everything in the bundle.
        receipt: As signed; part of the save, so that none exists for what was not
            stored.
        received: The present moment.
        skew_ms: The bundle's time less the clinic's.
        admitted_by: Who admitted the bundle from quarantine, or empty.

    Raises:
        VaultError: The save failed; nothing was kept.
    """
    exchange, manifest = plan.exchange, plan.opened.manifest
    vault, identity = exchange.vault, exchange.identity
    sender = manifest.sender_id, manifest.sequence
    signed = [
        (r.read.exam.animal, None if _is_aside(exchange, r) else r.owner)
        for r in plan.records
    ]
    renewed = [animal.animal_id for animal, owner in signed if owner is not None]
    animals = plan.opened.contents.animals
    checked = [one for one in animals if is_animal(one, is_demo=plan.is_demo)]
    listed, aside = without_erased(exchange, checked, renewed)
    changes = animal_changes(vault.animals, identity, signed, listed, *sender)
    with vault.transaction():
        for content_hash, (content, _) in plan.protocols.items():
            vault.protocols.put(content_hash, content)
        for record in plan.records:
            if keep_record(exchange, record, received):
                aside.add(record.read.exam.animal.animal_id)
        for private in plan.privates:
            vault.privates.put(*private)
        note_set_aside(exchange, aside, manifest.sender_id, received)
        for note in plan.notes:
            vault.notes.put(note.note.note_id, note.note.exam_id, note.signed)
        keep_animals(vault.animals, identity, changes, *sender, received.utc_ms)
        _keep_apart(plan, received, admitted_by)
        counts = {"pairs_aside": len(changes.aside), "uncompared": changes.uncompared}
        entry = {
            "bundle_hash": plan.opened.bundle_hash,
            "device_id": manifest.sender_id,
            "sequence": manifest.sequence,
            "kind": manifest.kind.value,
            "made_ms": manifest.made.utc_ms,
            "received_ms": received.utc_ms,
            "received": received.date_and_time(),
            "skew_ms": skew_ms,
            "exam_count": len(plan.records),
            "admitted_by": admitted_by,
            "outcomes": {key: one.value for key, one in plan.outcomes.items()},
            **{name: count for name, count in counts.items() if count},
        }
        exchange.incoming.put(entry, receipt)


def keep_record(exchange: Exchange, record: RecordArrival, received: Moment) -> bool:
    """Keep one verified record with its owner, inside the caller's transaction.

    Returns:
        Whether its owner details were erased here before, and so set aside.
    """
    vault, read, exam = exchange.vault, record.read, record.read.exam
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
    if _is_aside(exchange, record):
        return True
    if record.owner is not None:
        salt, owner = record.owner
        vault.owners.put(owner_key, salt, owner_to_plain(owner))
    return False


def note_set_aside(
    exchange: Exchange, animal_ids: Iterable[str], device_id: str, received: Moment
) -> None:
    """Keep for a person that erased owner details came again and were not kept."""
    for animal_id in sorted(animal_ids):
        when = received.date_and_time()
        exchange.erasures.note_set_aside(animal_id, device_id, when)


def _is_aside(exchange: Exchange, record: RecordArrival) -> bool:
    return record.owner is not None and is_set_aside(exchange, record.read)


def _keep_apart(plan: Plan, received: Moment, admitted_by: str) -> None:
    quarantine, bundle_hash = plan.exchange.quarantine, plan.opened.bundle_hash
    for item in plan.set_apart:
        quarantine.put(item.entry(received), item.content)
    stored = {r.read.exam_hash for r in plan.records}
    for key in (*plan.freed, bundle_hash, *stored):
        kept = quarantine.get(key)
        if kept is not None and kept["state"] == HELD:
            quarantine.decide(key, ADMITTED, admitted_by, received.utc_ms)
