"""What a hand-over keeps: states, records, bundles, and the store that holds them."""

from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Protocol

from exam_app.domain.moments import Moment
from sync.bundle.bundle import OwnerPart, PrivatePart, SealedBundle
from sync.receipts import Outcome, Receipt

KEPT_OUTCOMES = (
    Outcome.STORED,
    Outcome.HAD_ALREADY,
    Outcome.REVISION,
    Outcome.FORK,
)


class HandOverState(StrEnum):
    """How far a record has come."""

    WAITING = "waiting"
    SHOWN = "shown"
    BY_CODE = "received by code"
    RECEIVED = "received"


@dataclass(frozen=True, slots=True)
class OwnIdentity:
    """This device's or clinic's own id and secrets.

    Attributes:
        own_ids: Its id, then ids it had before it was restored.
    """

    own_ids: tuple[str, ...]
    signing_seed: bytes
    agreement_private: bytes
    is_demo: bool


@dataclass(frozen=True, slots=True)
class Recipient:
    """Whom bundles are sealed to; keys are public, 32 bytes."""

    recipient_id: str
    signing_key: bytes
    agreement_key: bytes


@dataclass(frozen=True, slots=True)
class OwnRecord:
    """A signed record of this device that the clinic has not receipted.

    Attributes:
        owner: Details beside it, or ``None``.
        private: Private notes beside it, or ``None``.
        protocol_hash: In hexadecimal; empty for a note.
    """

    exam_id: str
    record_hash: str
    signed: bytes
    owner: OwnerPart | None = None
    protocol_hash: str = ""
    private: PrivatePart | None = None


@dataclass(frozen=True, slots=True)
class Outgoing:
    """One sealed bundle and how far it has come.

    Attributes:
        sealed: Empty once the signed receipt is here.
        receipt_code: What the clinic shows; never shown on the device.
        record_hashes: Of the records in it.
        signed_hashes: Records, then notes: the order of a receipt's lines.
        outcomes: By hash, from the signed receipt; empty before.
    """

    bundle_hash: str
    recipient_id: str
    sequence: int
    kind: str
    state: HandOverState
    made: Moment
    sealed: bytes
    receipt_code: str
    exam_ids: tuple[str, ...]
    record_hashes: tuple[str, ...]
    signed_hashes: tuple[str, ...]
    wrong_codes: int = 0
    outcomes: Mapping[str, str] | None = None


class Outbox(Protocol):
    """The device's store as a hand-over sees it; each change is one save."""

    def turn(self) -> AbstractContextManager[None]:
        """Hold off other hand-overs."""
        ...

    def identity(self) -> OwnIdentity:
        """Return this device."""
        ...

    def clinic(self) -> Recipient | None:
        """Return the confirmed clinic."""
        ...

    def records(self, exam_ids: Sequence[str]) -> Sequence[OwnRecord]:
        """Return every own record of these exams without receipt, oldest first."""
        ...

    def notes(self) -> Sequence[OwnRecord]:
        """Return every note written here without receipt."""
        ...

    def animals(self, exam_ids: Sequence[str]) -> Sequence[Mapping[str, Any]]:
        """Return animals of these exams that the records alone do not tell."""
        ...

    def protocol_contents(self, records: Sequence[OwnRecord]) -> Sequence[bytes]:
        """Return the protocols of these records that the clinic may lack."""
        ...

    def outgoing(self, bundle_hash: str) -> Outgoing | None:
        """Return one bundle."""
        ...

    def outstanding(self, recipient_id: str) -> Sequence[Outgoing]:
        """Return the bundles to a recipient without signed receipt, by number."""
        ...

    def next_sequence(self, recipient_id: str) -> int:
        """Return the number of the next bundle."""
        ...

    def keep(self, bundles: Sequence[Outgoing]) -> None:
        """Keep sealed bundles and use up their numbers, in one save."""
        ...

    def mark(self, bundle_hash: str, state: HandOverState) -> None:
        """Move a bundle and all that is in it on; nothing goes back."""
        ...

    def count_wrong_code(self, bundle_hash: str) -> None:
        """Count a wrong code."""
        ...

    def keep_receipt(
        self, receipt: Receipt, signed: bytes, received: Sequence[str]
    ) -> None:
        """Keep a signed receipt; the named hashes are received from now on."""
        ...


def outgoing_of(
    sealed: SealedBundle, recipient_id: str, exam_of: Mapping[str, str]
) -> Outgoing:
    """Return a bundle that was just sealed, as it is kept."""
    manifest = sealed.manifest
    exam_ids = (exam_of.get(key, "") for key in manifest.record_hashes)
    return Outgoing(
        sealed.bundle_hash,
        recipient_id,
        manifest.sequence,
        manifest.kind.value,
        HandOverState.WAITING,
        manifest.made,
        sealed.sealed,
        sealed.receipt_code,
        tuple(dict.fromkeys(key for key in exam_ids if key)),
        tuple(manifest.record_hashes),
        tuple(manifest.signed_hashes),
    )
