"""Hand over from a field device: seal once, show the same bytes until the receipt.

A record goes from waiting (sealed or not, nothing shown) to shown, to received by code
(somebody typed the eight characters: the whole bundle was stored), to received (the
clinic's signed receipt names it). Only the last permits deletion. A number is saved
together with its sealed bundle, before anything of it shows, and never used again.
What is sealed and has no receipt is handed over again as it is, so that no number is
missing at the clinic.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from exam_app.domain.animal.signalment import Owner
from exam_app.domain.exam.exam import Exam
from exam_app.domain.moments import Moment
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.merge import CHANGED_FROM, OWNER, changes_since, flat
from exam_app.exchange.outgoing import (
    BY_CODE,
    RECEIVED,
    SHOWN,
    BundleGoneError,
    Outgoing,
)
from exam_app.exchange.pairings import Clinic
from exam_app.exchange.protocols import (
    protocol_by_hash,
    protocol_lookup,
    shipped_protocol,
)
from exam_app.record.cose import claimed_key_id, key_id_of
from exam_app.record.plain_form import from_plain, to_plain
from exam_app.record.records import ReadExam, read_exam
from exam_app.record.salted_blocks import block_matches, owner_block
from sync.bundle.bundle import BundleKind, SealedBundle, seal_bundle
from sync.bundle.contents import Contents, OwnerPart, PrivatePart, plan_bundles
from sync.bundle.packing import OLDEST_PACKING
from sync.bundle.sealing import Random
from sync.errors import NotAReceiptError, WrongReceiptCodeError
from sync.receipts import KEPT_OUTCOMES, Outcome, Receipt, check_code, read_receipt
from sync.transport.frames import DotSize, largest_bundle

KNOWN_PROTOCOLS = "clinic_protocols"
# Names of the versions of an animal that both sides had, and that this one told.
SHARED, TOLD = "shared", "told"


@dataclass(frozen=True, slots=True)
class OwnRecord:
    """A signed record or note of this device that the clinic has not receipted.

    Attributes:
        read: What a record says; ``None`` of a note.
        owner: Details beside it, or ``None``.
        private: Private notes beside it, or ``None``.
    """

    signed_hash: str
    signed: bytes
    read: ReadExam | None = None
    owner: OwnerPart | None = None
    private: PrivatePart | None = None


def hand_over(
    exchange: Exchange,
    exam_ids: Sequence[str],
    now: Moment,
    random: Random,
    limit_sealed_bytes: int | None = None,
) -> tuple[Outgoing, ...]:
    """Return the bundles that carry these exams: sealed before, or sealed now.

    Args:
        exam_ids: Closed exams; what the clinic has receipted is left out.
        limit_sealed_bytes: Of one bundle; by default what the largest dots can show.

    Raises:
        NotPairedError: There is no confirmed clinic.
        BundleNotMadeError, BundleTooLargeError: Nothing was kept.
    """
    limit = limit_sealed_bytes or largest_bundle(DotSize.BIGGER)
    with exchange.vault.turn:
        clinic = exchange.pairing.confirmed_clinic()
        sealed = exchange.outgoing.outstanding(clinic.clinic_id)
        inside = {key for bundle in sealed for key in bundle.signed_hashes}
        wanted = _records(exchange, exam_ids)
        hashes = {record.signed_hash for record in wanted}
        again = [bundle for bundle in sealed if hashes & set(bundle.signed_hashes)]
        fresh = [record for record in wanted if record.signed_hash not in inside]
        notes = [n for n in _notes(exchange) if n.signed_hash not in inside]
        if not fresh and (again or not notes):
            return tuple(again)
        made = _seal(exchange, clinic, fresh, notes, now, random, limit)
        _keep(exchange, clinic.clinic_id, fresh, made)
        named = {x.bundle_hash for x in again} | {x.bundle_hash for x in made}
        kept = exchange.outgoing.outstanding(clinic.clinic_id)
        return tuple(bundle for bundle in kept if bundle.bundle_hash in named)


def mark_shown(exchange: Exchange, bundle_hash: str) -> None:
    """Keep that a bundle's codes showed, or that its file was written."""
    _mark(exchange, bundle_hash, SHOWN)


