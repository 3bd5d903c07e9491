"""Receive a sealed bundle at the clinic: open, verify, decide, commit, then receipt.

Order of checks: the receipt of the same bytes kept already; size, header, seal and
manifest (``open_bundle``); demo against real; revocation; then every part by itself
(``arriving``). What a revoked or unknown device sent is set apart whole before the
refusal is raised. The receipt is signed before the commit, kept by it, and given out
after it; its code only when every record and note of the bundle is kept.
"""

from dataclasses import dataclass, replace

from exam_app.crypto import door
from exam_app.domain.moments import Moment
from sync.bundle.bundle import (
    BundleKind,
    Manifest,
    OpenedBundle,
    open_bundle,
    refuse_demo,
    refuse_revoked,
)
from sync.clinic.arrival_plan import ExamArrival, Plan, checked_animals
from sync.clinic.arriving import plan_arrival
from sync.clinic.inbox import Arrival, Inbox, KnownDevice, SetApart
from sync.errors import (
    BadManifestError,
    NotABundleError,
    RevokedDeviceError,
    UnknownDeviceError,
)
from sync.receipts import (
    Outcome,
    Receipt,
    ReceiptLine,
    read_receipt,
    receipt_code,
    sign_receipt,
)

HIGHEST_SEQUENCE = 10**9
UNKNOWN_DEVICE = "it comes from a device that is not paired here"
REVOKED_DEVICE = "its device was revoked before it was made"
_KEPT = (Outcome.STORED, Outcome.HAD_ALREADY, Outcome.REVISION, Outcome.FORK)


