"""The one door: plain synchronous calls, only key derivation is awaited.

Whatever two implementations must agree on is checked here and not behind it:
lengths, bounds, small-order and non-canonical keys, all-zero shared secrets.
An implementation verifies Ed25519 without cofactor and compares the bytes of R.

Costs of a derivation are read from a file before anything in it is authenticated, so
they are bounded first: an attacker must not be able to ask for all memory, nor to have
a new passphrase stored under a cheap derivation.
"""

import hashlib
import secrets
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from exam_app.crypto.curve_points import (
    check_agreement_key,
    check_signing_key,
    has_canonical_scalar,
)
from exam_app.crypto.errors import BadKeyError, BadParametersError, WrongKeyError

if sys.platform == "emscripten":
    from exam_app.crypto import browser as primitives
else:
    from exam_app.crypto import native as primitives

KEY_LENGTH = 32
NONCE_LENGTH = 12
TAG_LENGTH = 16
SIGNATURE_LENGTH = 64
_LONGEST_HKDF = 255 * 32
_SHORTEST_SALT = 8


class KeyDerivation(NamedTuple):
    """Costs of one Argon2id (version 0x13) derivation.

    Attributes:
        memory_kib: Memory in KiB; at least eight for each lane.
        passes: Passes over that memory; at least one.
        lanes: Lanes of the algorithm; at least one.

    References:
        RFC 9106, section 3.1; 64 MiB and three passes are its second
        recommended option, here with one lane since a browser has one thread.
    """

    memory_kib: int = 65536
    passes: int = 3
    lanes: int = 1


@dataclass(frozen=True, slots=True)
class DerivationBounds:
    """The cheapest and the dearest derivation a reader accepts, ends included."""

    cheapest: KeyDerivation
    dearest: KeyDerivation


# The upper end is what a phone's browser can still allocate (common practice, no
# source); the lower end is a minimum often advised for passphrases (from memory).
PRODUCTION_BOUNDS = DerivationBounds(
    cheapest=KeyDerivation(memory_kib=19456, passes=2, lanes=1),
    dearest=KeyDerivation(memory_kib=262144, passes=10, lanes=4),
)
_ALGORITHM_BOUNDS = DerivationBounds(
    cheapest=KeyDerivation(memory_kib=8, passes=1, lanes=1),
    dearest=PRODUCTION_BOUNDS.dearest,
)


def check_bounds(
    parameters: KeyDerivation, bounds: DerivationBounds = PRODUCTION_BOUNDS
) -> None:
    """Refuse a derivation cheaper or dearer than the bounds in any of its costs.

    Raises:
        BadParametersError: One of the costs lies outside.
    """
    within = all(
        low <= cost <= high
        for low, cost, high in zip(
            bounds.cheapest, parameters, bounds.dearest, strict=True
        )
    )
    memory_kib, passes, lanes = parameters
    if not within or min(passes, lanes) < 1 or memory_kib < 8 * lanes:
        raise BadParametersError("key derivation costs outside the accepted bounds")


def random_bytes(count: int) -> bytes:
    """Draw ``count`` bytes from the system's generator."""
    return secrets.token_bytes(count)


def sha256(message: bytes) -> bytes:
    """Hash a message with SHA-256, 32 bytes."""
    return hashlib.sha256(message).digest()


def sha256_of(pieces: Iterable[bytes]) -> bytes:
    """Hash pieces, in order, as if they were joined, 32 bytes."""
    found = hashlib.sha256()
    for piece in pieces:
        found.update(piece)
    return found.digest()


def seal(key: bytes, nonce: bytes, plain: bytes, associated: bytes) -> bytes:
    """Seal with AES-256-GCM.

    Args:
        key: 32 bytes.
        nonce: 12 bytes, never used twice with this key.
        plain: Any length, also empty.
        associated: Bytes that are bound but not stored; may be empty.

    Returns:
        The ciphertext with its 16-byte tag appended.

    Raises:
        BadParametersError: Key or nonce has another length.
    """
    _check_sealing(key, nonce)
    return primitives.seal(key, nonce, plain, associated)


