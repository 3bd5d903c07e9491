"""Verify what lies in an opened bundle and plan what becomes of each part.

Protocols are checked by hash before anything is read with them. Every record and note
is verified with the sending device's own keys; one that does not fit is refused or set
apart alone, and the others are not concerned. Nothing is written here.
"""

from collections.abc import Mapping

from exam_app.crypto import door
from exam_app.domain.animal.signalment import Owner
from exam_app.domain.errors import ExamError
from exam_app.record.cose import key_id_of
from exam_app.record.errors import ProtocolNotKeptError, RecordError
from exam_app.record.private_notes import private_matches, read_private
from exam_app.record.records import ReadExam, read_exam, read_note
from sync.bundle.bundle import OpenedBundle, OwnerPart
from sync.clinic.arrival_plan import (
    ExamArrival,
    Plan,
    Verdict,
    checked_owner,
    closed_role_of,
    judge,
)
from sync.clinic.inbox import (
    Inbox,
    KeptRevision,
    KnownDevice,
    NoteArrival,
    RecordArrival,
    Waiting,
)
from sync.receipts import Outcome

DEMO_MIXED = "an invented record among real ones, or the other way round"
PROTOCOL_MISSING = "its species protocol is not here"
OWNER_FAULT = "the owner details beside it are not the signed ones and were left out"
PRIVATE_FAULT = "the private note beside it is not the signed one and was left out"
NOTE_CHANGED = "another note is kept under its id"
_STORED = (Outcome.STORED, Outcome.REVISION, Outcome.FORK)


def plan_arrival(
    inbox: Inbox, opened: OpenedBundle, device: KnownDevice, *, is_demo: bool
) -> Plan:
    """Return what becomes of everything in an opened bundle."""
    plan = Plan(inbox, opened, device, is_demo)
    plan.private_parts.update({p.exam_hash: p for p in opened.contents.privates})
    _take_protocols(plan)
    owners = {part.exam_hash: part for part in opened.contents.owners}
    for signed in opened.contents.records:
        arrived = _take_record(plan, signed, device.signing_keys, owners)
        plan.exams.append(arrived)
        plan.outcomes.setdefault(arrived.record_hash, arrived.outcome)
    for signed in opened.contents.notes:
        _take_note(plan, signed)
    _free_waiting(plan)
    return plan


def _take_protocols(plan: Plan) -> None:
    for content in plan.opened.contents.protocols:
        content_hash = door.sha256(content).hex()
        if plan.protocol(content_hash) is not None:
            continue
        try:
            plan.protocols[content_hash] = (content, plan.inbox.read_protocol(content))
        except ExamError:
            # A record that needs it is set apart for the want of it.
            continue


def _take_record(
    plan: Plan,
    signed: bytes,
    keys: tuple[bytes, ...],
    owners: Mapping[str, OwnerPart],
) -> ExamArrival:
    record_hash = door.sha256(signed).hex()
    try:
        read = read_exam(signed, keys, plan.protocol)
    except ProtocolNotKeptError as error:
        verdict = Verdict(
            Outcome.QUARANTINED, PROTOCOL_MISSING, f"protocol:{error.protocol_hash}"
        )
        return _apart(plan, signed, verdict)
    except RecordError as error:
        reason = type(error).__name__
        return _apart(plan, signed, Verdict(Outcome.REFUSED, reason))
    verdict = _judge(plan, read, keys)
    has_fault = verdict.outcome is not Outcome.REFUSED and _take_private(plan, read)
    if verdict.outcome in (Outcome.QUARANTINED, Outcome.REFUSED):
        return _apart(plan, signed, verdict, read)
    part = owners.get(record_hash)
    owner = checked_owner(part, read) if part else None
    if verdict.outcome in _STORED:
        sender_id = plan.opened.manifest.sender_id
        _keep(plan, signed, read, verdict.outcome, sender_id, owner)
    name, exam_id = read.exam.animal.name, read.exam.exam_id
    fault = part is not None and owner is None
    reasons = ((OWNER_FAULT, fault), (PRIVATE_FAULT, has_fault))
    reason = "; ".join(words for words, holds in reasons if holds)
    return ExamArrival(
        exam_id, record_hash, verdict.outcome, name, reason, fault, has_fault
    )


