"""Pair a device with a clinic: offer, answer, accept; then a person compares words.

Pure state. The clinic keeps an ``Offer`` and marks it used before it shows what
``accept`` gave; the device keeps the ``Answer``'s clinic. Both count as paired only
once a person said that both screens show the same six words.
"""

from dataclasses import dataclass

from exam_app.domain.moments import Moment
from sync.cards import ClinicCard, DeviceCard, FormerKey
from sync.sealing import Random


@dataclass(frozen=True, slots=True)
class ClinicKeys:
    """A clinic's name and private keys."""

    clinic_id: str
    name: str
    signing_seed: bytes
    agreement_private: bytes
    is_demo: bool
    phone: str = ""


@dataclass(frozen=True, slots=True)
class DeviceKeys:
    """A device's name and private keys, and the public keys it had before."""

    device_id: str
    name: str
    signing_seed: bytes
    agreement_private: bytes
    is_demo: bool
    former: tuple[FormerKey, ...] = ()


@dataclass(frozen=True, slots=True)
class Offer:
    """A card that a clinic shows; ``card`` is signed, ``view`` what it says."""

    card: bytes
    view: ClinicCard
    is_used: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """A device's answer to a card.

    Attributes:
        sealed: The device's card, sealed to the clinic: show, paste or save this.
        words: Six words to compare with the clinic's screen.
        clinic: What the card said.
    """

    sealed: bytes
    words: tuple[str, ...]
    clinic: ClinicCard


@dataclass(frozen=True, slots=True)
class Accepted:
    """A device's card as the clinic opened it, with the six words to compare."""

    device: DeviceCard
    words: tuple[str, ...]


def offer(clinic: ClinicKeys, now: Moment, random: Random) -> Offer:
    """Return a fresh card, good for ten minutes and one answer."""
    raise NotImplementedError


def answer(card: bytes, device: DeviceKeys, now: Moment, random: Random) -> Answer:
    """Answer a clinic's card; the nonce is drawn after the card was read."""
    raise NotImplementedError


def accept(
    sealed: bytes, offered: Offer, agreement_private: bytes, now: Moment
) -> Accepted:
    """Open an answer to the card that was offered.

    Whatever comes out, an opened answer uses up the offer: mark it used first.
    """
    raise NotImplementedError
