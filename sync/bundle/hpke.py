"""HPKE, base mode, as RFC 9180 defines it, composed from the crypto door.

One suite: DHKEM(X25519, HKDF-SHA256), HKDF-SHA256, AES-256-GCM. One message for each
encapsulated key: the sequence number of RFC 9180, section 5.2, is always zero. Base
mode says nothing about the sender; a signature inside does.
"""

import hmac
from collections.abc import Callable
from dataclasses import dataclass

from exam_app.crypto import door

KEY_LENGTH = 32
ENCAPSULATED_LENGTH = 32
TAG_LENGTH = 16
_KEM_SUITE = b"KEM" + (0x0020).to_bytes(2, "big")
_SUITE = b"HPKE" + b"".join(part.to_bytes(2, "big") for part in (0x0020, 1, 2))
_BASE_MODE = b"\x00"
_HASH_LENGTH = 32
_NONCE_LENGTH = 12


@dataclass(frozen=True, slots=True)
class Context:
    """What both sides derive for one message; never stored."""

    key: bytes
    nonce: bytes
    exporter_secret: bytes


def sender_context(
    recipient_public: bytes, info: bytes, random: Callable[[int], bytes]
) -> tuple[bytes, Context]:
    """Draw a key pair for one message; return its public half and the context.

    Args:
        recipient_public: X25519 public key, 32 bytes.
        info: Bound to the message, not part of it.

    Raises:
        BadKeyError: The public key is small order, not canonical or of another length.
    """
    ephemeral = random(KEY_LENGTH)
    encapsulated = door.agreement_public_key(ephemeral)
    agreed = door.agree(ephemeral, recipient_public)
    return encapsulated, _schedule(
        _shared(agreed, encapsulated, recipient_public), info
    )


def recipient_context(encapsulated: bytes, private: bytes, info: bytes) -> Context:
    """Return the context of a message from its encapsulated key.

    Raises:
        BadKeyError: The encapsulated key is small order, not canonical or of another
            length.
    """
    agreed = door.agree(private, encapsulated)
    public = door.agreement_public_key(private)
    return _schedule(_shared(agreed, encapsulated, public), info)


def seal(context: Context, plain: bytes, associated: bytes = b"") -> bytes:
    """Return the ciphertext with its tag; once for each context."""
    return door.seal(context.key, context.nonce, plain, associated)


def unseal(context: Context, sealed: bytes, associated: bytes = b"") -> bytes:
    """Return what ``seal`` took.

    Raises:
        WrongKeyError: It did not authenticate.
    """
    return door.unseal(context.key, context.nonce, sealed, associated)


def export(context: Context, label: bytes, length: int) -> bytes:
    """Return a secret that only the two ends of this message can derive.

    The secret export of RFC 9180, section 5.3.
    """
    return _labeled_expand(_SUITE, context.exporter_secret, b"sec", label, length)


def _shared(agreed: bytes, encapsulated: bytes, public: bytes) -> bytes:
    """Return the shared secret of the KEM: ExtractAndExpand of section 4.1."""
    pseudorandom = _labeled_extract(_KEM_SUITE, b"", b"eae_prk", agreed)
    around = encapsulated + public
    return _labeled_expand(
        _KEM_SUITE, pseudorandom, b"shared_secret", around, _HASH_LENGTH
    )


def _schedule(shared: bytes, info: bytes) -> Context:
    """Return the key schedule of section 5.1 for base mode: no pre-shared key."""
    no_key_id = _labeled_extract(_SUITE, b"", b"psk_id_hash", b"")
    info_hash = _labeled_extract(_SUITE, b"", b"info_hash", info)
    around = _BASE_MODE + no_key_id + info_hash
    secret = _labeled_extract(_SUITE, shared, b"secret", b"")
    return Context(
        _labeled_expand(_SUITE, secret, b"key", around, KEY_LENGTH),
        _labeled_expand(_SUITE, secret, b"base_nonce", around, _NONCE_LENGTH),
        _labeled_expand(_SUITE, secret, b"exp", around, _HASH_LENGTH),
    )


def _labeled_extract(suite: bytes, salt: bytes, label: bytes, secret: bytes) -> bytes:
    return _hmac(salt or bytes(_HASH_LENGTH), b"HPKE-v1" + suite + label + secret)


def _labeled_expand(
    suite: bytes, secret: bytes, label: bytes, info: bytes, length: int
) -> bytes:
    labeled = length.to_bytes(2, "big") + b"HPKE-v1" + suite + label + info
    block, made = b"", b""
    for counter in range(1, -(-length // _HASH_LENGTH) + 1):
        block = _hmac(secret, block + labeled + bytes([counter]))
        made += block
    return made[:length]


def _hmac(key: bytes, message: bytes) -> bytes:
    return hmac.digest(key, message, "sha256")
