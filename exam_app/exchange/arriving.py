"""Verify what lies in an opened bundle and plan what becomes of each part.

Protocols are checked by hash before anything is read with them. Every record and note
is verified with the sending device's own keys; one that does not fit is refused or set
apart alone, and the others are not concerned. Nothing is written here.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from exam_app.crypto import door
from exam_app.domain.wording.pressing_words import pressing_lines
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.incoming import SetApart
from exam_app.exchange.pairings import Device
from exam_app.exchange.verdicts import (
    DEMO_MIXED,
    Brought,
    RecordArrival,
    SaltedOwner,
    Verdict,
    checked_owner,
    judge,
)
from exam_app.language.catalogue import in_english, to_translate
from exam_app.record.errors import ProtocolNotKeptError, RecordError
from exam_app.record.records import ReadExam, read_exam
from exam_app.record.salted_blocks import block_matches, read_private
from exam_app.store.repositories.rows import ClosedExam, closed_projection
from sync.bundle.bundle import OpenedBundle
from sync.bundle.contents import OwnerPart, PrivatePart
from sync.receipts import Outcome

PROTOCOL_MISSING = to_translate("its species protocol is not here")
OWNER_FAULT = to_translate(
    "the owner details beside it are not the signed ones and were left out"
)
PRIVATE_FAULT = to_translate(
    "the private note beside it is not the signed one and was left out"
)
_ID = re.compile("[0-9a-f]{32}")
_STORED = (Outcome.STORED, Outcome.REVISION, Outcome.FORK)


@dataclass(frozen=True, slots=True)
class ExamArrival:
    """What became of one exam, for the screen.

    Attributes:
        name: The animal's name, or empty when the record was not read.
        reason: Why it, or what came beside it, was refused or set apart, or empty.
    """

    record_hash: str
    outcome: Outcome
    name: str = ""
    reason: str = ""


@dataclass(slots=True)
class Plan(Brought):
    """What is to be kept of a bundle, while it is being decided.

    Attributes:
        exams: One for each record, in the bundle's order.
        outcomes: By hash of record or note.
        freed: Keys of what was set apart and is stored now.
        privates: Exam id, record hash, salt and block of each private note that
            matches its record.
    """

    device: Device
    exams: list[ExamArrival] = field(default_factory=list)
    outcomes: dict[str, Outcome] = field(default_factory=dict)
    set_apart: list[SetApart] = field(default_factory=list)
    freed: list[str] = field(default_factory=list)
    private_parts: dict[str, PrivatePart] = field(default_factory=dict)
    privates: list[tuple[str, str, bytes, bytes]] = field(default_factory=list)
    revisions: dict[str, list[ClosedExam]] = field(default_factory=dict)

    def kept(self, exam_id: str) -> list[ClosedExam]:
        """Return what is kept of an exam, with what is to be kept."""
        if exam_id not in self.revisions:
            self.revisions[exam_id] = self.exchange.vault.closed.revisions(exam_id)
        return self.revisions[exam_id]

    def put_apart(
        self, kind: str, signed: bytes, verdict: Verdict, exam_id: str
    ) -> None:
        """Plan to keep a record or note whole, and not among the others."""
        manifest = self.opened.manifest
        item = SetApart(
            kind,
            signed,
            verdict.reason,
            self.opened.bundle_hash,
            manifest.sender_id,
            manifest.sequence,
            exam_id,
            verdict.waits_for,
        )
        self.set_apart.append(item)


def plan_arrival(exchange: Exchange, opened: OpenedBundle, device: Device) -> Plan:
    """Return what becomes of everything in an opened bundle."""
    plan = Plan(exchange, opened, device)
    plan.private_parts.update({p.exam_hash: p for p in opened.contents.privates})
    owners = {part.exam_hash: part for part in opened.contents.owners}
    keys = device.signing_keys
    read = [_read(plan, signed, keys) for signed in opened.contents.records]
    expect_arrival(plan, [one for one in read if isinstance(one, ReadExam)])
    for signed, one in zip(opened.contents.records, read, strict=True):
        arrived = _take_record(plan, signed, one, owners)
        plan.exams.append(arrived)
        plan.outcomes.setdefault(arrived.record_hash, arrived.outcome)
    for signed in opened.contents.notes:
        _take_note(plan, signed)
    _free_waiting(plan)
    return plan


def _read(plan: Plan, signed: bytes, keys: tuple[bytes, ...]) -> ReadExam | Verdict:
    """Verify and read a record, or say why it cannot be read."""
    try:
        return read_exam(signed, keys, plan.protocol)
    except ProtocolNotKeptError as error:
        wanted = f"protocol:{error.protocol_hash}"
        return Verdict(Outcome.QUARANTINED, PROTOCOL_MISSING, wanted)
    except RecordError as error:
        return Verdict(Outcome.REFUSED, type(error).__name__)


def expect_arrival(plan: Plan, read: Sequence[ReadExam]) -> None:
    """Tell the store all at once what the records of a bundle will be compared with."""
    exams = [(one.exam.exam_id, f"{one.exam.exam_id}:{one.exam_hash}") for one in read]
    ids = {one.exam.animal.animal_id for one in read}
    listed = (animal.get("animal_id") for animal in plan.opened.contents.animals)
    ids |= {one for one in listed if isinstance(one, str) and _ID.fullmatch(one)}
    sender = plan.opened.manifest.sender_id
    wanted = {
        "closed": [key for both in exams for key in both],
        "revised": [beside for _, beside in exams],
        "owner_blocks": [exam_id for exam_id, _ in exams],
        "erased_owners": [one.owner_hash for one in read if one.owner_hash],
        "animals": sorted(ids),
        "animal_versions": [
            f"{one}:{side}:{sender}" for one in sorted(ids) for side in ("seen", "sent")
        ],
        "photographs": [photo.sha256 for one in read for photo in one.exam.photos],
    }
    plan.exchange.vault.tables.expect(wanted)


def _take_record(
    plan: Plan,
    signed: bytes,
    read: ReadExam | Verdict,
    owners: Mapping[str, OwnerPart],
) -> ExamArrival:
    if isinstance(read, Verdict):
        return _apart(plan, signed, read)
    keys = plan.device.signing_keys
    verdict = _judge(plan, read, keys)
    has_fault = verdict.outcome is not Outcome.REFUSED and _take_private(plan, read)
    if verdict.outcome in (Outcome.QUARANTINED, Outcome.REFUSED):
        return _apart(plan, signed, verdict, read)
    record_hash = read.exam_hash
    part = owners.get(record_hash)
    owner = checked_owner(part, read) if part else None
    if verdict.outcome in _STORED:
        sender_id = plan.opened.manifest.sender_id
        _keep(plan, signed, read, verdict.outcome, sender_id, owner)
    fault = part is not None and owner is None
    reasons = ((OWNER_FAULT, fault), (PRIVATE_FAULT, has_fault))
    reason = "; ".join(words for words, holds in reasons if holds)
    name = read.exam.animal.name
    return ExamArrival(record_hash, verdict.outcome, name, reason)


def _take_private(plan: Plan, read: ReadExam) -> bool:
    """Keep the private notes beside a record if they are the signed ones.

    Also of a record that is had already or set apart: they came for it.

    Returns:
        Whether others came along.
    """
    part = plan.private_parts.get(read.exam_hash)
    if part is None:
        return False
    if not block_matches(read.private_hash, part.salt, part.block):
        return True
    try:
        read_private(part.block, read.exam)
    except RecordError:
        return True
    exam_id = read.exam.exam_id
    plan.privates.append((exam_id, read.exam_hash, part.salt, part.block))
    return False


def _judge(plan: Plan, read: ReadExam, keys: tuple[bytes, ...]) -> Verdict:
    if read.exam.is_demo != plan.is_demo:
        return Verdict(Outcome.REFUSED, DEMO_MIXED)
    return judge(read.exam, read.exam_hash, plan.kept(read.exam.exam_id), keys)


def _keep(
    plan: Plan,
    signed: bytes,
    read: ReadExam,
    outcome: Outcome,
    device_id: str,
    owner: SaltedOwner | None = None,
) -> None:
    exam = read.exam
    protocol = plan.protocol(exam.protocol_hash)
    if protocol is None:
        raise ProtocolNotKeptError(exam.protocol_hash)
    with in_english():
        pressing = pressing_lines(exam, protocol)
    signed_by = (read.exam_hash, device_id, read.key_id)
    row = closed_projection(exam, protocol, *signed_by, pressing)
    plan.records.append(RecordArrival(signed, read, row, outcome, owner))
    plan.kept(exam.exam_id).append(row)


def _apart(
    plan: Plan, signed: bytes, verdict: Verdict, read: ReadExam | None = None
) -> ExamArrival:
    record_hash = door.sha256(signed).hex()
    exam_id = read.exam.exam_id if read else ""
    name = read.exam.animal.name if read else ""
    plan.put_apart("record", signed, verdict, exam_id)
    return ExamArrival(record_hash, verdict.outcome, name, verdict.reason)


def _take_note(plan: Plan, signed: bytes) -> None:
    verdict, exam_id = plan.take_note(signed, plan.device.signing_keys)
    if verdict.reason:
        plan.put_apart("note", signed, verdict, exam_id)
    plan.outcomes.setdefault(door.sha256(signed).hex(), verdict.outcome)


def _free_waiting(plan: Plan) -> None:
    """Store what was set apart only for the want of something that is here now."""
    fresh = {f"protocol:{content_hash}" for content_hash in plan.protocols}
    fresh |= {f"record:{record.read.exam_hash}" for record in plan.records}
    while fresh:
        before = len(plan.records)
        for row in plan.exchange.quarantine.held():
            if row.waits_for in fresh:
                _free_one(plan, row)
        fresh = {f"record:{r.read.exam_hash}" for r in plan.records[before:]}


def _free_one(plan: Plan, row: SetApart) -> None:
    signed = plan.exchange.quarantine.content(row.key)
    devices = plan.exchange.pairing.trusted()
    device = next((d for d in devices if row.device_id in d.sender_ids), None)
    if signed is None or device is None:
        return
    try:
        read = read_exam(signed, device.signing_keys, plan.protocol)
    except RecordError:
        return
    verdict = _judge(plan, read, device.signing_keys)
    if verdict.outcome in _STORED:
        _keep(plan, signed, read, verdict.outcome, row.device_id)
    if verdict.outcome in (*_STORED, Outcome.HAD_ALREADY):
        plan.freed.append(row.key)
