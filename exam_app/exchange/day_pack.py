"""Take what the clinic sent back into a device: verified first, then one save.

Records and notes are verified with this device's keys, the clinic's, or those that the
clinic's signed manifest vouches for; what does not verify is left out and counted. A
receipt in it counts like one that was scanned.
"""

import contextlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from exam_app.crypto import door
from exam_app.crypto.curve_points import check_signing_key
from exam_app.crypto.errors import CryptoError
from exam_app.domain.errors import ExamError
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.exchange.erasure import without_erased
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.keeping import keep_record, note_set_aside
from exam_app.exchange.merge import RECORD_KEYS, flat, merge
from exam_app.exchange.outbox import SHARED, TOLD, take_receipt
from exam_app.exchange.outgoing import RECEIVED
from exam_app.exchange.pairings import Recipient
from exam_app.exchange.protocols import protocol_lookup, read_protocol
from exam_app.exchange.verdicts import (
    NoteArrival,
    RecordArrival,
    checked_owner,
    is_animal,
)
from exam_app.record.cose import key_id_of
from exam_app.record.errors import RecordError
from exam_app.record.records import ReadExam, read_exam, read_note
from sync.bundle.bundle import (
    BundleKind,
    OpenedBundle,
    OwnerPart,
    open_bundle,
    refuse_demo,
)
from sync.errors import BadManifestError, NotABundleError, ReceiptError
from sync.receipts import Outcome

CLINIC = "clinic"


@dataclass(frozen=True, slots=True)
class DayPack:
    """What a verified day pack brings.

    Attributes:
        records: New ones; their ``device_id`` is empty.
        notes: New ones.
        protocols: Content hash and content.
        animals: Checked, with ``record_keys``.
        keys: Public keys that the clinic vouches for, with what it calls the device,
            or empty.
        refused: How many records and notes did not verify.
        had_already: How many were here.
        receipts: How many receipts counted.
        private: How many records of other devices were left out because an older
            version wrote a private note into them.
    """

    bundle_hash: str
    clinic_id: str
    sequence: int
    made: Moment
    received: Moment
    records: tuple[RecordArrival, ...]
    notes: tuple[NoteArrival, ...]
    protocols: tuple[tuple[str, bytes], ...]
    animals: tuple[Mapping[str, Any], ...]
    keys: Mapping[bytes, str]
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
    with exchange.turn():
        clinic = exchange.pairing.confirmed_clinic()
        opened = _open(exchange, clinic, sealed)
        receipts = sum(_took(exchange, one) for one in opened.contents.receipts)
        pack = _read(exchange, clinic, opened, now, receipts)
        _keep(exchange, pack)
        return pack


def _open(exchange: Exchange, clinic: Recipient, sealed: bytes) -> OpenedBundle:
    def public_key_of(key_id: bytes) -> bytes | None:
        return clinic.signing_key if key_id == key_id_of(clinic.signing_key) else None

    private = exchange.own_identity().agreement_private
    opened = open_bundle(sealed, private, public_key_of)
    refuse_demo(opened.manifest, is_demo_here=exchange.is_demo)
    if opened.manifest.kind is not BundleKind.DAY_PACK:
        raise NotABundleError("it is not for a device")
    if opened.manifest.sender_id != clinic.recipient_id:
        raise BadManifestError("its sender is not the clinic that signed it")
    return opened


def _took(exchange: Exchange, receipt: bytes) -> bool:
    try:
        take_receipt(exchange, receipt)
    except ReceiptError:
        # Of a bundle that is no longer known here; the others count.
        return False
    return True


def _read(
    exchange: Exchange,
    clinic: Recipient,
    opened: OpenedBundle,
    now: Moment,
    receipts: int,
) -> DayPack:
    contents, manifest = opened.contents, opened.manifest
    reading = _Reading(exchange, clinic, opened)
    reading.read_protocols()
    owners = {part.exam_hash: part for part in contents.owners}
    for signed in contents.records:
        reading.read_record(signed, owners)
    for signed in contents.notes:
        reading.read_note(signed)
    return DayPack(
        opened.bundle_hash,
        clinic.recipient_id,
        manifest.sequence,
        manifest.made,
        now,
        tuple(reading.records),
        tuple(reading.notes),
        tuple((key, content) for key, (content, _) in reading.protocols.items()),
        reading.animals,
        reading.keys,
        reading.refused,
        reading.had_already,
        receipts,
        reading.private,
    )


