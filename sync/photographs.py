"""A photograph on its way to the clinic, and what the clinic says it holds of them.

A photograph travels by itself, in a file and never in a code: sealed to the clinic as
a bundle is, with a label that its device signed. The picture is known by its hash,
which a signed record names; until one does it is shown nowhere. The same photograph
sealed again to the same clinic by the same device gives the same bytes, so that a
folder holds it once.

The clinic's list, signed, says which photographs of a device it holds and which it
waits for; only what it says it holds may ever be deleted there.
"""

from dataclasses import dataclass

from exam_app.crypto import door
from exam_app.domain.moments import Moment
from exam_app.record.cbor_form import BYTES, encode, read_head
from exam_app.record.cose import Kind, claimed_key_id, claimed_kind
from exam_app.record.errors import NotAPhotographError, RecordError
from exam_app.record.jpeg import LARGEST_PICTURE, Pixels, check_picture
from sync.bundle.bundle import PublicKeyOf
from sync.bundle.sealing import Random, SealedKind, read_kind, seal_to, unseal
from sync.errors import (
    BadManifestError,
    BundleNotMadeError,
    NotABundleError,
    NotAReceiptError,
    SyncError,
    UnknownDeviceError,
    WrongRecipientError,
)
from sync.trust.signed_fields import (
    COUNT,
    FLAG,
    MOMENT,
    Numbered,
    hexadecimal,
    items,
    numbered,
    octets,
    open_clinics,
    open_fields,
    sign_fields,
)

LARGEST_LABEL = 1_024
MOST_NAMED = 2_000
_SEALING = b"exam-app photograph sealing v1"


@dataclass(frozen=True, slots=True)
class PhotographLabel:
    """What a device signed of a photograph.

    Attributes:
        device_id: The sender.
        recipient_key: X25519 public key it was sealed to, 32 bytes.
        sha256: Of the picture, in hexadecimal.
        size: Its bytes.
        exam_id: An exam whose record names it; where to look, proved by the record.
        is_demo: Whether it is invented.
    """

    device_id: str
    recipient_key: bytes
    sha256: str
    size: int
    exam_id: str
    is_demo: bool


@dataclass(frozen=True, slots=True)
class OpenedPhotograph:
    """A photograph whose label and hash fit.

    Attributes:
        pixels: Its size.
        key_id: Which key signed the label.
        sealed_hash: SHA-256 of the bytes that travelled, in hexadecimal.
    """

    label: PhotographLabel
    picture: bytes
    pixels: Pixels
    key_id: bytes
    sealed_hash: str


_LABEL = (
    Numbered(1, "device_id", hexadecimal(16)),
    Numbered(2, "recipient_key", octets(32)),
    Numbered(3, "sha256", hexadecimal(32)),
    Numbered(4, "size", COUNT),
    Numbered(5, "exam_id", hexadecimal(16)),
    Numbered(9, "is_demo", FLAG, left_out=False),
)


def seal_photograph(label: PhotographLabel, picture: bytes, seed: bytes) -> bytes:
    """Sign the label of a photograph and seal both to the clinic.

    Args:
        label: With the hash of the picture.
        picture: As prepared.
        seed: The device's 32-byte Ed25519 seed.

    Raises:
        NotAPhotographError: It is no prepared picture.
        BundleNotMadeError: The label is of another picture, or the key is none.
    """
    check_picture(picture)
    if (door.sha256(picture).hex(), len(picture)) != (label.sha256, label.size):
        raise BundleNotMadeError("the label is of another picture")
    signed = sign_fields(Kind.PHOTOGRAPH, numbered(label, _LABEL), seed)
    plain = encode(signed) + picture
    random = _random_of(seed, label.recipient_key, plain)
    return seal_to(SealedKind.PHOTOGRAPH, label.recipient_key, plain, random)[0]


def _random_of(seed: bytes, recipient_key: bytes, plain: bytes) -> Random:
    """Derive what is drawn for one message from what is in it, under the seed.

    Another message, recipient or device draws other bytes; the same one the same, so
    that it is sealed to the same bytes again.
    """
    secret = door.hkdf_sha256(seed, recipient_key, _SEALING, 32)
    return lambda length: door.hkdf_sha256(secret, door.sha256(plain), b"", length)


def is_photograph(content: bytes) -> bool:
    """Whether bytes say that they are a sealed photograph; nothing is verified."""
    try:
        return read_kind(content) is SealedKind.PHOTOGRAPH
    except SyncError:
        return False