def enter_code(exchange: Exchange, bundle_hash: str, typed: str) -> None:
    """Take the eight characters that the clinic's screen shows.

    Raises:
        BundleGoneError: There is no such bundle.
        MistypedReceiptCodeError: A slip; no try was used.
        WrongReceiptCodeError: Another code; one of five tries was used.
    """
    with exchange.vault.turn:
        bundle = exchange.outgoing.get(bundle_hash)
        if bundle is None:
            raise BundleGoneError("no such bundle")
        try:
            check_code(typed, bundle.code, bundle.wrong_codes)
        except WrongReceiptCodeError as error:
            # A slip is of a class below, and costs no try.
            if type(error) is WrongReceiptCodeError:
                wrong = {"wrong_codes": bundle.wrong_codes + 1}
                exchange.outgoing.change(bundle_hash, wrong)
            raise
        _mark(exchange, bundle_hash, BY_CODE)


def take_receipt(exchange: Exchange, signed: bytes) -> Receipt:
    """Take the clinic's signed receipt; taken again it changes nothing.

    Raises:
        NotPairedError: There is no confirmed clinic.
        ReceiptError: It is none of this clinic for a bundle of this device.
    """
    with exchange.vault.turn:
        clinic = exchange.pairing.confirmed_clinic()

        def signed_hashes_of(bundle_hash: str) -> Sequence[str] | None:
            bundle = exchange.outgoing.get(bundle_hash)
            return bundle.signed_hashes if bundle else None

        receipt = read_receipt(signed, clinic.signing_key, signed_hashes_of)
        if receipt.device_id not in exchange.own_identity().own_ids:
            raise NotAReceiptError("it is for another device")
        _keep_receipt(exchange, clinic, receipt, signed)
        return receipt


def _seal(
    exchange: Exchange,
    clinic: Clinic,
    records: Sequence[OwnRecord],
    notes: Sequence[OwnRecord],
    now: Moment,
    random: Random,
    limit: int,
) -> list[SealedBundle]:
    contents = Contents(
        tuple(record.signed for record in records),
        tuple(note.signed for note in notes),
        tuple(record.owner for record in records if record.owner),
        tuple(_protocol_contents(exchange, records)),
        tuple(_animals(exchange, records)),
        privates=tuple(record.private for record in records if record.private),
    )
    first = exchange.outgoing.next_sequence(clinic.clinic_id)
    identity = exchange.own_identity()
    packing = clinic.packing or OLDEST_PACKING
    planned = plan_bundles(contents, limit, packing)
    return [
        seal_bundle(
            BundleKind.EXAMS,
            part,
            sequence=sequence,
            made=now,
            sender_id=identity.own_ids[0],
            seed=identity.signing_seed,
            recipient_key=clinic.agreement_key,
            is_demo=exchange.is_demo,
            random=random,
            packing=packing,
        )
        for sequence, part in enumerate(planned, first)
    ]


def _records(exchange: Exchange, exam_ids: Sequence[str]) -> list[OwnRecord]:
    """Return every own record of these exams without receipt, oldest first."""
    return [
        _own_record(exchange, exam_id, row.record_hash)
        for exam_id in exam_ids
        for row in exchange.vault.closed.revisions(exam_id)
        if not row.is_received and not _has_receipt(exchange, row.record_hash)
    ]


def _own_record(exchange: Exchange, exam_id: str, record_hash: str) -> OwnRecord:
    signed = exchange.vault.closed.get(exam_id, record_hash) or b""
    read = read_exam(signed, exchange.own_keys(), protocol_lookup(exchange.vault))
    part, beside = None, exchange.vault.owners.get(exam_id)
    if beside is not None:
        salt, block = beside[0], owner_block(from_plain(Owner, beside[1]))
        if block_matches(read.owner_hash, salt, block):
            part = OwnerPart(record_hash, salt, block)
    kept = exchange.vault.privates.get(record_hash)
    private = None if kept is None else PrivatePart(record_hash, *kept)
    return OwnRecord(record_hash, signed, read, part, private)


def _notes(exchange: Exchange) -> list[OwnRecord]:
    """Return every note written here without receipt."""
    own = set(map(key_id_of, exchange.own_keys()))
    return [
        OwnRecord(note_hash, signed)
        for note_hash, _, signed in exchange.vault.notes.all()
        if claimed_key_id(signed) in own and not _has_receipt(exchange, note_hash)
    ]


def _has_receipt(exchange: Exchange, signed_hash: str) -> bool:
    return exchange.outgoing.record_state(signed_hash) == RECEIVED


def _exams(records: Iterable[OwnRecord]) -> Iterator[Exam]:
    return (record.read.exam for record in records if record.read is not None)


