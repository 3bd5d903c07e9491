"""Take what the clinic sent back into a device: verified first, then one save.

Records and notes are verified with this device's keys, the clinic's, or those that the
clinic's signed manifest vouches for; what does not verify is left out and counted. A
receipt in it counts like one that was scanned.
"""

import contextlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from exam_app.crypto.curve_points import check_signing_key
from exam_app.crypto.errors import CryptoError
from exam_app.domain.moments import Moment
from exam_app.exchange.erasure import without_erased
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.inbox import keep_brought
from exam_app.exchange.merge import RECORD_KEYS, flat, merge
from exam_app.exchange.outbox import SHARED, TOLD, take_receipt
from exam_app.exchange.outgoing import RECEIVED
from exam_app.exchange.pairings import Clinic
from exam_app.exchange.verdicts import Brought, RecordArrival, checked_owner, is_animal
from exam_app.record.cose import key_id_of
from exam_app.record.errors import RecordError
from exam_app.record.records import ReadExam, read_exam
from exam_app.store.repositories.rows import closed_projection
from sync.bundle.bundle import BundleKind, OpenedBundle, open_bundle, refuse_demo
from sync.bundle.contents import OwnerPart
from sync.errors import BadManifestError, NotABundleError, ReceiptError
from sync.receipts import Outcome

CLINIC = "clinic"


@dataclass(slots=True)
class DayPack(Brought):
    """What a day pack brings; its records have no ``device_id``.

    Attributes:
        clinic: Who sealed it.
        received: When it was taken.
        animals: Checked, with ``record_keys``.
        keys: Public keys that the clinic vouches for, with what it calls the device,
            or empty.
        refused: How many records and notes did not verify.
        had_already: How many were here.
        receipts: How many receipts counted.
        private: How many records of other devices were left out because an older
            version wrote a private note into them.
    """

    clinic: Clinic
    received: Moment
    animals: tuple[Mapping[str, Any], ...] = ()
    keys: dict[bytes, str] = field(default_factory=dict)
    refused: int = 0
    had_already: int = 0
    receipts: int = 0
    private: int = 0


def take_day_pack(exchange: Exchange, sealed: bytes, now: Moment) -> DayPack:
    """Take a day pack into a device; taken again it changes nothing.

    Raises:
        SyncError: It is none of this device's clinic for it; nothing was kept.
        VaultError: The store could not save.
    """
    with exchange.vault.turn:
        clinic = exchange.pairing.confirmed_clinic()
        opened = _open(exchange, clinic, sealed)
        pack = DayPack(exchange, opened, clinic, now)
        pack.receipts = sum(_took(exchange, one) for one in opened.contents.receipts)
        _read(pack)
        _keep(pack)
        return pack


def _open(exchange: Exchange, clinic: Clinic, sealed: bytes) -> OpenedBundle:
    def public_key_of(key_id: bytes) -> bytes | None:
        return clinic.signing_key if key_id == key_id_of(clinic.signing_key) else None

    private = exchange.own_identity().agreement_private
    opened = open_bundle(sealed, private, public_key_of)
    refuse_demo(opened.manifest, is_demo_here=exchange.is_demo)
    if opened.manifest.kind is not BundleKind.DAY_PACK:
        raise NotABundleError("it is not for a device")
    if opened.manifest.sender_id != clinic.clinic_id:
        raise BadManifestError("its sender is not the clinic that signed it")
    return opened


def _took(exchange: Exchange, receipt: bytes) -> bool:
    try:
        take_receipt(exchange, receipt)
    except ReceiptError:
        # Of a bundle that is no longer known here; the others count.
        return False
    return True


def _read(pack: DayPack) -> None:
    exchange, contents = pack.exchange, pack.opened.contents
    own = exchange.own_keys()
    listed = contents.animals
    pack.animals = tuple(a for a in listed if is_animal(a, is_demo=pack.is_demo))
    pack.keys = dict.fromkeys((key for a in pack.animals for key in _keys(a)), "")
    pack.keys.update(pack.opened.manifest.signers)
    known = (*own, pack.clinic.signing_key, *pack.keys)
    owners = {part.exam_hash: part for part in contents.owners}
    own_ids = set(map(key_id_of, own))
    for signed in contents.records:
        try:
            read = read_exam(signed, known, pack.protocol)
        except RecordError:
            pack.refused += 1
            continue
        part = owners.get(read.exam_hash)
        _take_record(pack, signed, read, part, is_own=read.key_id in own_ids)
    for signed in contents.notes:
        _take_note(pack, signed, known)


