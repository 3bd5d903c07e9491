"""Pair a device with a clinic: offer, answer, accept; then a person compares words.

Pure state. The clinic keeps an ``Offer`` and drops it before it shows what ``accept``
gave; the device keeps the ``Answer``'s clinic. Both count as paired only
once a person said that both screens show the same six words, which ``pairing_words``
finds from both cards.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from exam_app.crypto import door
from exam_app.crypto.door import KeyDerivation
from exam_app.domain.moments import Moment
from exam_app.record.lineage import OwnKeys
from sync.bundle.sealing import Random, SealedKind, unseal
from sync.errors import (
    CardExpiredError,
    CardSubstitutedError,
    DemoRefusedError,
    KnownDeviceKeyError,
    NotABundleError,
    NotACardError,
    OlderCardError,
    WrongRecipientError,
)
from sync.trust.cards import (
    NONCE_LENGTH,
    TOKEN_LENGTH,
    WORDS_VERSION,
    ClinicCard,
    DeviceCard,
    read_clinic_card,
    read_device_card,
    seal_device_card,
    write_clinic_card,
    write_device_card,
)
from sync.trust.words import WORDS_DERIVATION, slow_words_of, words_of

VALID_MS = 10 * 60_000


@dataclass(frozen=True, slots=True)
class Offer:
    """A card that a clinic shows; ``card`` is signed, ``view`` what it says."""

    card: bytes
    view: ClinicCard


@dataclass(frozen=True, slots=True)
class TwoCards:
    """Both signed cards of one pairing.

    Attributes:
        device: As it stands inside the seal.
        words_version: How the words are found; both cards say the same.
    """

    clinic: bytes
    device: bytes
    words_version: int


@dataclass(frozen=True, slots=True)
class Answer:
    """A device's answer to a card.

    Attributes:
        sealed: The device's card, sealed to the clinic: show, paste or save this.
        cards: What the six words are found from.
        clinic: What the card said.
    """

    sealed: bytes
    cards: TwoCards
    clinic: ClinicCard


@dataclass(frozen=True, slots=True)
class Accepted:
    """A device's card as the clinic opened it; ``cards`` give the six words."""

    device: DeviceCard
    cards: TwoCards


async def pairing_words(
    cards: TwoCards, derivation: KeyDerivation = WORDS_DERIVATION
) -> tuple[str, ...]:
    """Return the six words over both signed cards; this takes a moment, on purpose.

    Args:
        derivation: Anything but the default is for tests.
    """
    if cards.words_version == 1:
        return words_of(cards.clinic, cards.device)
    return await slow_words_of(cards.clinic, cards.device, derivation)


def offer(clinic: OwnKeys, now: Moment, random: Random) -> Offer:
    """Return a fresh card, good for ten minutes and one answer.

    Raises:
        BundleNotMadeError: The name or the number is too long.
    """
    view = ClinicCard(
        clinic_id=clinic.own_id,
        name=clinic.name,
        signing_key=door.signing_public_key(clinic.signing_seed),
        agreement_key=door.agreement_public_key(clinic.agreement_private),
        token=random(TOKEN_LENGTH),
        nonce=random(NONCE_LENGTH),
        expires_ms=now.utc_ms + VALID_MS,
        is_demo=clinic.is_demo,
        phone=clinic.phone,
    )
    return Offer(write_clinic_card(view, clinic.signing_seed), view)


def answer(card: bytes, device: OwnKeys, now: Moment, random: Random) -> Answer:
    """Answer a clinic's card; the nonce is drawn after the card was read.

    Raises:
        NotACardError: It is no clinic's card, or was changed.
        BundleTooNewError: A newer version wrote it.
        CardExpiredError: Its time is over by this device's clock.
        OlderCardError: It asks for words of an older version.
        DemoRefusedError: One of the two is a demonstration, the other is real.
        BundleNotMadeError: The device's name is too long.
    """
    clinic = read_clinic_card(card, now)
    if clinic.words_version < WORDS_VERSION:
        # Also a way of somebody in the middle to get words that are easy to imitate.
        raise OlderCardError("its words are of an older version")
    if clinic.is_demo is not device.is_demo:
        raise DemoRefusedError("a demo and a real place are never paired")
    view = DeviceCard(
        device_id=device.own_id,
        name=device.name,
        signing_key=door.signing_public_key(device.signing_seed),
        agreement_key=door.agreement_public_key(device.agreement_private),
        nonce=random(NONCE_LENGTH),
        token=clinic.token,
        clinic_card_hash=door.sha256(card),
        former=device.former,
        is_demo=device.is_demo,
    )
    signed = write_device_card(view, device.signing_seed)
    sealed = seal_device_card(signed, clinic, random)
    return Answer(sealed, TwoCards(card, signed, view.words_version), clinic)


def accept(
    sealed: bytes, offered: Offer, agreement_private: bytes, now: Moment
) -> Accepted:
    """Open an answer to the card that was offered.

    Whatever comes of an answer that could be opened, it uses up the offer: drop it
    before anything is shown, unless a ``NotACardError`` said that nothing came.

    Raises:
        CardExpiredError: Ten minutes are over.
        NotACardError: It is no device's card, damaged, or made for another computer.
        BundleTooNewError: A newer version made it.
        CardSubstitutedError: It answers another card than this one.
        OlderCardError: Its words are of an older version than the card's.
        DemoRefusedError: One of the two is a demonstration, the other is real.
    """
    if now.utc_ms > offered.view.expires_ms:
        raise CardExpiredError("its time is over")
    try:
        opened = unseal(sealed, agreement_private)
    except (NotABundleError, WrongRecipientError) as error:
        raise NotACardError("it is no answer to this computer") from error
    if opened.kind is not SealedKind.DEVICE_CARD:
        raise NotACardError("it is a bundle, no card")
    device = read_device_card(opened.plain)
    answered = (device.token, device.clinic_card_hash)
    if answered != (offered.view.token, door.sha256(offered.card)):
        raise CardSubstitutedError("it answers another card")
    version = offered.view.words_version
    if device.words_version != version:
        raise OlderCardError("its words are of another version")
    if device.is_demo is not offered.view.is_demo:
        raise DemoRefusedError("a demo and a real place are never paired")
    return Accepted(device, TwoCards(offered.card, opened.plain, version))


Claim = tuple[str, bytes]


def claims_of(card: DeviceCard) -> tuple[Claim, ...]:
    """Return the ids a card claims, each with its Ed25519 key: present, then former.

    The former ones vouch for the present one: ``read_device_card`` checked that.
    """
    former = ((one.device_id, one.signing_key) for one in card.former)
    return ((card.device_id, card.signing_key), *former)


def check_claims(card: DeviceCard, known: Iterable[Claim]) -> None:
    """Refuse a card whose ids or keys are known otherwise.

    Args:
        card: As its seal and signature proved it.
        known: Ids and keys of every device that a person confirmed, with those that
            it had before, revoked ones too.

    Raises:
        KnownDeviceKeyError: A known id comes with another key and none that vouches
            for it, or a known key under another id.
    """
    claims = claims_of(card)
    for device_id, key in known:
        keys_of_id = {k for i, k in claims if i == device_id}
        ids_of_key = {i for i, k in claims if k == key}
        if (keys_of_id and key not in keys_of_id) or ids_of_key - {device_id}:
            raise KnownDeviceKeyError("a known device has another key")
