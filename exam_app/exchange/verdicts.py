"""What becomes of a record that arrived, and what may stand beside it."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from exam_app.domain.animal.signalment import Animal, Owner
from exam_app.domain.exam.exam import Exam
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.protocols import NewProtocols, new_protocols, protocol_lookup
from exam_app.language.catalogue import to_translate
from exam_app.record.cbor_form import decode
from exam_app.record.cose import key_id_of
from exam_app.record.errors import RecordError
from exam_app.record.field_reader import read_fields
from exam_app.record.notes import Note
from exam_app.record.plain_form import from_plain
from exam_app.record.records import ReadExam, read_note
from exam_app.record.salted_blocks import block_matches
from exam_app.record.spelled_values import Surroundings
from exam_app.store.repositories.rows import ClosedExam
from sync.bundle.bundle import OpenedBundle
from sync.bundle.contents import OwnerPart
from sync.receipts import Outcome

HIGHEST_REVISION = 10_000
DEMO_MIXED = to_translate("an invented record among real ones, or the other way round")
NOTE_CHANGED = to_translate("another note is kept under its id")
BAD_CLAIM = to_translate("its revision number does not fit what it names")
PARENT_MISSING = to_translate("it revises a record that is not here yet")
OTHER_DEVICE = to_translate("it revises a record that another device closed")
OTHER_ROLE = to_translate("it revises a record that another role closed")
SaltedOwner = tuple[bytes, Owner]
_UUID = re.compile(r"[0-9a-f]{32}")
_BESIDE = {"owner", "changed_from", "record_keys"}


@dataclass(frozen=True, slots=True)
class RecordArrival:
    """A verified record that is to be kept.

    Attributes:
        row: As lists will show it.
        outcome: ``STORED``, ``REVISION`` or ``FORK``.
        owner: Salt and details that match the record's hash, or ``None``.
    """

    signed: bytes
    read: ReadExam
    row: ClosedExam
    outcome: Outcome
    owner: SaltedOwner | None = None


@dataclass(frozen=True, slots=True)
class NoteArrival:
    """A verified note that is to be kept."""

    signed: bytes
    note: Note


@dataclass(frozen=True, slots=True)
class Verdict:
    """What becomes of a record, why, and what it waits for."""

    outcome: Outcome
    reason: str = ""
    waits_for: str = ""


@dataclass(slots=True)
class Brought:
    """What a verified bundle or day pack brings, while it is read and afterwards.

    Attributes:
        exchange: Of the vault that it is taken into.
        records: New ones.
        notes: New ones.
        protocols: Those that are sound and new, by hash.
    """

    exchange: Exchange
    opened: OpenedBundle
    records: list[RecordArrival] = field(default_factory=list, init=False)
    notes: list[NoteArrival] = field(default_factory=list, init=False)
    protocols: NewProtocols = field(init=False)

    def __post_init__(self) -> None:
        """Read the protocols first: records are read with them."""
        contents = self.opened.contents.protocols
        self.protocols = new_protocols(self.exchange.vault, contents)

    @property
    def is_demo(self) -> bool:
        """Whether what is in the bundle must be invented."""
        return self.opened.manifest.is_demo

    def take_note(self, signed: bytes, keys: Iterable[bytes]) -> tuple[Verdict, str]:
        """Verify a note and say what becomes of it; a new one is one of ``notes``.

        Returns:
            The verdict, and the id of its exam; empty where it could not be read.
        """
        try:
            note = read_note(signed, keys).note
        except RecordError as error:
            return Verdict(Outcome.REFUSED, type(error).__name__), ""
        twins = [n.signed for n in self.notes if n.note.note_id == note.note_id]
        kept = twins[0] if twins else self.exchange.vault.notes.get(note.note_id)
        if note.is_demo != self.is_demo:
            verdict = Verdict(Outcome.REFUSED, DEMO_MIXED)
        elif kept == signed:
            verdict = Verdict(Outcome.HAD_ALREADY)
        elif kept is not None:
            verdict = Verdict(Outcome.QUARANTINED, NOTE_CHANGED)
        else:
            verdict = Verdict(Outcome.STORED)
            self.notes.append(NoteArrival(signed, note))
        return verdict, note.exam_id

    def kept_owners(self) -> list[tuple[Animal, SaltedOwner | None]]:
        """Give the animal of each record, with its owner unless that was erased."""
        found = ((r, kept_owner(self.exchange, r)) for r in self.records)
        return [(record.read.exam.animal, owner) for record, owner in found]

    def protocol(self, content_hash: str) -> SpeciesProtocol | None:
        """Return a protocol of the bundle, or one known here."""
        brought = self.protocols.get(content_hash)
        known = protocol_lookup(self.exchange.vault)
        return brought[1] if brought else known(content_hash)


def judge(
    exam: Exam, record_hash: str, kept: Sequence[ClosedExam], keys: Iterable[bytes]
) -> Verdict:
    """Decide what a verified record is.

    Args:
        kept: Of the same exam, with what is to be kept.
        keys: Of the sending device, with its former ones.
    """
    if any(row.record_hash == record_hash for row in kept):
        return Verdict(Outcome.HAD_ALREADY)
    if not 0 <= exam.revision <= HIGHEST_REVISION:
        return Verdict(Outcome.REFUSED, BAD_CLAIM)
    if bool(exam.revision) != bool(exam.parent_hash):
        return Verdict(Outcome.REFUSED, BAD_CLAIM)
    if not exam.revision:
        is_first = all(row.revision for row in kept)
        return Verdict(Outcome.STORED if is_first else Outcome.FORK)
    return _judge_revision(exam, kept, keys)


def _judge_revision(
    exam: Exam, kept: Sequence[ClosedExam], keys: Iterable[bytes]
) -> Verdict:
    parent = next((row for row in kept if row.record_hash == exam.parent_hash), None)
    if parent is None:
        wanted = f"record:{exam.parent_hash}"
        return Verdict(Outcome.QUARANTINED, PARENT_MISSING, wanted)
    if parent.revision >= exam.revision:
        return Verdict(Outcome.REFUSED, BAD_CLAIM)
    if parent.key_id not in (key_id_of(key).hex() for key in keys):
        return Verdict(Outcome.QUARANTINED, OTHER_DEVICE)
    closer = exam.person(exam.closing.closed_by) if exam.closing else None
    if parent.closed_role != (closer.role.value if closer else ""):
        return Verdict(Outcome.QUARANTINED, OTHER_ROLE)
    is_fork = any(
        row.revision == exam.revision or row.parent_hash == exam.parent_hash
        for row in kept
        if row.revision
    )
    return Verdict(Outcome.FORK if is_fork else Outcome.REVISION)


def kept_owner(exchange: Exchange, record: RecordArrival) -> SaltedOwner | None:
    """Return the owner beside a record, unless those details were erased here."""
    exam, closing = record.read.exam, record.read.exam.closing
    is_aside = record.owner is not None and exchange.erasures.sets_aside(
        exam.animal.animal_id,
        record.read.owner_hash,
        closing.at.utc_ms if closing else 0,
    )
    return None if is_aside else record.owner


def checked_owner(part: OwnerPart, read: ReadExam) -> SaltedOwner | None:
    """Return owner details if they are those that stood beside the signed record."""
    if not block_matches(read.owner_hash, part.salt, part.block):
        return None
    try:
        return part.salt, read_fields(Owner, decode(part.block), Surroundings())
    except RecordError:
        return None


def is_animal(animal: Mapping[str, Any], *, is_demo: bool) -> bool:
    """Say whether a mapping has the shape of an animal with its owner beside it."""
    own = {k: v for k, v in animal.items() if k not in _BESIDE}
    try:
        read = from_plain(Animal, own)
        if animal.get("owner"):
            from_plain(Owner, animal["owner"])
    except RecordError:
        return False
    is_named = _UUID.fullmatch(read.animal_id) is not None
    is_kind = is_named and read.is_demo == is_demo
    return is_kind and isinstance(animal.get("changed_from", {}), Mapping)