def _take_record(
    pack: DayPack,
    signed: bytes,
    read: ReadExam,
    part: OwnerPart | None,
    *,
    is_own: bool,
) -> None:
    protocol = pack.protocol(read.exam.protocol_hash)
    if read.exam.is_demo != pack.is_demo or protocol is None:
        pack.refused += 1
        return
    if read.exam.private_notes and not is_own:
        pack.private += 1
        return
    outcome = _outcome(pack, read)
    if outcome is Outcome.HAD_ALREADY:
        pack.had_already += 1
        return
    owner = checked_owner(part, read) if part else None
    row = closed_projection(read.exam, protocol, read.exam_hash, "", read.key_id)
    pack.records.append(RecordArrival(signed, read, row, outcome, owner))


def _outcome(pack: DayPack, read: ReadExam) -> Outcome:
    """Say what a record is; the clinic has judged the claims it makes."""
    exam = read.exam
    rows = pack.exchange.vault.closed.revisions(exam.exam_id)
    same = [r.read for r in pack.records if r.read.exam.exam_id == exam.exam_id]
    hashes = {row.record_hash for row in rows} | {one.exam_hash for one in same}
    if read.exam_hash in hashes:
        return Outcome.HAD_ALREADY
    if exam.revision:
        return Outcome.REVISION
    return Outcome.FORK if hashes else Outcome.STORED


def _take_note(pack: DayPack, signed: bytes, known: Sequence[bytes]) -> None:
    outcome = pack.take_note(signed, known)[0].outcome
    pack.had_already += outcome is Outcome.HAD_ALREADY
    pack.refused += outcome in (Outcome.REFUSED, Outcome.QUARANTINED)


def _keys(animal: Mapping[str, Any]) -> Iterator[bytes]:
    for text in animal.get(RECORD_KEYS) or ():
        with contextlib.suppress(ValueError, TypeError, CryptoError):
            key = bytes.fromhex(text)
            check_signing_key(key)
            yield key


def _keep(pack: DayPack) -> None:
    """Keep everything in one save; what is here already stays as it is.

    The clinic's value of an animal's field is taken unless somebody here changed it
    and the clinic has not heard of that yet; then the value here stays and goes to the
    clinic, where a person decides.
    """
    exchange, clinic_id = pack.exchange, pack.clinic.clinic_id
    vault = exchange.vault
    with vault.transaction():
        exchange.pairing.clinic_reads(pack.clinic, pack.opened.manifest.packing)
        for key, name in pack.keys.items():
            exchange.keep_vouched_key(key, clinic_id, name)
        owners = pack.kept_owners()
        renewed = [animal.animal_id for animal, owner in owners if owner is not None]
        animals, aside = without_erased(exchange, pack.animals, renewed)
        keep_brought(pack, pack.received, clinic_id, aside)
        for animal in animals:
            _keep_animal(pack, animal)


def _keep_animal(pack: DayPack, animal: Mapping[str, Any]) -> None:
    theirs = {k: v for k, v in animal.items() if k != RECORD_KEYS}
    animal_id, identity = theirs["animal_id"], pack.exchange.identity
    animals, sequence = pack.exchange.vault.animals, pack.opened.manifest.sequence
    before = identity.version(animal_id, CLINIC)
    if before is not None and before.sequence > sequence:
        return
    had = before.values if before else {}
    known = tuple(v for v in (before and had, _heard(pack, animal_id)) if v)
    merged = merge(animals.get(animal_id) or {}, theirs, known)
    # A field that clashes keeps its older common value: the clinic must see the clash.
    common = {c.field: had.get(c.field) for c in merged.clashes}
    values = {k: v for k, v in {**flat(theirs), **common}.items() if v is not None}
    animals.put(merged.animal)
    identity.put_version(animal_id, CLINIC, values, sequence)
    identity.put_version(animal_id, SHARED, values, sequence)


def _heard(pack: DayPack, animal_id: str) -> Mapping[str, Any] | None:
    """Return what this device told, if the clinic had it when it made the pack."""
    exchange, made_ms = pack.exchange, pack.opened.manifest.made.utc_ms
    told = exchange.identity.version(animal_id, TOLD)
    if told is None:
        return None
    for bundle in exchange.outgoing.all():
        is_it = bundle.sequence == told.sequence and bundle.state == RECEIVED
        if is_it and bundle.recipient_id == pack.clinic.clinic_id:
            heard_ms = bundle.receipted_ms
            if heard_ms is not None and heard_ms <= made_ms:
                return told.values
    return None
