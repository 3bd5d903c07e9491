"""The sealed outer form of everything sealed: eight bytes, a key, the ciphertext.

Sealed with HPKE, base mode, of RFC 9180, composed from the crypto door: DHKEM(X25519,
HKDF-SHA256), HKDF-SHA256, AES-256-GCM. One message for each encapsulated key: the
sequence number of section 5.2 is always zero. Base mode says nothing about the sender;
a signature inside does.

The eight bytes (mark, version, kind, the recipient's tag) are readable and are bound
through HPKE's ``info``, so that none can be changed. They say whom it is for only to
somebody who knows that public key already.
"""

import hmac
from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum

from exam_app.crypto import door
from exam_app.crypto.errors import BadKeyError, WrongKeyError
from sync.errors import (
    BundleNotMadeError,
    BundleTooLargeError,
    BundleTooNewError,
    NotABundleError,
    WrongRecipientError,
)

Random = Callable[[int], bytes]

MARK = b"XH"
VERSION = 1
HEADER_LENGTH = 8
# Of X25519 keys, encapsulated ones too, of SHA-256 and of AES-256 keys.
_LENGTH = 32
OVERHEAD = HEADER_LENGTH + _LENGTH + 16
LARGEST_SEALED = 2 * 2**20
_TAG_LENGTH = 4
_INFO_LABEL = b"exam-app hand-over v1"
_RECEIPT_LABEL = b"exam-app receipt v1"
_KEM_SUITE = b"KEM" + (0x0020).to_bytes(2, "big")
_SUITE = b"HPKE" + b"".join(part.to_bytes(2, "big") for part in (0x0020, 1, 2))
_BASE_MODE = b"\x00"
_NONCE_LENGTH = 12


class SealedKind(IntEnum):
    """What is inside."""

    EXAMS = 1
    DAY_PACK = 2
    DEVICE_CARD = 3
    PHOTOGRAPH = 4


@dataclass(frozen=True, slots=True)
class Unsealed:
    """What came out, and the secret that only the two ends can derive."""

    kind: SealedKind
    plain: bytes
    secret: bytes


def recipient_tag(agreement_key: bytes) -> bytes:
    """Return the four bytes by which a recipient knows what is meant for it."""
    return door.sha256(agreement_key)[:_TAG_LENGTH]


def seal_to(
    kind: SealedKind, recipient_key: bytes, plain: bytes, random: Random
) -> tuple[bytes, bytes]:
    """Seal to one recipient.

    Returns:
        The sealed bytes, and the secret that only the two ends can derive.

    Raises:
        BundleNotMadeError: The recipient's key is none.
    """
    header = MARK + bytes([VERSION, kind]) + recipient_tag(recipient_key)
    try:
        key, context = sender_context(recipient_key, _INFO_LABEL + header, random)
    except BadKeyError as error:
        raise BundleNotMadeError("the recipient's key is none") from error
    sealed = header + key + door.seal(context.key, context.nonce, plain, b"")
    return sealed, export(context, _RECEIPT_LABEL)


def read_kind(sealed: bytes) -> SealedKind:
    """Return what the header claims is inside; nothing is verified yet.

    Raises:
        BundleTooLargeError: It passes the limit.
        NotABundleError: It is nothing of ours, or cut off.
        BundleTooNewError: A newer version made it.
    """
    if len(sealed) > LARGEST_SEALED:
        raise BundleTooLargeError(f"more than {LARGEST_SEALED} bytes")
    if len(sealed) < OVERHEAD or not sealed.startswith(MARK):
        raise NotABundleError("it does not begin as a hand-over, or is cut off")
    version, kind = sealed[2], sealed[3]
    if version > VERSION:
        raise BundleTooNewError(f"version {version}")
    if version != VERSION or kind not in list(SealedKind):
        raise NotABundleError("its version or kind is none")
    return SealedKind(kind)


