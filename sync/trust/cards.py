"""Pairing cards: what a clinic shows, and what a device answers, sealed to the clinic.

A card is signed by the key it names, which proves nothing about whose it is: the six
words that both screens show, and a person who compares them, do that.
"""

from dataclasses import dataclass

from exam_app.crypto.curve_points import check_agreement_key
from exam_app.crypto.errors import BadKeyError
from exam_app.domain.moments import Moment
from exam_app.record.cose import Kind
from exam_app.record.lineage import FormerKey, vouches
from sync.bundle.packing import NEWEST_PACKING, OLDEST_PACKING
from sync.bundle.sealing import Random, SealedKind, seal_to
from sync.errors import (
    BundleNotMadeError,
    BundleTooNewError,
    CardExpiredError,
    NotACardError,
)
from sync.transport.keyboard import Kind as KeyedKind
from sync.transport.keyboard import from_keys, to_keys
from sync.trust.signed_fields import (
    COUNT,
    FLAG,
    PACKING,
    Fields,
    Form,
    Numbered,
    hexadecimal,
    items,
    key_inside,
    numbered,
    octets,
    open_fields,
    sign_fields,
    text,
)

MOST_FORMER = 8
_LENGTHS = [16, 32, 32, 64]


def _write_former(former: FormerKey) -> list[bytes]:
    device_id = bytes.fromhex(former.device_id)
    return [device_id, former.signing_key, former.agreement_key, former.vouched]


def _read_former(entry: object) -> FormerKey:
    parts = entry if isinstance(entry, list) else []
    if [isinstance(part, bytes) and len(part) for part in parts] != _LENGTHS:
        raise NotACardError("a former key is not whole")
    device_id, signing, agreement, vouched = parts
    return FormerKey(device_id.hex(), signing, vouched, agreement)


def _check_chain(card: "DeviceCard") -> None:
    """Refuse former keys of which one does not vouch for the keys that came next."""
    following: tuple[FormerKey | DeviceCard, ...] = (*card.former[1:], card)
    for former, later in zip(card.former, following, strict=False):
        keys = later.signing_key, later.agreement_key
        if not vouches(former.signing_key, former.vouched, *keys):
            raise NotACardError("a former key does not vouch for the next")


TOKEN_LENGTH = 16
NONCE_LENGTH = 32
LONGEST_NAME = 80
LARGEST_CARD = 4_096
_CLINIC, _DEVICE = 1, 2
_ROLE, _ID, _NAME, _SIGNING, _AGREEMENT, _TOKEN, _NONCE, _IS_DEMO = range(1, 9)
_EXPIRES, _PHONE, _CLINIC_CARD_HASH, _FORMER, _WORDS, _PACKING = 9, 10, 11, 12, 13, 14
# How the six words are found; cards without the field are of version 1.
WORDS_VERSION = 2


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
        words_version: How the six words are found: 1, of older cards, or 2.
        packing: The newest packing of bundles that the clinic reads.
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
    words_version: int = WORDS_VERSION
    packing: int = NEWEST_PACKING