def _take_private(plan: Plan, read: ReadExam) -> bool:
    """Keep the private notes beside a record if they are the signed ones.

    Also of a record that is had already or set apart: they came for it.

    Returns:
        Whether others came along.
    """
    part = plan.private_parts.get(read.exam_hash)
    if part is None:
        return False
    if not private_matches(read.private_hash, part.salt, part.block):
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
    return judge(
        read.exam,
        read.exam_hash,
        plan.kept(read.exam.exam_id),
        set(map(key_id_of, keys)),
    )


def _keep(
    plan: Plan,
    signed: bytes,
    read: ReadExam,
    outcome: Outcome,
    device_id: str,
    owner: tuple[bytes, Owner] | None = None,
) -> None:
    exam = read.exam
    protocol = plan.protocol(exam.protocol_hash)
    if protocol is None:
        raise ProtocolNotKeptError(exam.protocol_hash)
    plan.records.append(
        RecordArrival(signed, read, protocol, outcome, device_id, owner)
    )
    role = closed_role_of(exam)
    kept = KeptRevision(
        read.exam_hash, exam.revision, exam.parent_hash, read.key_id, role
    )
    plan.kept(exam.exam_id).append(kept)


def _apart(
    plan: Plan, signed: bytes, verdict: Verdict, read: ReadExam | None = None
) -> ExamArrival:
    record_hash = door.sha256(signed).hex()
    exam_id = read.exam.exam_id if read else ""
    name = read.exam.animal.name if read else ""
    plan.put_apart("record", signed, verdict, exam_id)
    return ExamArrival(exam_id, record_hash, verdict.outcome, name, verdict.reason)


def _take_note(plan: Plan, signed: bytes) -> None:
    note_hash = door.sha256(signed).hex()
    verdict = Verdict(Outcome.STORED)
    exam_id = ""
    try:
        note = read_note(signed, plan.device.signing_keys).note
    except RecordError as error:
        verdict = Verdict(Outcome.REFUSED, type(error).__name__)
    else:
        exam_id = note.exam_id
        twins = [n.signed for n in plan.notes if n.note.note_id == note.note_id]
        kept = twins[0] if twins else plan.inbox.kept_note(note.note_id)
        if note.is_demo != plan.is_demo:
            verdict = Verdict(Outcome.REFUSED, DEMO_MIXED)
        elif kept == signed:
            verdict = Verdict(Outcome.HAD_ALREADY)
        elif kept is not None:
            verdict = Verdict(Outcome.QUARANTINED, NOTE_CHANGED)
        else:
            plan.notes.append(NoteArrival(signed, note))
    if verdict.reason:
        plan.put_apart("note", signed, verdict, exam_id)
    plan.outcomes.setdefault(note_hash, verdict.outcome)


def _free_waiting(plan: Plan) -> None:
    """Store what was set apart only for the want of something that is here now."""
    fresh = {f"protocol:{content_hash}" for content_hash in plan.protocols}
    fresh |= {f"record:{record.read.exam_hash}" for record in plan.records}
    while fresh:
        before = len(plan.records)
        for waiting in plan.inbox.waiting(frozenset(fresh)):
            _free_one(plan, waiting)
        fresh = {f"record:{r.read.exam_hash}" for r in plan.records[before:]}


def _free_one(plan: Plan, waiting: Waiting) -> None:
    keys = waiting.signing_keys
    try:
        read = read_exam(waiting.signed, keys, plan.protocol)
    except RecordError:
        return
    verdict = _judge(plan, read, keys)
    if verdict.outcome in _STORED:
        _keep(plan, waiting.signed, read, verdict.outcome, waiting.device_id)
    if verdict.outcome in (*_STORED, Outcome.HAD_ALREADY):
        plan.freed.append(waiting.key)
