"""The sealed outer form of everything sealed: eight bytes, a key, the ciphertext.

The eight bytes (mark, version, kind, the recipient's tag) are readable and are bound
through HPKE's ``info``, so that none can be changed. They say whom it is for only to
somebody who knows that public key already.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum

from exam_app.crypto import door
from exam_app.crypto.errors import BadKeyError, WrongKeyError
from sync.bundle import hpke
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
OVERHEAD = HEADER_LENGTH + hpke.ENCAPSULATED_LENGTH + hpke.TAG_LENGTH
LARGEST_SEALED = 2 * 2**20
_TAG_LENGTH = 4
_INFO_LABEL = b"exam-app hand-over v1"
_RECEIPT_LABEL = b"exam-app receipt v1"
_SECRET_LENGTH = 32


class SealedKind(IntEnum):
    """What is inside."""

    EXAMS = 1
    DAY_PACK = 2
    DEVICE_CARD = 3


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
        key, context = hpke.sender_context(recipient_key, _INFO_LABEL + header, random)
    except BadKeyError as error:
        raise BundleNotMadeError("the recipient's key is none") from error
    sealed = header + key + hpke.seal(context, plain)
    return sealed, hpke.export(context, _RECEIPT_LABEL, _SECRET_LENGTH)


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
    end = HEADER_LENGTH + hpke.ENCAPSULATED_LENGTH
    info = _INFO_LABEL + header
    try:
        context = hpke.recipient_context(
            sealed[HEADER_LENGTH:end], agreement_private, info
        )
        plain = hpke.unseal(context, sealed[end:])
    except (BadKeyError, WrongKeyError) as error:
        raise NotABundleError("it was changed, or is not whole") from error
    return Unsealed(kind, plain, hpke.export(context, _RECEIPT_LABEL, _SECRET_LENGTH))