def unseal(sealed: bytes, agreement_private: bytes) -> Unsealed:
    """Open what was sealed to this private key.

    Raises:
        BundleTooLargeError, NotABundleError, BundleTooNewError: As ``read_kind``;
            also ``NotABundleError`` when it was changed.
        WrongRecipientError: It was sealed to another key.
    """
    kind = read_kind(sealed)
    header = sealed[:HEADER_LENGTH]
    public = door.agreement_public_key(agreement_private)
    if header[-_TAG_LENGTH:] != recipient_tag(public):
        raise WrongRecipientError("it is sealed to another key")
    end = HEADER_LENGTH + _LENGTH
    key, info = sealed[HEADER_LENGTH:end], _INFO_LABEL + header
    try:
        context = recipient_context(key, agreement_private, info)
        plain = door.unseal(context.key, context.nonce, sealed[end:], b"")
    except (BadKeyError, WrongKeyError) as error:
        raise NotABundleError("it was changed, or is not whole") from error
    return Unsealed(kind, plain, export(context, _RECEIPT_LABEL))


@dataclass(frozen=True, slots=True)
class Context:
    """What both sides derive for one message; never stored."""

    key: bytes
    nonce: bytes
    exporter_secret: bytes


def sender_context(
    recipient_public: bytes, info: bytes, random: Random
) -> tuple[bytes, Context]:
    """Draw a key pair for one message; return its public half and the context.

    Args:
        recipient_public: X25519 public key, 32 bytes.
        info: Bound to the message, not part of it.

    Raises:
        BadKeyError: The public key is small order, not canonical or of another length.
    """
    ephemeral = random(_LENGTH)
    encapsulated = door.agreement_public_key(ephemeral)
    agreed = door.agree(ephemeral, recipient_public)
    return encapsulated, _schedule(agreed, encapsulated + recipient_public, info)


def recipient_context(encapsulated: bytes, private: bytes, info: bytes) -> Context:
    """Return the context of a message from its encapsulated key.

    Raises:
        BadKeyError: The encapsulated key is small order, not canonical or of another
            length.
    """
    agreed = door.agree(private, encapsulated)
    public = door.agreement_public_key(private)
    return _schedule(agreed, encapsulated + public, info)


def export(context: Context, label: bytes) -> bytes:
    """Return 32 bytes that only the two ends can derive: section 5.3 of RFC 9180."""
    return _labeled_expand(_SUITE, context.exporter_secret, b"sec", label)


def _schedule(agreed: bytes, keys: bytes, info: bytes) -> Context:
    """Extract and expand as in section 4.1, then the key schedule of section 5.1.

    In base mode there is no pre-shared key.
    """
    extracted = _labeled_extract(_KEM_SUITE, b"", b"eae_prk", agreed)
    shared = _labeled_expand(_KEM_SUITE, extracted, b"shared_secret", keys)
    no_key_id = _labeled_extract(_SUITE, b"", b"psk_id_hash", b"")
    info_hash = _labeled_extract(_SUITE, b"", b"info_hash", info)
    around = _BASE_MODE + no_key_id + info_hash
    secret = _labeled_extract(_SUITE, shared, b"secret", b"")
    return Context(
        _labeled_expand(_SUITE, secret, b"key", around),
        _labeled_expand(_SUITE, secret, b"base_nonce", around, _NONCE_LENGTH),
        _labeled_expand(_SUITE, secret, b"exp", around),
    )


def _labeled_extract(suite: bytes, salt: bytes, label: bytes, secret: bytes) -> bytes:
    labeled = b"HPKE-v1" + suite + label + secret
    return hmac.digest(salt or bytes(_LENGTH), labeled, "sha256")


def _labeled_expand(
    suite: bytes, secret: bytes, label: bytes, info: bytes, length: int = _LENGTH
) -> bytes:
    """Expand to at most one hash: no key or secret of this suite is longer."""
    labeled = length.to_bytes(2, "big") + b"HPKE-v1" + suite + label + info
    return hmac.digest(secret, labeled + b"\x01", "sha256")[:length]
