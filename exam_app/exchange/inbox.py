"""Receive a sealed bundle at the clinic: open, verify, decide, commit, then receipt.

Order of checks: the receipt of the same bytes kept already; size, header, seal and
manifest (``open_bundle``); demo against real; revocation; then every part by itself
(``arriving``). What a revoked or unknown device sent is set apart whole before the
refusal is raised. The receipt is signed before the commit, kept by it, and given out
after it; its code only when every record and note of the bundle is kept.
"""

import contextlib
import gc
from collections.abc import Iterator
from dataclasses import dataclass, replace

from exam_app.crypto import door
from exam_app.domain.moments import Moment
from exam_app.exchange.arriving import ExamArrival, Plan, plan_arrival
from exam_app.exchange.erasure import without_erased
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.identity import keep_animals
from exam_app.exchange.incoming import ADMITTED, HELD, Incoming, SetApart
from exam_app.exchange.pairings import Device
from exam_app.exchange.verdicts import (
    Brought,
    RecordArrival,
    SaltedOwner,
    is_animal,
    kept_owner,
)
from exam_app.language.catalogue import to_translate
from exam_app.record.plain_form import to_plain
from exam_app.store.vault.vault import Vault
from sync.bundle.bundle import (
    BundleKind,
    Manifest,
    OpenedBundle,
    PublicKeyOf,
    open_bundle,
    refuse_demo,
    refuse_revoked,
)
from sync.bundle.packing import NEWEST_PACKING
from sync.errors import (
    BadManifestError,
    NotABundleError,
    RevokedDeviceError,
    UnknownDeviceError,
)
from sync.receipts import (
    KEPT_OUTCOMES,
    Outcome,
    Receipt,
    ReceiptLine,
    read_receipt,
    receipt_code,
    sign_receipt,
)

MOST_UNKNOWN = 50
MOST_UNKNOWN_BYTES = 32 * 2**20
HIGHEST_SEQUENCE = 10**9
UNKNOWN_DEVICE = to_translate("it comes from a device that is not paired here")
BY_CLINIC = "clinic"
REVOKED_DEVICE = to_translate("its device was revoked before it was made")


@dataclass(frozen=True, slots=True)
class Received:
    """What became of a bundle.

    Attributes:
        receipt_code: Eight characters to type, or empty when a part was refused or
            set apart: the code says that the whole bundle was stored.
        receipt: The signed receipt.
        exams: One for each record, in the bundle's order.
        missing_sequences: Of the same device, below its highest.
        skew_ms: The bundle's time less the clinic's, so a fast device clock is above
            zero; what travelled for days looks slow.
        was_known: Whether the same bytes were received before.
        is_number_reused: Whether another bundle of the device had the same number:
            two copies of one device may be at work.
    """

    receipt_code: str
    receipt: bytes
    receipt_view: Receipt
    exams: tuple[ExamArrival, ...]
    missing_sequences: tuple[int, ...]
    skew_ms: int
    was_known: bool = False
    is_number_reused: bool = False


def receive(sealed: bytes, exchange: Exchange, now: Moment) -> Received:
    """Import a sealed bundle, once however often it is given.

    Raises:
        SyncError: Refused; what was set apart is kept whole, nothing else is.
        VaultError: The store refused the save; nothing was kept, no receipt exists.
    """
    with _nothing_collected():
        return exchange.vault.attempt(
            lambda: _receive(sealed, exchange, now, admitted_by="")
        )


