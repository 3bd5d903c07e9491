"""The primitives as the ``cryptography`` package gives them.

Lengths, bounds and keys were checked in the door; nothing here checks them again.
"""

import asyncio
from functools import lru_cache

from cryptography.exceptions import (
    InvalidSignature,
    InvalidTag,
    UnsupportedAlgorithm,
)
from cryptography.hazmat.primitives.asymmetric.ed25519 import (
    Ed25519PrivateKey,
    Ed25519PublicKey,
)
from cryptography.hazmat.primitives.asymmetric.x25519 import (
    X25519PrivateKey,
    X25519PublicKey,
)
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from exam_app.crypto.errors import BadKeyError, DerivationMissingError, WrongKeyError


def seal(key: bytes, nonce: bytes, plain: bytes, associated: bytes) -> bytes:
    """Seal with AES-256-GCM; the 16-byte tag is appended."""
    return AESGCM(key).encrypt(nonce, plain, associated)


def unseal(key: bytes, nonce: bytes, sealed: bytes, associated: bytes) -> bytes:
    """Open what ``seal`` made; raise ``WrongKeyError`` where the tag does not fit."""
    try:
        return AESGCM(key).decrypt(nonce, sealed, associated)
    except InvalidTag as error:
        raise WrongKeyError("sealed bytes did not authenticate") from error


def hkdf_sha256(secret: bytes, salt: bytes, info: bytes, length: int) -> bytes:
    """Derive ``length`` bytes with HKDF-SHA-256."""
    return HKDF(algorithm=SHA256(), length=length, salt=salt, info=info).derive(secret)


def signing_public_key(seed: bytes) -> bytes:
    """Give the Ed25519 public key of a 32-byte seed."""
    return Ed25519PrivateKey.from_private_bytes(seed).public_key().public_bytes_raw()


def sign(seed: bytes, message: bytes) -> bytes:
    """Sign with Ed25519, 64 bytes, deterministic."""
    return Ed25519PrivateKey.from_private_bytes(seed).sign(message)


def verify(public: bytes, signature: bytes, message: bytes) -> bool:
    """Check an Ed25519 signature without cofactor, comparing the bytes of R."""
    try:
        _signing_key(public).verify(signature, message)
    except InvalidSignature:
        return False
    return True


@lru_cache(maxsize=64)
def _signing_key(public: bytes) -> Ed25519PublicKey:
    # Unpacking the point takes as long as verifying, and a bundle has one key.
    return Ed25519PublicKey.from_public_bytes(public)


def agreement_public_key(private: bytes) -> bytes:
    """Give the X25519 public key of a 32-byte private key."""
    return X25519PrivateKey.from_private_bytes(private).public_key().public_bytes_raw()


def agree(private: bytes, public: bytes) -> bytes:
    """Compute the X25519 secret, 32 bytes; raise ``BadKeyError`` on an all-zero one."""
    peer = X25519PublicKey.from_public_bytes(public)
    try:
        return X25519PrivateKey.from_private_bytes(private).exchange(peer)
    except ValueError as error:
        raise BadKeyError("agreement gave no secret") from error


async def derive_key(
    secret: bytes, salt: bytes, memory_kib: int, passes: int, lanes: int
) -> bytes:
    """Derive 32 bytes with Argon2id in a thread, so that the screen stays alive.

    Raises:
        DerivationMissingError: The library's OpenSSL is older than 3.2.
    """
    try:
        derivation = Argon2id(
            salt=salt,
            length=32,
            iterations=passes,
            lanes=lanes,
            memory_cost=memory_kib,
        )
    except UnsupportedAlgorithm as error:
        raise DerivationMissingError("no Argon2id in this build") from error
    return await asyncio.to_thread(derivation.derive, secret)
