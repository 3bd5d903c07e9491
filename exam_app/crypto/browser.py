"""The primitives in a browser: the noble libraries, called without waiting.

``phone/static/primitives.js`` puts them into the worker that runs Python before the
app starts. Lengths, bounds and keys were checked in the door; nothing here checks
them again.
"""

import importlib
from typing import Any

from exam_app.crypto.errors import BadKeyError, WrongKeyError


def seal(key: bytes, nonce: bytes, plain: bytes, associated: bytes) -> bytes:
    """Seal with AES-256-GCM; the 16-byte tag is appended."""
    return _taken(_call("seal", key, nonce, plain, associated))


def unseal(key: bytes, nonce: bytes, sealed: bytes, associated: bytes) -> bytes:
    """Open what ``seal`` made; raise ``WrongKeyError`` where the tag does not fit."""
    plain = _call("unseal", key, nonce, sealed, associated)
    if not hasattr(plain, "to_bytes"):
        raise WrongKeyError("sealed bytes did not authenticate")
    return _taken(plain)


def hkdf_sha256(secret: bytes, salt: bytes, info: bytes, length: int) -> bytes:
    """Derive ``length`` bytes with HKDF-SHA-256."""
    return _taken(_call("hkdf", secret, salt, info, length))


def signing_public_key(seed: bytes) -> bytes:
    """Give the Ed25519 public key of a 32-byte seed."""
    return _taken(_call("signingPublicKey", seed))


def sign(seed: bytes, message: bytes) -> bytes:
    """Sign with Ed25519, 64 bytes, deterministic."""
    return _taken(_call("sign", seed, message))


def verify(public: bytes, signature: bytes, message: bytes) -> bool:
    """Check an Ed25519 signature without cofactor, comparing the bytes of R."""
    return bool(_call("verify", public, signature, message))


def agreement_public_key(private: bytes) -> bytes:
    """Give the X25519 public key of a 32-byte private key."""
    return _taken(_call("agreementPublicKey", private))


def agree(private: bytes, public: bytes) -> bytes:
    """Compute the X25519 secret, 32 bytes; raise ``BadKeyError`` on an all-zero one."""
    shared = _call("agree", private, public)
    if not hasattr(shared, "to_bytes"):
        raise BadKeyError("agreement gave no secret")
    return _taken(shared)


async def derive_key(
    secret: bytes, salt: bytes, memory_kib: int, passes: int, lanes: int
) -> bytes:
    """Derive 32 bytes with Argon2id in short pieces, so that the worker answers."""
    return _taken(await _call("deriveKey", secret, salt, memory_kib, passes, lanes))


def _call(name: str, *given: bytes | int) -> Any:  # noqa: ANN401  JavaScript's own
    # Both exist only where Python runs in a browser or in Node.
    js, ffi = map(importlib.import_module, ("js", "pyodide.ffi"))
    return getattr(js.examPrimitives, name)(*map(ffi.to_js, given))


def _taken(array: Any) -> bytes:  # noqa: ANN401
    content: bytes = array.to_bytes()
    return content