@contextlib.contextmanager
def _nothing_collected() -> Iterator[None]:
    """Put off the search for values that only hold each other.

    A bundle makes some thousand values a second and none of that kind, and all of them
    go when it is kept; the search through them took a fourteenth of an import. What is
    held meanwhile is what the limits of a bundle allow.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        # Where two overlap, the one that began first ends it.
        if was_on:
            gc.enable()


def admit(key: str, exchange: Exchange, now: Moment, by: str) -> Received:
    """Import a bundle from quarantine because a person says so.

    Args:
        by: Name of the person; empty is none.

    Raises:
        NotABundleError: Nothing is held under this key.
        UnknownDeviceError: Its device is still not paired.
    """

    def from_quarantine() -> Received:
        sealed = exchange.quarantine.content(key)
        if sealed is None or not by:
            raise NotABundleError("nothing is held, or nobody admits it")
        return _receive(sealed, exchange, now, admitted_by=by)

    return exchange.vault.attempt(from_quarantine)


def open_known(exchange: Exchange, sealed: bytes) -> tuple[OpenedBundle, Device]:
    """Open what a confirmed device, revoked or not, sealed to this computer.

    Raises:
        SyncError: It cannot be opened; ``UnknownDeviceError`` when only the device is
            not known here.
    """
    found: list[Device] = []
    private = exchange.own_identity().agreement_private
    opened = open_bundle(sealed, private, public_key_of(exchange, found))
    return opened, found[-1]


def public_key_of(exchange: Exchange, found: list[Device]) -> PublicKeyOf:
    """Return what gives the key of a known device by its id.

    Args:
        exchange: The clinic's tables.
        found: Gains the device whose key was asked for.
    """

    def given(key_id: bytes) -> bytes | None:
        kept = exchange.pairing.device_of_key(key_id)
        if kept is None:
            return None
        found.append(kept)
        own = kept.signing_keys
        return next((k for k in own if door.sha256(k).startswith(key_id)), None)

    return given


def _receive(
    sealed: bytes, exchange: Exchange, now: Moment, admitted_by: str
) -> Received:
    opened, device = _open(sealed, exchange, now)
    manifest, incoming = opened.manifest, exchange.incoming
    refuse_demo(manifest, is_demo_here=exchange.is_demo)
    kept = incoming.get(opened.bundle_hash)
    outcomes = kept.outcomes.values() if kept else ("",)
    is_whole = all(one in KEPT_OUTCOMES for one in outcomes)
    of_number = incoming.of_number(manifest.sender_id, manifest.sequence)
    is_reused = not is_whole and bool(of_number - {opened.bundle_hash})
    if not is_whole and not admitted_by:
        _refuse_revoked(sealed, opened, device, exchange, now, is_reused=is_reused)
    plan = plan_arrival(exchange, opened, device)
    if is_whole:
        receipt, view = _given_before(plan)
    else:
        receipt, view = _receipt(plan, now)
        keep_arrival(plan, receipt, now, admitted_by)
    is_code = all(line.outcome in KEPT_OUTCOMES for line in view.lines)
    return Received(
        receipt_code(opened.receipt_secret, opened.bundle_hash) if is_code else "",
        receipt,
        view,
        tuple(plan.exams),
        incoming.missing(manifest.sender_id),
        _skew(manifest, now),
        was_known=kept is not None,
        is_number_reused=is_reused,
    )


def _receipt(plan: Plan, now: Moment) -> tuple[bytes, Receipt]:
    manifest, own = plan.opened.manifest, plan.exchange.own_identity()
    view = Receipt(
        own.own_ids[0],
        manifest.sender_id,
        plan.opened.bundle_hash,
        manifest.sequence,
        now,
        tuple(ReceiptLine(h, plan.outcomes[h]) for h in manifest.signed_hashes),
        manifest.is_demo,
        NEWEST_PACKING,
    )
    return sign_receipt(view, own.signing_seed), view


def _given_before(plan: Plan) -> tuple[bytes, Receipt]:
    """Return the receipt of the first time, and let the exams say what it says."""
    exchange, hashes = plan.exchange, plan.opened.manifest.signed_hashes
    receipt = exchange.incoming.receipt(plan.opened.bundle_hash) or b""
    public = door.signing_public_key(exchange.own_identity().signing_seed)
    view = read_receipt(receipt, public, lambda _hash: hashes)
    told = zip(plan.exams, view.lines, strict=False)
    plan.exams = [replace(exam, outcome=line.outcome) for exam, line in told]
    return receipt, view


def _open(
    sealed: bytes, exchange: Exchange, now: Moment
) -> tuple[OpenedBundle, Device]:
    try:
        opened, device = open_known(exchange, sealed)
    except UnknownDeviceError:
        if _has_room_for(exchange, sealed):
            key = door.sha256(sealed).hex()
            apart = SetApart("bundle", sealed, UNKNOWN_DEVICE, key)
            exchange.quarantine.put(apart, now)
        raise
    if opened.manifest.kind is not BundleKind.EXAMS:
        raise NotABundleError("it is not for a clinic")
    if opened.manifest.sender_id not in device.sender_ids:
        raise BadManifestError("its sender is not the device that signed it")
    if not 1 <= opened.manifest.sequence <= HIGHEST_SEQUENCE:
        raise BadManifestError("its number is out of range")
    return opened, device


def _has_room_for(exchange: Exchange, sealed: bytes) -> bool:
    held = exchange.quarantine.held()
    sizes = [one.size for one in held if not one.device_id]
    is_few = len(sizes) < MOST_UNKNOWN
    return is_few and sum(sizes) + len(sealed) <= MOST_UNKNOWN_BYTES


def _refuse_revoked(
    sealed: bytes,
    opened: OpenedBundle,
    device: Device,
    exchange: Exchange,
    now: Moment,
    *,
    is_reused: bool,
) -> None:
    manifest, last_good = opened.manifest, device.revoked_after
    # A thief could use an old number again.
    highest = 0 if is_reused and last_good is not None else last_good
    try:
        refuse_revoked(manifest, highest)
    except RevokedDeviceError:
        key, sender = opened.bundle_hash, (manifest.sender_id, manifest.sequence)
        apart = SetApart("bundle", sealed, REVOKED_DEVICE, key, *sender)
        exchange.quarantine.put(apart, now)
        raise


def _skew(manifest: Manifest, now: Moment) -> int:
    return manifest.made.utc_ms - now.utc_ms


def keep_arrival(
    plan: Plan, receipt: bytes, received: Moment, admitted_by: str
) -> None:
    """Keep what was planned of a bundle with its receipt: all of it or nothing.

    Args:
        receipt: As signed; part of the save, so that none exists for what was not
            stored.
        admitted_by: Who admitted the bundle from quarantine, or empty.

    Raises:
        VaultError: The save failed; nothing was kept.
    """
    exchange, manifest, vault = plan.exchange, plan.opened.manifest, plan.exchange.vault
    sender, owners = (manifest.sender_id, manifest.sequence), plan.kept_owners()
    renewed = [animal.animal_id for animal, owner in owners if owner is not None]
    animals = plan.opened.contents.animals
    checked = [one for one in animals if is_animal(one, is_demo=plan.is_demo)]
    listed, aside = without_erased(exchange, checked, renewed)
    with vault.transaction():
        exchange.pairing.device_reads(plan.device, manifest.packing)
        keep_brought(plan, received, manifest.sender_id, aside)
        for private in plan.privates:
            vault.privates.put(*private)
        later, uncompared = keep_animals(
            vault.animals, exchange.identity, owners, listed, *sender, received.utc_ms
        )
        _keep_apart(plan, received, admitted_by)
        row = Incoming(
            bundle_hash=plan.opened.bundle_hash,
            device_id=manifest.sender_id,
            sequence=manifest.sequence,
            kind=manifest.kind.value,
            made_ms=manifest.made.utc_ms,
            received_ms=received.utc_ms,
            received=received.date_and_time(),
            skew_ms=_skew(manifest, received),
            exam_count=len(plan.records),
            admitted_by=admitted_by,
            outcomes={key: one.value for key, one in plan.outcomes.items()},
            pairs_aside=later or None,
            uncompared=uncompared or None,
        )
        exchange.incoming.put(row, receipt)


def keep_brought(
    brought: Brought, received: Moment, sender_id: str, aside: set[str]
) -> None:
    """Keep protocols, records and notes, inside the caller's transaction.

    Args:
        aside: Animals whose owner details were erased here before and came again
            beside no record; for a person.
    """
    exchange, vault = brought.exchange, brought.exchange.vault
    when = received.date_and_time()
    for content_hash, (content, _) in brought.protocols.items():
        vault.protocols.put(content_hash, content)
    for record in brought.records:
        owner = kept_owner(exchange, record)
        _keep_record(vault, record, owner, when)
        if owner is None and record.owner is not None:
            aside = aside | {record.read.exam.animal.animal_id}
    for animal_id in sorted(aside):
        exchange.erasures.note_set_aside(animal_id, sender_id, when)
    for note in brought.notes:
        vault.notes.put(note.note.note_id, note.note.exam_id, note.signed)


def _keep_record(
    vault: Vault, record: RecordArrival, owner: SaltedOwner | None, when: str
) -> None:
    row, is_fork = record.row, record.outcome is Outcome.FORK
    vault.closed.put(row.as_received(when, is_fork=is_fork), record.signed)
    named = [one.sha256 for one in record.read.exam.photos]
    # A day pack's records name no device; their pictures are not this one's own.
    vault.photographs.expect(row.exam_id, named, row.device_id or BY_CLINIC)
    if owner is not None:
        key = f"{row.exam_id}:{row.record_hash}" if is_fork else row.exam_id
        vault.owners.put(key, owner[0], to_plain(owner[1]))


def _keep_apart(plan: Plan, received: Moment, admitted_by: str) -> None:
    quarantine, bundle_hash = plan.exchange.quarantine, plan.opened.bundle_hash
    for item in plan.set_apart:
        quarantine.put(item, received)
    stored = {r.read.exam_hash for r in plan.records}
    for key in (*plan.freed, bundle_hash, *stored):
        kept = quarantine.get(key)
        if kept is not None and kept.state == HELD:
            quarantine.decide(key, ADMITTED, admitted_by, received.utc_ms)