def _animals(
    exchange: Exchange, records: Sequence[OwnRecord]
) -> Iterator[Mapping[str, Any]]:
    """Give animals that stand here otherwise than the records alone tell."""
    told: dict[str, Mapping[str, Any]] = {}
    for exam in _exams(records):
        beside = exchange.vault.owners.get(exam.exam_id)
        owner = {OWNER: beside[1]} if beside else {}
        told[exam.animal.animal_id] = {**to_plain(exam.animal), **owner}
    for animal_id, said in told.items():
        animal = exchange.vault.animals.get(animal_id)
        if animal is None:
            continue
        shared = exchange.identity.version(animal_id, SHARED)
        changed = changes_since(animal, shared.values) if shared else {}
        if changed:
            yield {**animal, CHANGED_FROM: changed}
        elif changes_since(animal, flat(said)):
            yield animal


def _protocol_contents(exchange: Exchange, records: Sequence[OwnRecord]) -> list[bytes]:
    """Return protocols that are not shipped, or that the clinic asked for."""
    known = exchange.vault.settings.get(KNOWN_PROTOCOLS, [])
    found = {}
    for record in records:
        content_hash = record.read.exam.protocol_hash if record.read else ""
        outcome = exchange.outgoing.record_outcome(record.signed_hash)
        was_apart = outcome == Outcome.QUARANTINED
        is_shipped = shipped_protocol(content_hash) is not None
        if was_apart or not (is_shipped or content_hash in known):
            loaded = protocol_by_hash(exchange.vault, content_hash)
            found[content_hash] = loaded.content if loaded else b""
    return [content for content in found.values() if content]


def _keep(
    exchange: Exchange,
    recipient_id: str,
    records: Sequence[OwnRecord],
    made: Sequence[SealedBundle],
) -> None:
    """Keep sealed bundles and what of animals they tell, in one save."""
    vault, sequence = exchange.vault, made[-1].manifest.sequence
    exam_of = {one.signed_hash: one.read.exam.exam_id for one in records if one.read}
    ids = {exam.animal.animal_id for exam in _exams(records)}
    shared = {key: flat(vault.animals.get(key) or {}) for key in ids}
    with vault.transaction():
        for bundle in made:
            manifest = bundle.manifest
            inside = dict.fromkeys(exam_of[key] for key in manifest.record_hashes)
            row = {
                "bundle_hash": bundle.bundle_hash,
                "recipient_id": recipient_id,
                "sequence": manifest.sequence,
                "kind": manifest.kind.value,
                "made_ms": manifest.made.utc_ms,
                "made_offset_min": manifest.made.offset_min,
                "exam_ids": list(inside),
                "record_hashes": list(manifest.record_hashes),
                "signed_hashes": list(manifest.signed_hashes),
            }
            exchange.outgoing.put(row, bundle.sealed, bundle.receipt_code)
        for animal_id, values in shared.items():
            for side in (SHARED, TOLD):
                exchange.identity.put_version(animal_id, side, values, sequence)


def _mark(exchange: Exchange, bundle_hash: str, state: str) -> None:
    """Move a bundle and all that is in it on; nothing goes back."""
    outgoing = exchange.outgoing
    kept = outgoing.get(bundle_hash)
    if kept is None:
        return
    with exchange.vault.transaction():
        outgoing.change(bundle_hash, {"state": state})
        outgoing.mark_records(kept.signed_hashes, state, bundle_hash)


def _keep_receipt(
    exchange: Exchange, clinic: Clinic, receipt: Receipt, signed: bytes
) -> None:
    """Keep a signed receipt in one save; what it says is stored is received now."""
    outgoing, settings = exchange.outgoing, exchange.vault.settings
    bundle_hash = receipt.bundle_hash
    kept = outgoing.get(bundle_hash)
    if kept is None:
        return
    received = [x.record_hash for x in receipt.lines if x.outcome in KEPT_OUTCOMES]
    outcomes = {line.record_hash: line.outcome.value for line in receipt.lines}
    known = settings.get(KNOWN_PROTOCOLS, [])
    records = _records(exchange, kept.exam_ids)
    stored = [record for record in records if record.signed_hash in received]
    protocols = {exam.protocol_hash for exam in _exams(stored)} - {*known}
    fields = {
        "state": RECEIVED,
        "outcomes": outcomes,
        "receipt": signed.hex(),
        "receipted_ms": receipt.received.utc_ms,
    }
    with exchange.vault.transaction():
        exchange.pairing.clinic_reads(clinic, receipt.packing)
        outgoing.change(bundle_hash, fields)
        outgoing.put_outcomes(outcomes)
        outgoing.mark_records(received, RECEIVED, bundle_hash)
        if protocols:
            settings.put(KNOWN_PROTOCOLS, [*known, *sorted(protocols)])