def unseal(key: bytes, nonce: bytes, sealed: bytes, associated: bytes) -> bytes:
    """Open what ``seal`` made with the same key, nonce and associated bytes.

    Raises:
        WrongKeyError: It did not authenticate, or is shorter than a tag.
        BadParametersError: Key or nonce has another length.
    """
    _check_sealing(key, nonce)
    if len(sealed) < TAG_LENGTH:
        raise WrongKeyError("sealed bytes are shorter than a tag")
    return primitives.unseal(key, nonce, sealed, associated)


def hkdf_sha256(secret: bytes, salt: bytes, info: bytes, length: int) -> bytes:
    """Derive bytes from a strong secret with HKDF-SHA-256 (RFC 5869).

    Args:
        secret: Input keying material; not a passphrase.
        salt: May be empty, which counts as 32 zero bytes.
        info: Names the use; may be empty.
        length: 1 to 8 160 bytes.

    Raises:
        BadParametersError: The length is outside.
    """
    if not 1 <= length <= _LONGEST_HKDF:
        raise BadParametersError("HKDF gives 1 to 8160 bytes")
    return primitives.hkdf_sha256(secret, salt, info, length)


def new_signing_key() -> bytes:
    """Draw the 32-byte seed of a new Ed25519 key."""
    return random_bytes(KEY_LENGTH)


def signing_public_key(seed: bytes) -> bytes:
    """Give the 32-byte Ed25519 public key of a seed.

    Raises:
        BadKeyError: The seed has another length.
    """
    _check_private(seed)
    return primitives.signing_public_key(seed)


def sign(seed: bytes, message: bytes) -> bytes:
    """Sign a message with Ed25519, 64 bytes; the same every time (RFC 8032).

    Raises:
        BadKeyError: The seed has another length.
    """
    _check_private(seed)
    return primitives.sign(seed, message)


def verify(public: bytes, signature: bytes, message: bytes) -> bool:
    """Check an Ed25519 signature.

    Returns:
        False for any signature that does not fit, has another length, or whose
        scalar is not below the group order.

    Raises:
        BadKeyError: The public key is small order, not canonical or no point.
    """
    check_signing_key(public)
    if len(signature) != SIGNATURE_LENGTH or not has_canonical_scalar(signature):
        return False
    return primitives.verify(public, signature, message)


def new_agreement_key() -> bytes:
    """Draw a new 32-byte X25519 private key."""
    return random_bytes(KEY_LENGTH)


def agreement_public_key(private: bytes) -> bytes:
    """Give the 32-byte X25519 public key of a private key.

    Raises:
        BadKeyError: The private key has another length.
    """
    _check_private(private)
    return primitives.agreement_public_key(private)


def agree(private: bytes, public: bytes) -> bytes:
    """Compute the 32-byte X25519 shared secret; feed it to HKDF, never use it raw.

    Raises:
        BadKeyError: A key has another length, the public key is small order or not
            canonical, or the secret came out all zero.
    """
    _check_private(private)
    check_agreement_key(public)
    shared = primitives.agree(private, public)
    if not any(shared):
        raise BadKeyError("agreement gave no secret")
    return shared


async def derive_key(secret: bytes, salt: bytes, parameters: KeyDerivation) -> bytes:
    """Derive 32 bytes from a passphrase with Argon2id (RFC 9106), off the screen.

    Call ``check_bounds`` first on parameters that were read from anywhere.

    Args:
        secret: The passphrase's bytes; may be empty here, callers refuse that.
        salt: At least 8 bytes; this app always uses 16.
        parameters: The costs.

    Raises:
        BadParametersError: The salt is shorter, or the costs are outside what the
            algorithm allows.
    """
    if len(secret) > 2**16 or len(salt) < _SHORTEST_SALT:
        raise BadParametersError("secret too long or salt too short")
    check_bounds(parameters, _ALGORITHM_BOUNDS)
    return await primitives.derive_key(secret, salt, *parameters)


def _check_sealing(key: bytes, nonce: bytes) -> None:
    if len(key) != KEY_LENGTH or len(nonce) != NONCE_LENGTH:
        raise BadParametersError("a sealing key has 32 bytes, a nonce 12")


def _check_private(private: bytes) -> None:
    if len(private) != KEY_LENGTH:
        raise BadKeyError("a private key has 32 bytes")