@dataclass(frozen=True, slots=True)
class DeviceCard:
    """What a device answers; attributes as of ``ClinicCard``.

    Attributes:
        nonce: 32 random bytes, drawn after the clinic's card was read.
        token: The clinic card's.
        clinic_card_hash: SHA-256 of the clinic card as read, 32 bytes.
        former: Keys it had before, oldest first, each vouching for the next.
        words_version: As of the clinic's card.
        packing: The newest packing of bundles that the device reads.
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
    words_version: int = WORDS_VERSION
    packing: int = NEWEST_PACKING


def _read_key(key: bytes) -> bytes:
    try:
        check_agreement_key(key)
    except BadKeyError as error:
        raise NotACardError("its key is none") from error
    return key


def _read_words_version(version: int) -> int:
    if version > WORDS_VERSION:
        raise BundleTooNewError(f"words of version {version}")
    return version


_BOTH = (
    Numbered(_NAME, "name", text(LONGEST_NAME)),
    Numbered(_SIGNING, "signing_key", octets(32)),
    Numbered(_AGREEMENT, "agreement_key", Form(octets(32).fits, _read_key)),
    Numbered(_TOKEN, "token", octets(TOKEN_LENGTH)),
    Numbered(_NONCE, "nonce", octets(NONCE_LENGTH)),
    Numbered(_IS_DEMO, "is_demo", FLAG, left_out=False),
    Numbered(_WORDS, "words_version", Form(COUNT.fits, _read_words_version), 1),
    Numbered(_PACKING, "packing", PACKING, OLDEST_PACKING),
)
_OF_CLINIC = (
    Numbered(_ID, "clinic_id", hexadecimal(16)),
    Numbered(_EXPIRES, "expires_ms", COUNT),
    Numbered(_PHONE, "phone", text(LONGEST_NAME), ""),
    *_BOTH,
)
_OF_DEVICE = (
    Numbered(_ID, "device_id", hexadecimal(16)),
    Numbered(_CLINIC_CARD_HASH, "clinic_card_hash", octets(32)),
    Numbered(_FORMER, "former", items(MOST_FORMER, _read_former, _write_former), ()),
    *_BOTH,
)


def write_clinic_card(card: ClinicCard, seed: bytes) -> bytes:
    """Return the card as signed by the clinic's key.

    Raises:
        BundleNotMadeError: A name or number is too long.
    """
    _check_names(card.name, card.phone)
    fields = {_ROLE: _CLINIC, **numbered(card, _OF_CLINIC)}
    return sign_fields(Kind.CARD, fields, seed)


def read_clinic_card(content: bytes, now: Moment) -> ClinicCard:
    """Return what a clinic's card says, if it is whole and not too old.

    It is checked against the key it names; whose that is, the six words must prove.

    Raises:
        NotACardError: It is no clinic's card, or was changed.
        BundleTooNewError: A newer version wrote it.
        CardExpiredError: Its time is over by this device's clock.
    """
    card = ClinicCard(**_open_card(content, _CLINIC).named(_OF_CLINIC))
    if now.utc_ms > card.expires_ms:
        raise CardExpiredError("its time is over")
    return card


def write_device_card(card: DeviceCard, seed: bytes) -> bytes:
    """Return the card as signed by the device's key; not yet sealed.

    Raises:
        BundleNotMadeError: The name is too long, or there are too many former keys.
    """
    _check_names(card.name)
    if len(card.former) > MOST_FORMER:
        raise BundleNotMadeError(f"more than {MOST_FORMER} former keys")
    fields = {_ROLE: _DEVICE, **numbered(card, _OF_DEVICE)}
    return sign_fields(Kind.CARD, fields, seed)


def read_device_card(content: bytes) -> DeviceCard:
    """Return what an unsealed device card says, if it is whole.

    Raises:
        NotACardError: It is no device's card, was changed, or a former key does not
            vouch for the next.
        BundleTooNewError: A newer version wrote it.
    """
    card = DeviceCard(**_open_card(content, _DEVICE).named(_OF_DEVICE))
    _check_chain(card)
    return card


def seal_device_card(signed: bytes, clinic: ClinicCard, random: Random) -> bytes:
    """Return a signed device card sealed to the clinic."""
    return seal_to(SealedKind.DEVICE_CARD, clinic.agreement_key, signed, random)[0]


def as_text(card: bytes) -> str:
    """Return bytes as text for a QR code, a paste field or a wedge scanner.

    Works for both cards and for signed receipts.
    """
    return to_keys(card)


def from_text(text: str) -> bytes:
    """Return the bytes of such a text; case, spaces, dashes and lines do not matter.

    Raises:
        NotACardError: It is no such text, or not all of it.
    """
    try:
        typed = from_keys(text)
    except ValueError as error:
        raise NotACardError("the text is not whole") from error
    if typed.kind is not KeyedKind.CONTENT:
        raise NotACardError("the text is a frame")
    return typed.content


def _open_card(content: bytes, role: int) -> Fields:
    if len(content) > LARGEST_CARD:
        raise NotACardError("it is too large for a card")
    key = key_inside(content, _SIGNING, NotACardError)
    fields = open_fields(content, Kind.CARD, key, NotACardError)
    if fields.get(_ROLE, COUNT) != role:
        raise NotACardError("it is the other side's card")
    return fields


def _check_names(*names: str) -> None:
    if any(len(name) > LONGEST_NAME for name in names):
        raise BundleNotMadeError(f"a name of more than {LONGEST_NAME} characters")
