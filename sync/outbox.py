"""Hand over from a field device: seal once, show the same bytes until the receipt.

A record goes from waiting (sealed or not, nothing shown) to shown, to received by code
(somebody typed the eight characters: the whole bundle was stored), to received (the
clinic's signed receipt names it). Only the last permits deletion. A number is saved
together with its sealed bundle, before anything of it shows, and never used again.
What is sealed and has no receipt is handed over again as it is, so that no number is
missing at the clinic.
"""

from collections.abc import Sequence
from typing import ClassVar

from exam_app.domain.moments import Moment
from sync.bundle import BundleKind, Contents, seal_bundle
from sync.errors import NotAReceiptError, SyncError, WrongReceiptCodeError
from sync.frames import DotSize, largest_bundle
from sync.outgoing import (
    KEPT_OUTCOMES,
    HandOverState,
    Outbox,
    Outgoing,
    OwnRecord,
    Recipient,
    outgoing_of,
)
from sync.planning import plan_bundles
from sync.receipts import Receipt, check_code, read_receipt
from sync.sealing import Random


class NotPairedError(SyncError):
    """This device has no clinic that a person confirmed."""

    advice: ClassVar[str] = (
        "This device is not paired with a clinic. The exams stay here. "
        "Pair it with the clinic's computer, then hand over."
    )


class BundleGoneError(SyncError):
    """The bundle is not here, or its bytes were dropped after the signed receipt."""

    advice: ClassVar[str] = (
        "This hand-over was received, or is not of this device. Nothing was changed. "
        "Go back to the list of what waits."
    )


def hand_over(
    outbox: Outbox,
    exam_ids: Sequence[str],
    now: Moment,
    random: Random,
    limit_sealed_bytes: int | None = None,
) -> tuple[Outgoing, ...]:
    """Return the bundles that carry these exams: sealed before, or sealed now.

    Args:
        outbox: The device's store.
        exam_ids: Closed exams; what the clinic has receipted is left out.
        now: The present moment.
        random: Draws bytes.
        limit_sealed_bytes: Of one bundle; by default what the largest dots can show.

    Raises:
        NotPairedError: There is no confirmed clinic.
        BundleNotMadeError, BundleTooLargeError: Nothing was kept.
    """
    limit = limit_sealed_bytes or largest_bundle(DotSize.BIGGER)
    with outbox.turn():
        clinic = outbox.clinic()
        if clinic is None:
            raise NotPairedError("no confirmed clinic")
        sealed = [b for b in outbox.outstanding(clinic.recipient_id) if b.sealed]
        inside = {key for bundle in sealed for key in bundle.signed_hashes}
        wanted = outbox.records(exam_ids)
        hashes = {record.record_hash for record in wanted}
        again = [bundle for bundle in sealed if hashes & set(bundle.signed_hashes)]
        fresh = [record for record in wanted if record.record_hash not in inside]
        notes = [note for note in outbox.notes() if note.record_hash not in inside]
        if not fresh and (again or not notes):
            return tuple(again)
        made = _seal(outbox, clinic, fresh, notes, now, random, limit)
        outbox.keep(made)
        return (*again, *made)


def mark_shown(outbox: Outbox, bundle_hash: str) -> None:
    """Keep that a bundle's codes showed, or that its file was written."""
    outbox.mark(bundle_hash, HandOverState.SHOWN)


def enter_code(outbox: Outbox, bundle_hash: str, typed: str) -> None:
    """Take the eight characters that the clinic's screen shows.

    Raises:
        BundleGoneError: There is no such bundle.
        MistypedReceiptCodeError: A slip; no try was used.
        WrongReceiptCodeError: Another code; one of five tries was used.
    """
    with outbox.turn():
        bundle = outbox.outgoing(bundle_hash)
        if bundle is None:
            raise BundleGoneError("no such bundle")
        try:
            check_code(typed, bundle.receipt_code, bundle.wrong_codes)
        except WrongReceiptCodeError as error:
            if costs_a_try(error):
                outbox.count_wrong_code(bundle_hash)
            raise
        outbox.mark(bundle_hash, HandOverState.BY_CODE)


def take_receipt(outbox: Outbox, signed: bytes) -> Receipt:
    """Take the clinic's signed receipt; taken again it changes nothing.

    Raises:
        NotPairedError: There is no confirmed clinic.
        ReceiptError: It is none of this clinic for a bundle of this device.
    """
    with outbox.turn():
        clinic = outbox.clinic()
        if clinic is None:
            raise NotPairedError("no confirmed clinic")

        def signed_hashes_of(bundle_hash: str) -> Sequence[str] | None:
            bundle = outbox.outgoing(bundle_hash)
            return bundle.signed_hashes if bundle else None

        receipt = read_receipt(signed, clinic.signing_key, signed_hashes_of)
        if receipt.device_id not in outbox.identity().own_ids:
            raise NotAReceiptError("it is for another device")
        kept = [x.record_hash for x in receipt.lines if x.outcome in KEPT_OUTCOMES]
        outbox.keep_receipt(receipt, signed, kept)
        return receipt


def costs_a_try(error: WrongReceiptCodeError) -> bool:
    """Say whether a refused code was a guess and not a slip."""
    return type(error) is WrongReceiptCodeError


def _seal(
    outbox: Outbox,
    clinic: Recipient,
    records: Sequence[OwnRecord],
    notes: Sequence[OwnRecord],
    now: Moment,
    random: Random,
    limit: int,
) -> tuple[Outgoing, ...]:
    exam_ids = list(dict.fromkeys(record.exam_id for record in records))
    contents = Contents(
        tuple(record.signed for record in records),
        tuple(note.signed for note in notes),
        tuple(record.owner for record in records if record.owner),
        tuple(outbox.protocol_contents(records)),
        tuple(outbox.animals(exam_ids)),
        privates=tuple(record.private for record in records if record.private),
    )
    exam_of = {record.record_hash: record.exam_id for record in records}
    first, identity = outbox.next_sequence(clinic.recipient_id), outbox.identity()
    made = []
    for offset, part in enumerate(plan_bundles(contents, limit)):
        sealed = seal_bundle(
            BundleKind.EXAMS,
            part,
            sequence=first + offset,
            made=now,
            sender_id=identity.own_ids[0],
            seed=identity.signing_seed,
            recipient_key=clinic.agreement_key,
            is_demo=identity.is_demo,
            random=random,
        )
        made.append(outgoing_of(sealed, clinic.recipient_id, exam_of))
    return tuple(made)
