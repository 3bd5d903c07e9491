"""The plan of one import while it is made, and checks of what stands beside records."""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from exam_app.crypto import door
from exam_app.domain.animal.signalment import Owner
from exam_app.domain.exam.exam import Exam
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.record.cbor_form import decode
from exam_app.record.draft_codec import animal_from_plain, owner_from_plain
from exam_app.record.errors import RecordError
from exam_app.record.field_codec import read_fields
from exam_app.record.records import ReadExam
from exam_app.record.spelled_values import Surroundings
from sync.bundle.bundle import OpenedBundle, OwnerPart, PrivatePart
from sync.clinic.inbox import (
    Inbox,
    KeptRevision,
    KnownDevice,
    NoteArrival,
    RecordArrival,
    SetApart,
)
from sync.receipts import Outcome

HIGHEST_REVISION = 10_000
BAD_CLAIM = "its revision number does not fit what it names"
PARENT_MISSING = "it revises a record that is not here yet"
OTHER_DEVICE = "it revises a record that another device closed"
OTHER_ROLE = "it revises a record that another role closed"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What becomes of a record, why, and what it waits for."""

    outcome: Outcome
    reason: str = ""
    waits_for: str = ""


def judge(
    exam: Exam,
    record_hash: str,
    kept: Sequence[KeptRevision],
    device_key_ids: Collection[bytes],
) -> Verdict:
    """Decide what a verified record is.

    Args:
        exam: As signed.
        record_hash: Of its signed bytes.
        kept: What is kept of the same exam.
        device_key_ids: Of the sending device, with its former keys.
    """
    if any(record.record_hash == record_hash for record in kept):
        return Verdict(Outcome.HAD_ALREADY)
    if not 0 <= exam.revision <= HIGHEST_REVISION:
        return Verdict(Outcome.REFUSED, BAD_CLAIM)
    if bool(exam.revision) != bool(exam.parent_hash):
        return Verdict(Outcome.REFUSED, BAD_CLAIM)
    if not exam.revision:
        is_first = all(record.revision for record in kept)
        return Verdict(Outcome.STORED if is_first else Outcome.FORK)
    return _judge_revision(exam, kept, device_key_ids)


def closed_role_of(exam: Exam) -> str:
    """Return the role of the person who closed an exam."""
    closer = exam.person(exam.closing.closed_by) if exam.closing else None
    return closer.role.value if closer else ""


def _judge_revision(
    exam: Exam, kept: Sequence[KeptRevision], device_key_ids: Collection[bytes]
) -> Verdict:
    parents = [r for r in kept if r.record_hash == exam.parent_hash]
    if not parents:
        wanted = f"record:{exam.parent_hash}"
        return Verdict(Outcome.QUARANTINED, PARENT_MISSING, wanted)
    parent = parents[0]
    if parent.revision >= exam.revision:
        return Verdict(Outcome.REFUSED, BAD_CLAIM)
    if parent.key_id not in device_key_ids:
        return Verdict(Outcome.QUARANTINED, OTHER_DEVICE)
    if parent.closed_role != closed_role_of(exam):
        return Verdict(Outcome.QUARANTINED, OTHER_ROLE)
    is_fork = any(
        record.revision == exam.revision or record.parent_hash == exam.parent_hash
        for record in kept
        if record.revision
    )
    return Verdict(Outcome.FORK if is_fork else Outcome.REVISION)


_UUID = re.compile(r"[0-9a-f]{32}")
_BESIDE = {"owner", "changed_from", "record_keys"}


@dataclass(frozen=True, slots=True)
class ExamArrival:
    """What became of one exam, for the screen.

    Attributes:
        name: The animal's name, or empty when the record was not read.
        reason: Why it, or what came beside it, was refused or set apart, or empty.
        owner_fault: Whether owner details came along that are not the signed ones.
        private_fault: Whether a private note came along that is not the signed one.
    """

    exam_id: str
    record_hash: str
    outcome: Outcome
    name: str = ""
    reason: str = ""
    owner_fault: bool = False
    private_fault: bool = False


@dataclass(slots=True)
class Plan:
    """What is to be kept, while it is being decided."""

    inbox: Inbox
    opened: OpenedBundle
    device: KnownDevice
    is_demo: bool
    exams: list[ExamArrival] = field(default_factory=list)
    outcomes: dict[str, Outcome] = field(default_factory=dict)
    protocols: dict[str, tuple[bytes, SpeciesProtocol]] = field(default_factory=dict)
    records: list[RecordArrival] = field(default_factory=list)
    notes: list[NoteArrival] = field(default_factory=list)
    set_apart: list[SetApart] = field(default_factory=list)
    freed: list[str] = field(default_factory=list)
    private_parts: dict[str, PrivatePart] = field(default_factory=dict)
    privates: list[tuple[str, str, bytes, bytes]] = field(default_factory=list)
    revisions: dict[str, list[KeptRevision]] = field(default_factory=dict)

    def protocol(self, content_hash: str) -> SpeciesProtocol | None:
        """Return a protocol of the bundle, or one known here."""
        brought = self.protocols.get(content_hash)
        return brought[1] if brought else self.inbox.protocol(content_hash)

    def kept(self, exam_id: str) -> list[KeptRevision]:
        """Return what is kept of an exam, with what is to be kept."""
        if exam_id not in self.revisions:
            self.revisions[exam_id] = [*self.inbox.kept_records(exam_id)]
        return self.revisions[exam_id]

    def put_apart(
        self, kind: str, signed: bytes, verdict: Verdict, exam_id: str
    ) -> None:
        """Plan to keep a record or note whole, and not among the others."""
        manifest = self.opened.manifest
        item = SetApart(
            door.sha256(signed).hex(),
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


def checked_animals(plan: Plan) -> tuple[Mapping[str, Any], ...]:
    """Return the bundle's animals that have the shape of one and the right kind."""
    return tuple(
        animal
        for animal in plan.opened.contents.animals
        if is_animal(animal, is_demo=plan.is_demo)
    )


def checked_owner(part: OwnerPart, read: ReadExam) -> tuple[bytes, Owner] | None:
    """Return owner details if they are those that stood beside the signed record."""
    if not read.owner_hash:
        return None
    if door.sha256(part.salt + part.block).hex() != read.owner_hash:
        return None
    try:
        return part.salt, read_fields(Owner, decode(part.block), Surroundings())
    except RecordError:
        return None


def is_animal(animal: Mapping[str, Any], *, is_demo: bool) -> bool:
    """Say whether a mapping has the shape of an animal with its owner beside it."""
    own = {k: v for k, v in animal.items() if k not in _BESIDE}
    try:
        read = animal_from_plain(own)
        if animal.get("owner"):
            owner_from_plain(animal["owner"])
    except RecordError:
        return False
    is_named = _UUID.fullmatch(read.animal_id) is not None
    is_kind = is_named and read.is_demo == is_demo
    return is_kind and isinstance(animal.get("changed_from", {}), Mapping)
