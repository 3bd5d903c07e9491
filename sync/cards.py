"""Pairing cards: what a clinic shows, and what a device answers, sealed to the clinic.

A card is signed by the key it names, which proves nothing about whose it is: the six
words that both screens show, and a person who compares them, do that.
"""

from dataclasses import dataclass

from exam_app.domain.moments import Moment
from sync.sealing import Random

TOKEN_LENGTH = 16
NONCE_LENGTH = 32


@dataclass(frozen=True, slots=True)
class ClinicCard:
    """What a clinic shows to a device that is to be paired.

    Attributes:
        clinic_id: UUID as 32 hexadecimal digits.
        signing_key: Ed25519 public key, 32 bytes.
        agreement_key: X25519 public key, 32 bytes; what bundles are sealed to.
        token: 16 random bytes, good for one answer.
        nonce: 32 random bytes, drawn for this card.
        expires_ms: UTC milliseconds after which the card is refused.
        phone: The number to ring for an urgent sign; may be empty.
    """

    clinic_id: str
    name: str
    signing_key: bytes
    agreement_key: bytes
    token: bytes
    nonce: bytes
    expires_ms: int
    is_demo: bool
    phone: str = ""


@dataclass(frozen=True, slots=True)
class FormerKey:
    """A key the device had before it was restored from a backup.

    Attributes:
        vouched: The former key's signature over the keys that came next.
        agreement_key: X25519 public key that stood beside it, 32 bytes.
    """

    device_id: str
    signing_key: bytes
    vouched: bytes
    agreement_key: bytes = b""


@dataclass(frozen=True, slots=True)
class DeviceCard:
    """What a device answers; attributes as of ``ClinicCard``.

    Attributes:
        nonce: 32 random bytes, drawn after the clinic's card was read.
        token: The clinic card's.
        clinic_card_hash: SHA-256 of the clinic card as read, 32 bytes.
        former: Keys it had before, oldest first, each vouching for the next.
    """

    device_id: str
    name: str
    signing_key: bytes
    agreement_key: bytes
    nonce: bytes
    token: bytes
    clinic_card_hash: bytes
    former: tuple[FormerKey, ...]
    is_demo: bool


def write_clinic_card(card: ClinicCard, seed: bytes) -> bytes:
    """Return the card as signed by the clinic's key."""
    raise NotImplementedError


def read_clinic_card(content: bytes, now: Moment) -> ClinicCard:
    """Return what a clinic's card says, if it is whole and not too old."""
    raise NotImplementedError


def write_device_card(card: DeviceCard, seed: bytes) -> bytes:
    """Return the card as signed by the device's key; not yet sealed."""
    raise NotImplementedError


def seal_device_card(signed: bytes, clinic: ClinicCard, random: Random) -> bytes:
    """Return a signed device card sealed to the clinic."""
    raise NotImplementedError


def as_text(card: bytes) -> str:
    """Return bytes as text for a QR code, a paste field or a wedge scanner."""
    raise NotImplementedError


def from_text(text: str) -> bytes:
    """Return the bytes of such a text; case, spaces, dashes and lines do not matter."""
    raise NotImplementedError
