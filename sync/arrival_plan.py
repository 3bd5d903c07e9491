"""The plan of one import while it is made, and checks of what stands beside records."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from exam_app.crypto import door
from exam_app.domain.animal.signalment import Owner
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.record.cbor_form import decode
from exam_app.record.draft_codec import animal_from_plain, owner_from_plain
from exam_app.record.errors import RecordError
from exam_app.record.field_codec import read_fields
from exam_app.record.records import ReadExam
from exam_app.record.spelled_values import Surroundings
from sync.bundle import OpenedBundle, OwnerPart, PrivatePart
from sync.inbox import (
    Inbox,
    KeptRevision,
    KnownDevice,
    NoteArrival,
    RecordArrival,
    SetApart,
)
from sync.receipts import Outcome
from sync.revisions import Verdict

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