class _Reading:
    def __init__(
        self, exchange: Exchange, clinic: Recipient, opened: OpenedBundle
    ) -> None:
        self._vault = exchange.vault
        self._known_protocol = protocol_lookup(exchange.vault)
        self._contents = opened.contents
        self._is_demo = opened.manifest.is_demo
        self.animals = tuple(
            animal
            for animal in opened.contents.animals
            if is_animal(animal, is_demo=self._is_demo)
        )
        self.keys = dict.fromkeys((k for a in self.animals for k in _keys(a)), "")
        self.keys.update(opened.manifest.signers)
        self._known = (*exchange.own_keys(), clinic.signing_key, *self.keys)
        self.protocols: dict[str, tuple[bytes, SpeciesProtocol]] = {}
        self.records: list[RecordArrival] = []
        self.notes: list[NoteArrival] = []
        self.refused = 0
        self.had_already = 0
        self.private = 0
        self._own_ids = set(map(key_id_of, exchange.own_keys()))

    def read_protocols(self) -> None:
        for content in self._contents.protocols:
            content_hash = door.sha256(content).hex()
            if self._known_protocol(content_hash) is not None:
                continue
            with contextlib.suppress(ExamError):
                read = read_protocol(content).protocol
                self.protocols[content_hash] = (content, read)

    def read_record(self, signed: bytes, owners: Mapping[str, OwnerPart]) -> None:
        try:
            read = read_exam(signed, self._known, self._protocol)
        except RecordError:
            self.refused += 1
            return
        protocol = self._protocol(read.exam.protocol_hash)
        if read.exam.is_demo != self._is_demo or protocol is None:
            self.refused += 1
            return
        if read.exam.private_notes and read.key_id not in self._own_ids:
            self.private += 1
            return
        outcome = self._outcome(read)
        if outcome is Outcome.HAD_ALREADY:
            self.had_already += 1
            return
        part = owners.get(read.exam_hash)
        owner = checked_owner(part, read) if part else None
        self.records.append(RecordArrival(signed, read, protocol, outcome, "", owner))

    def read_note(self, signed: bytes) -> None:
        try:
            note = read_note(signed, self._known).note
        except RecordError:
            self.refused += 1
            return
        kept = self._vault.notes.get(note.note_id)
        is_repeated = any(n.note.note_id == note.note_id for n in self.notes)
        if kept == signed:
            self.had_already += 1
        elif kept is not None or is_repeated or note.is_demo != self._is_demo:
            self.refused += 1
        else:
            self.notes.append(NoteArrival(signed, note))

    def _protocol(self, content_hash: str) -> SpeciesProtocol | None:
        brought = self.protocols.get(content_hash)
        return brought[1] if brought else self._known_protocol(content_hash)

    def _outcome(self, read: ReadExam) -> Outcome:
        """Say what a record is; the clinic has judged the claims it makes."""
        exam = read.exam
        hashes = {str(row["hash"]) for row in self._vault.closed.claims(exam.exam_id)}
        same = [r.read for r in self.records if r.read.exam.exam_id == exam.exam_id]
        hashes |= {one.exam_hash for one in same}
        if read.exam_hash in hashes:
            return Outcome.HAD_ALREADY
        if exam.revision:
            return Outcome.REVISION
        return Outcome.FORK if hashes else Outcome.STORED


def _keys(animal: Mapping[str, Any]) -> Iterator[bytes]:
    for text in animal.get(RECORD_KEYS) or ():
        with contextlib.suppress(ValueError, TypeError, CryptoError):
            key = bytes.fromhex(text)
            check_signing_key(key)
            yield key


def _keep(exchange: Exchange, pack: DayPack) -> None:
    """Keep everything in one save; what is here already stays as it is.

    The clinic's value of an animal's field is taken unless somebody here changed it
    and the clinic has not heard of that yet; then the value here stays and goes to the
    clinic, where a person decides.
    """
    vault = exchange.vault
    with vault.transaction():
        for content_hash, content in pack.protocols:
            vault.protocols.put(content_hash, content)
        for key, name in pack.keys.items():
            exchange.keep_vouched_key(key, pack.clinic_id, name)
        aside, renewed = set(), set()
        for record in pack.records:
            animal_id = record.read.exam.animal.animal_id
            if keep_record(exchange, record, pack.received):
                aside.add(animal_id)
            elif record.owner is not None:
                renewed.add(animal_id)
        animals, unnamed = without_erased(exchange, pack.animals, renewed)
        note_set_aside(exchange, aside | unnamed, pack.clinic_id, pack.received)
        for note in pack.notes:
            vault.notes.put(note.note.note_id, note.note.exam_id, note.signed)
        for animal in animals:
            _keep_animal(exchange, pack, animal)


def _keep_animal(exchange: Exchange, pack: DayPack, animal: Mapping[str, Any]) -> None:
    theirs = {k: v for k, v in animal.items() if k != RECORD_KEYS}
    animal_id, identity = theirs["animal_id"], exchange.identity
    before = identity.version(animal_id, CLINIC)
    if before is not None and before["sequence"] > pack.sequence:
        return
    had = before["values"] if before else {}
    known = tuple(v for v in (before and had, _heard(exchange, pack, animal_id)) if v)
    merged = merge(exchange.vault.animals.get(animal_id) or {}, theirs, known)
    # A field that clashes keeps its older common value: the clinic must see the clash.
    common = {c.field: had.get(c.field) for c in merged.clashes}
    values = {k: v for k, v in {**flat(theirs), **common}.items() if v is not None}
    exchange.vault.animals.put(merged.animal)
    identity.put_version(animal_id, CLINIC, values, pack.sequence)
    identity.put_version(animal_id, SHARED, values, pack.sequence)


def _heard(
    exchange: Exchange, pack: DayPack, animal_id: str
) -> Mapping[str, Any] | None:
    """Return what this device told, if the clinic had it when it made the pack."""
    told = exchange.identity.version(animal_id, TOLD)
    if told is None:
        return None
    for bundle in exchange.outgoing.all():
        is_it = bundle["sequence"] == told["sequence"]
        if is_it and bundle["recipient_id"] == pack.clinic_id:
            is_heard = bundle["state"] == RECEIVED
            heard_ms = bundle.get("receipted_ms", pack.made.utc_ms + 1)
            if is_heard and heard_ms <= pack.made.utc_ms:
                values: Mapping[str, Any] = told["values"]
                return values
    return None
