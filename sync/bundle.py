"""A bundle: signed records and what belongs to them, sealed to one recipient."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from exam_app.domain.moments import Moment
from sync.sealing import Random

PublicKeyOf = Callable[[bytes], bytes | None]


class BundleKind(StrEnum):
    """Which way a bundle goes."""

    EXAMS = "exams"
    DAY_PACK = "day pack"


@dataclass(frozen=True, slots=True)
class OwnerPart:
    """Owner details beside one record.

    Attributes:
        exam_hash: SHA-256 of the signed exam, in hexadecimal.
        salt: 32 bytes.
        block: As ``record.owners.owner_block`` spells it.
    """

    exam_hash: str
    salt: bytes
    block: bytes


@dataclass(frozen=True, slots=True)
class Contents:
    """What a bundle carries, each part in the order it was put in.

    Attributes:
        records: Signed exams, oldest first.
        notes: Signed notes.
        protocols: Whole contents of protocols the recipient lacks.
        animals: Plain mappings of texts, integers, booleans, lists and mappings.
        receipts: Signed receipts; day pack only.
    """

    records: tuple[bytes, ...] = ()
    notes: tuple[bytes, ...] = ()
    owners: tuple[OwnerPart, ...] = ()
    protocols: tuple[bytes, ...] = ()
    animals: tuple[Mapping[str, Any], ...] = ()
    receipts: tuple[bytes, ...] = ()


@dataclass(frozen=True, slots=True)
class Manifest:
    """What the sender signed.

    Attributes:
        sender_id: Device or clinic id, 32 hexadecimal digits.
        sequence: The sender's count of bundles, from one.
        recipient_key: X25519 public key it was made for, 32 bytes.
        contents_hash: SHA-256 over all contents, in hexadecimal.
        record_hashes: SHA-256 of each signed exam, in order, in hexadecimal.
        note_hashes: The same of each signed note.
    """

    kind: BundleKind
    sender_id: str
    sequence: int
    made: Moment
    recipient_key: bytes
    contents_hash: str
    record_hashes: tuple[str, ...]
    note_hashes: tuple[str, ...]
    is_demo: bool

    @property
    def exam_count(self) -> int:
        """How many signed exams it holds."""
        return len(self.record_hashes)

    @property
    def signed_hashes(self) -> tuple[str, ...]:
        """Exams, then notes: the order of a receipt's lines."""
        return self.record_hashes + self.note_hashes


@dataclass(frozen=True, slots=True)
class SealedBundle:
    """A bundle ready to go.

    Attributes:
        sealed: The bytes that travel.
        bundle_hash: SHA-256 of ``sealed``, in hexadecimal.
        receipt_code: What the clinic shows once everything is stored; keep it secret.
    """

    sealed: bytes
    bundle_hash: str
    receipt_code: str
    manifest: Manifest


@dataclass(frozen=True, slots=True)
class OpenedBundle:
    """A verified bundle; the records inside are not yet verified.

    Attributes:
        key_id: Which key signed the manifest.
        receipt_secret: 32 bytes that only sender and opener can derive.
    """

    manifest: Manifest
    contents: Contents
    key_id: bytes
    bundle_hash: str
    receipt_secret: bytes


def seal_bundle(
    kind: BundleKind,
    contents: Contents,
    *,
    sequence: int,
    made: Moment,
    sender_id: str,
    seed: bytes,
    recipient_key: bytes,
    is_demo: bool,
    random: Random,
) -> SealedBundle:
    """Sign and seal contents to one recipient."""
    raise NotImplementedError


def open_bundle(
    sealed: bytes, agreement_private: bytes, public_key_of: PublicKeyOf
) -> OpenedBundle:
    """Open and verify a bundle; the records inside are not yet verified."""
    raise NotImplementedError


def refuse_demo(manifest: Manifest, *, is_demo_here: bool) -> None:
    """Refuse invented records at a real place, and real ones at a demo.

    Raises:
        DemoRefusedError: They do not belong together.
    """
    raise NotImplementedError


def refuse_revoked(manifest: Manifest, revoked_after: int | None) -> None:
    """Refuse what a revoked device made after its last good sequence.

    Raises:
        RevokedDeviceError: Put the bundle into quarantine.
    """
    raise NotImplementedError
