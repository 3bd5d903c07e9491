"""What the clinic's store satisfies, and what one import asks it to keep at once.

An import reads, decides and commits inside one ``turn``. Everything that a bundle
brings is one ``Arrival`` and one save; the receipt is part of it, so that none exists
for what was not stored.
"""

from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any, Protocol

from exam_app.domain.animal.signalment import Owner
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.record.notes import Note
from exam_app.record.records import ReadExam
from sync.receipts import Outcome


@dataclass(frozen=True, slots=True)
class ClinicIdentity:
    """This clinic's own id and secrets.

    Attributes:
        signing_seed: Ed25519 seed, 32 bytes.
        agreement_private: X25519 private key, 32 bytes.
    """

    clinic_id: str
    signing_seed: bytes
    agreement_private: bytes
    is_demo: bool


@dataclass(frozen=True, slots=True)
class KnownDevice:
    """A confirmed device.

    Attributes:
        signing_keys: Its Ed25519 public key, then former ones vouched for.
        sender_ids: Its id, then the ids it had before it was restored.
        revoked_after: Last good sequence of a revoked device; ``None`` of a good one.
    """

    device_id: str
    name: str
    signing_keys: tuple[bytes, ...]
    sender_ids: tuple[str, ...]
    agreement_key: bytes
    revoked_after: int | None = None


@dataclass(frozen=True, slots=True)
class KeptRevision:
    """A record of an exam that is kept here.

    Attributes:
        key_id: Of the key that signed it, 16 bytes; empty when nobody wrote it down.
        closed_role: Of the person who closed it.
    """

    record_hash: str
    revision: int
    parent_hash: str
    key_id: bytes
    closed_role: str


@dataclass(frozen=True, slots=True)
class RecordArrival:
    """A verified record that is to be kept.

    Attributes:
        outcome: ``STORED``, ``REVISION`` or ``FORK``.
        device_id: Of the device whose bundle brought it.
        owner: Salt and details that match the record's hash, or ``None``.
    """

    signed: bytes
    read: ReadExam
    protocol: SpeciesProtocol
    outcome: Outcome
    device_id: str
    owner: tuple[bytes, Owner] | None = None


@dataclass(frozen=True, slots=True)
class NoteArrival:
    """A verified note that is to be kept."""

    signed: bytes
    note: Note


@dataclass(frozen=True, slots=True)
class SetApart:
    """Something that is kept whole and not among the records.

    Attributes:
        key: SHA-256 of the content, in hexadecimal.
        kind: ``bundle``, ``record`` or ``note``.
        reason: One of the reasons in ``receiving``.
        waits_for: ``record:HASH`` or ``protocol:HASH`` that would free a record.
    """

    key: str
    kind: str
    content: bytes
    reason: str
    bundle_hash: str
    device_id: str = ""
    sequence: int = 0
    exam_id: str = ""
    waits_for: str = ""


@dataclass(frozen=True, slots=True)
class Waiting:
    """A record set apart earlier that may be stored now, with its device's keys."""

    key: str
    signed: bytes
    device_id: str
    signing_keys: tuple[bytes, ...]


@dataclass(frozen=True, slots=True)
class Arrival:
    """Everything one bundle brings, to be kept in one save.

    Attributes:
        device_id: As the manifest says; of a restored device's old bundle, the old.
        skew_ms: The bundle's time less the clinic's, so a fast device clock is above
            zero; what travelled for days looks slow.
        outcomes: By hash of record or note.
        protocols: Content hash and content of each that was checked and is new.
        animals: Plain animals as the device keeps them, checked.
        freed: Keys of what was set apart and is stored now.
        admitted_by: Who admitted the bundle from quarantine, or empty.
        privates: Exam id, record hash, salt and block of each private note that
            matches its record.
    """

    bundle_hash: str
    device_id: str
    sequence: int
    kind: str
    made: Moment
    received: Moment
    skew_ms: int
    outcomes: Mapping[str, str]
    receipt: bytes
    protocols: tuple[tuple[str, bytes], ...] = ()
    records: tuple[RecordArrival, ...] = ()
    notes: tuple[NoteArrival, ...] = ()
    animals: tuple[Mapping[str, Any], ...] = ()
    set_apart: tuple[SetApart, ...] = ()
    freed: tuple[str, ...] = ()
    admitted_by: str = ""
    privates: tuple[tuple[str, str, bytes, bytes], ...] = ()


class Inbox(Protocol):
    """The clinic's store as an import sees it."""

    def turn(self) -> AbstractContextManager[None]:
        """Hold off other imports until this one has committed."""
        ...

    def clinic(self) -> ClinicIdentity:
        """Return this clinic."""
        ...

    def device(self, key_id: bytes) -> KnownDevice | None:
        """Return the confirmed device, revoked or not, that has or had this key."""
        ...

    def kept_receipt(self, bundle_hash: str) -> bytes | None:
        """Return the receipt signed for a bundle that was stored."""
        ...

    def outcomes(self, bundle_hash: str) -> Mapping[str, str]:
        """Return the outcomes of a bundle that was stored, by hash."""
        ...

    def protocol(self, content_hash: str) -> SpeciesProtocol | None:
        """Return a protocol known here."""
        ...

    def read_protocol(self, content: bytes) -> SpeciesProtocol:
        """Check a whole protocol; raises ``ExamError`` for one with faults."""
        ...

    def kept_records(self, exam_id: str) -> Sequence[KeptRevision]:
        """Return what is kept of an exam, in the order it came."""
        ...

    def kept_note(self, note_id: str) -> bytes | None:
        """Return a note's signed bytes."""
        ...

    def waiting(self, wanted: frozenset[str]) -> Sequence[Waiting]:
        """Return what was set apart and waits for one of these."""
        ...

    def is_number_used(self, device_id: str, sequence: int, but: str) -> bool:
        """Say whether a bundle other than ``but`` had this number of the device."""
        ...

    def missing_sequences(self, device_id: str) -> tuple[int, ...]:
        """Return the numbers below the highest that never came."""
        ...

    def set_apart(self, item: SetApart, now: Moment) -> None:
        """Keep a whole bundle that was not imported, in one save.

        A bundle of an unknown device is kept only while there is room for such.
        """
        ...

    def quarantined(self, key: str) -> bytes | None:
        """Return the bytes of something set apart, or ``None``."""
        ...

    def commit(self, arrival: Arrival) -> None:
        """Keep everything in one save; an error means that nothing was kept."""
        ...