def open_photograph(
    sealed: bytes, agreement_private: bytes, public_key_of: PublicKeyOf
) -> OpenedPhotograph:
    """Open and verify a photograph; that a record names it is not yet known.

    Args:
        sealed: What travelled.
        agreement_private: The clinic's 32-byte X25519 private key.
        public_key_of: Gives the Ed25519 public key of a key id, or ``None``.

    Raises:
        BundleTooLargeError, NotABundleError, BundleTooNewError, WrongRecipientError:
            As of a bundle.
        UnknownDeviceError: The sender's key is not known here.
        BadManifestError: The picture is not the one that was signed, or is none.
    """
    unsealed = unseal(sealed, agreement_private)
    if unsealed.kind is not SealedKind.PHOTOGRAPH:
        raise NotABundleError("it is no photograph")
    signed, picture = _parts(unsealed.plain)
    try:
        key_id = claimed_key_id(signed)
    except RecordError as error:
        raise NotABundleError("it has no label") from error
    public_key = public_key_of(key_id)
    if public_key is None:
        raise UnknownDeviceError(f"key {key_id.hex()}")
    fields = open_fields(signed, Kind.PHOTOGRAPH, public_key, BadManifestError)
    label = PhotographLabel(**fields.named(_LABEL))
    if label.recipient_key != door.agreement_public_key(agreement_private):
        raise WrongRecipientError("its sender made it for another key")
    if (door.sha256(picture).hex(), len(picture)) != (label.sha256, label.size):
        raise BadManifestError("it is not the picture that was signed")
    try:
        pixels = check_picture(picture)
    except NotAPhotographError as error:
        raise BadManifestError("it is no prepared picture") from error
    sealed_hash = door.sha256(sealed).hex()
    return OpenedPhotograph(label, picture, pixels, key_id, sealed_hash)


def _parts(plain: bytes) -> tuple[bytes, bytes]:
    try:
        major, length, end = read_head(plain, 0)
    except RecordError as error:
        raise NotABundleError("it has no label") from error
    picture = plain[end + length :]
    is_label = major == BYTES and length <= LARGEST_LABEL
    if not is_label or not 0 < len(picture) <= LARGEST_PICTURE:
        raise NotABundleError("it is no label and picture")
    return plain[end : end + length], picture


@dataclass(frozen=True, slots=True)
class PhotographList:
    """What a clinic says of a device's photographs.

    Attributes:
        at: When; a later list counts before an earlier one.
        held: SHA-256 of those it holds and a record there names, in hexadecimal.
        wanted: Of those that records there name and that it does not hold.
    """

    clinic_id: str
    device_id: str
    at: Moment
    held: tuple[str, ...] = ()
    wanted: tuple[str, ...] = ()
    is_demo: bool = False


_HASH = hexadecimal(32)


def _read_hash(value: object) -> str:
    if not _HASH.fits(value):
        raise NotAReceiptError("it names no hash")
    return str(_HASH.read(value))


_HASHES = items(MOST_NAMED, _read_hash, _HASH.write)
_LIST = (
    Numbered(1, "clinic_id", hexadecimal(16)),
    Numbered(2, "device_id", hexadecimal(16)),
    Numbered(3, "at", MOMENT),
    Numbered(4, "held", _HASHES, ()),
    Numbered(5, "wanted", _HASHES, ()),
    Numbered(9, "is_demo", FLAG, left_out=False),
)


def sign_list(said: PhotographList, seed: bytes) -> bytes:
    """Return the list as signed by the clinic.

    Raises:
        BundleNotMadeError: It names more than one list can.
    """
    if max(len(said.held), len(said.wanted)) > MOST_NAMED:
        raise BundleNotMadeError(f"more than {MOST_NAMED} photographs")
    return sign_fields(Kind.PHOTOGRAPHS, numbered(said, _LIST), seed)


def is_list(content: bytes) -> bool:
    """Whether bytes say that they are such a list; nothing is verified."""
    try:
        return claimed_kind(content) is Kind.PHOTOGRAPHS
    except RecordError:
        return False


def read_list(signed: bytes, clinic_signing_key: bytes) -> PhotographList:
    """Return what a list says, if the clinic signed it.

    Raises:
        ReceiptForgedError: Another key signed it, or it was changed.
        NotAReceiptError: It is no such list.
        BundleTooNewError: A newer version made it.
    """
    fields = open_clinics(signed, Kind.PHOTOGRAPHS, clinic_signing_key)
    return PhotographList(**fields.named(_LIST))