@dataclass(frozen=True, slots=True)
class Received:
    """What became of a bundle.

    Attributes:
        receipt_code: Eight characters to type, or empty when a part was refused or
            set apart: the code says that the whole bundle was stored.
        receipt: The signed receipt.
        exams: One for each record, in the bundle's order.
        missing_sequences: Of the same device, below its highest.
        skew_ms: As of ``Arrival``.
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


def receive(sealed: bytes, inbox: Inbox, now: Moment) -> Received:
    """Import a sealed bundle, once however often it is given.

    Raises:
        SyncError: Refused; what was set apart is kept whole, nothing else is.
        VaultError: The store refused the save; nothing was kept, no receipt exists.
    """
    with inbox.turn():
        return _receive(sealed, inbox, now, admitted_by="")


def admit(key: str, inbox: Inbox, now: Moment, by: str) -> Received:
    """Import a bundle from quarantine because a person says so.

    Args:
        key: Of the bundle set apart.
        by: Name of the person; empty is none.

    Raises:
        NotABundleError: Nothing is held under this key.
        UnknownDeviceError: Its device is still not paired.
    """
    with inbox.turn():
        sealed = inbox.quarantined(key)
        if sealed is None or not by:
            raise NotABundleError("nothing is held, or nobody admits it")
        return _receive(sealed, inbox, now, admitted_by=by)


def _receive(sealed: bytes, inbox: Inbox, now: Moment, admitted_by: str) -> Received:
    opened, device = _open(sealed, inbox, now)
    manifest, clinic = opened.manifest, inbox.clinic()
    refuse_demo(manifest, is_demo_here=clinic.is_demo)
    kept = inbox.kept_receipt(opened.bundle_hash)
    outcomes = inbox.outcomes(opened.bundle_hash)
    if kept is not None and all(outcome in _KEPT for outcome in outcomes.values()):
        return _known(opened, device, inbox, kept, now)
    is_reused = inbox.is_number_used(
        manifest.sender_id, manifest.sequence, opened.bundle_hash
    )
    if not admitted_by:
        _refuse_revoked(sealed, opened, device, inbox, now, is_reused=is_reused)
    plan = plan_arrival(inbox, opened, device, is_demo=clinic.is_demo)
    view = _receipt(opened, plan.outcomes, clinic.clinic_id, now)
    receipt = sign_receipt(view, clinic.signing_seed)
    inbox.commit(_arrival(opened, plan, receipt, now, admitted_by))
    return Received(
        _code(opened, view),
        receipt,
        view,
        tuple(plan.exams),
        inbox.missing_sequences(manifest.sender_id),
        _skew(manifest, now),
        was_known=kept is not None,
        is_number_reused=is_reused,
    )


def _open(sealed: bytes, inbox: Inbox, now: Moment) -> tuple[OpenedBundle, KnownDevice]:
    found: list[KnownDevice] = []

    def public_key_of(key_id: bytes) -> bytes | None:
        device = inbox.device(key_id)
        if device is None:
            return None
        found.append(device)
        own = (k for k in device.signing_keys if door.sha256(k).startswith(key_id))
        return next(own, None)

    try:
        opened = open_bundle(sealed, inbox.clinic().agreement_private, public_key_of)
    except UnknownDeviceError:
        key = door.sha256(sealed).hex()
        inbox.set_apart(SetApart(key, "bundle", sealed, UNKNOWN_DEVICE, key), now)
        raise
    if opened.manifest.kind is not BundleKind.EXAMS:
        raise NotABundleError("it is not for a clinic")
    device = found[-1]
    if opened.manifest.sender_id not in device.sender_ids:
        raise BadManifestError("its sender is not the device that signed it")
    if not 1 <= opened.manifest.sequence <= HIGHEST_SEQUENCE:
        raise BadManifestError("its number is out of range")
    return opened, device


def _refuse_revoked(
    sealed: bytes,
    opened: OpenedBundle,
    device: KnownDevice,
    inbox: Inbox,
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
        item = SetApart(key, "bundle", sealed, REVOKED_DEVICE, key, *sender)
        inbox.set_apart(item, now)
        raise


def _known(
    opened: OpenedBundle, device: KnownDevice, inbox: Inbox, receipt: bytes, now: Moment
) -> Received:
    """Answer the receipt that was given the first time."""
    manifest = opened.manifest
    public = door.signing_public_key(inbox.clinic().signing_seed)
    view = read_receipt(receipt, public, lambda _hash: manifest.signed_hashes)
    plan = plan_arrival(inbox, opened, device, is_demo=manifest.is_demo)
    told = zip(plan.exams, view.lines, strict=False)
    exams = tuple(replace(exam, outcome=line.outcome) for exam, line in told)
    return Received(
        _code(opened, view),
        receipt,
        view,
        exams,
        inbox.missing_sequences(manifest.sender_id),
        _skew(manifest, now),
        was_known=True,
    )


def _receipt(
    opened: OpenedBundle, outcomes: dict[str, Outcome], clinic_id: str, now: Moment
) -> Receipt:
    manifest = opened.manifest
    return Receipt(
        clinic_id,
        manifest.sender_id,
        opened.bundle_hash,
        manifest.sequence,
        now,
        tuple(ReceiptLine(h, outcomes[h]) for h in manifest.signed_hashes),
        manifest.is_demo,
    )


def _arrival(
    opened: OpenedBundle, plan: Plan, receipt: bytes, now: Moment, admitted_by: str
) -> Arrival:
    manifest = opened.manifest
    return Arrival(
        opened.bundle_hash,
        manifest.sender_id,
        manifest.sequence,
        manifest.kind.value,
        manifest.made,
        now,
        _skew(manifest, now),
        {key: outcome.value for key, outcome in plan.outcomes.items()},
        receipt,
        tuple((key, content) for key, (content, _) in plan.protocols.items()),
        tuple(plan.records),
        tuple(plan.notes),
        checked_animals(plan),
        tuple(plan.set_apart),
        tuple(plan.freed),
        admitted_by,
        tuple(plan.privates),
    )


def _code(opened: OpenedBundle, view: Receipt) -> str:
    if any(line.outcome not in _KEPT for line in view.lines):
        return ""
    return receipt_code(opened.receipt_secret, opened.bundle_hash)


def _skew(manifest: Manifest, now: Moment) -> int:
    return manifest.made.utc_ms - now.utc_ms
