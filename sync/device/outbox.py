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
from sync.bundle.bundle import BundleKind, seal_bundle
from sync.bundle.columns import Columns
from sync.bundle.contents import (
    Contents,
    OwnerPart,
    PrivatePart,
    hashes_of,
    write_contents,
)
from sync.bundle.packing import columns_of, deflate, pack
from sync.bundle.sealing import OVERHEAD, Random
from sync.device.outgoing import (
    KEPT_OUTCOMES,
    HandOverState,
    Outbox,
    Outgoing,
    OwnRecord,
    Recipient,
    outgoing_of,
)
from sync.errors import (
    BundleTooLargeError,
    NotAReceiptError,
    SyncError,
    WrongReceiptCodeError,
)
from sync.receipts import Receipt, check_code, read_receipt
from sync.transport.frames import DotSize, largest_bundle

# A manifest's hashes, keys and signature cannot be packed; measured at most 226.
MANIFEST_ALLOWANCE = 240


def sealed_size(contents: Contents) -> int:
    """Return about how many bytes these contents have once sealed, never too few."""
    return OVERHEAD + MANIFEST_ALLOWANCE + len(pack(write_contents(contents)))


def plan_bundles(contents: Contents, limit_sealed_bytes: int) -> tuple[Contents, ...]:
    """Return contents in as few bundles as keep each within the limit, in order.

    What is larger than the limit all by itself (a protocol, as a rule) gets a bundle of
    its own, which then passes the limit.

    Returns:
        At least one, also for empty contents.

    Raises:
        BundleNotMadeError: Something has no place in a bundle.
        BundleTooLargeError: A part passes the limit of bundles.
    """
    pieces = _pieces(contents)
    columns = [columns_of(write_contents(piece)) for piece in pieces]
    planned, first = [], 0
    while first < len(pieces):
        count = _how_many_fit(columns[first:], limit_sealed_bytes)
        together = _together(pieces[first : first + count])
        # The estimate saw owners and records in another order.
        while count > 1 and sealed_size(together) > limit_sealed_bytes:
            count -= 1
            together = _together(pieces[first : first + count])
        planned.append(together)
        first += count
    return tuple(planned) or (contents,)


def _pieces(contents: Contents) -> list[Contents]:
    """Return the smallest contents that may travel apart, in order."""
    pieces = [Contents(protocols=(one,)) for one in contents.protocols]
    owners: dict[str, list[OwnerPart]] = {}
    privates: dict[str, list[PrivatePart]] = {}
    for private in contents.privates:
        privates.setdefault(private.exam_hash, []).append(private)
    for owner in contents.owners:
        owners.setdefault(owner.exam_hash, []).append(owner)
    names = hashes_of(contents.records)
    for name, record in zip(names, contents.records, strict=True):
        pieces.append(
            Contents(
                records=(record,),
                owners=tuple(owners.pop(name, ())),
                privates=tuple(privates.pop(name, ())),
            )
        )
    pieces += [Contents(owners=(one,)) for left in owners.values() for one in left]
    pieces += [Contents(privates=(p,)) for left in privates.values() for p in left]
    pieces += [Contents(notes=(note,)) for note in contents.notes]
    pieces += [Contents(animals=(animal,)) for animal in contents.animals]
    return pieces + [Contents(receipts=(receipt,)) for receipt in contents.receipts]


def _how_many_fit(columns: Sequence[Columns], limit: int) -> int:
    """Return about how many pieces from the first fit together; at least one."""
    fitting, too_many = 1, 2
    while too_many <= len(columns) and _fit(columns[:too_many], limit):
        fitting, too_many = too_many, too_many * 2
    too_many = min(too_many, len(columns) + 1)
    while too_many - fitting > 1:
        middle = (fitting + too_many) // 2
        if _fit(columns[:middle], limit):
            fitting = middle
        else:
            too_many = middle
    return fitting


def _fit(columns: Sequence[Columns], limit: int) -> bool:
    joined = Columns()
    for one in columns:
        joined.add(one)
    try:
        packed = deflate((joined.structure, joined.times, joined.random))
    except BundleTooLargeError:
        return False
    return OVERHEAD + MANIFEST_ALLOWANCE + len(packed) <= limit


def _together(pieces: Sequence[Contents]) -> Contents:
    return Contents(
        records=tuple(one for piece in pieces for one in piece.records),
        notes=tuple(one for piece in pieces for one in piece.notes),
        owners=tuple(one for piece in pieces for one in piece.owners),
        protocols=tuple(one for piece in pieces for one in piece.protocols),
        animals=tuple(one for piece in pieces for one in piece.animals),
        receipts=tuple(one for piece in pieces for one in piece.receipts),
        privates=tuple(one for piece in pieces for one in piece.privates),
    )


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
