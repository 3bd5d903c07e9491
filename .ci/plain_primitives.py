"""Slow plain-Python primitives that stand in for the native half of the crypto door.

For the smoke test only: Pyodide has no wheel of the native library, and the browser's
own half comes with the phone build. Ed25519 follows the reference code of RFC 8032,
section 6, X25519 the text of RFC 7748, section 5; sealing is a stand-in of the same
shapes, not AES-GCM.
"""

import hashlib
import hmac
import importlib
import itertools
from collections.abc import Iterator

P = 2**255 - 19
Q = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, P - 2, P) % P
ROOT = pow(2, (P - 1) // 4, P)
Point = tuple[int, int, int, int]


def sha256(message: bytes) -> bytes:
    """Hash with SHA-256."""
    return hashlib.sha256(message).digest()


def _number(*parts: bytes) -> int:
    return int.from_bytes(hashlib.sha512(b"".join(parts)).digest(), "little") % Q


def _add(a: Point, b: Point) -> Point:
    e = (a[1] - a[0]) * (b[1] - b[0]) % P
    f = (a[1] + a[0]) * (b[1] + b[0]) % P
    g, h = 2 * a[3] * b[3] * D % P, 2 * a[2] * b[2] % P
    i, j, k, m = f - e, h - g, h + g, f + e
    return (i * j % P, k * m % P, j * k % P, i * m % P)


def _times(factor: int, point: Point) -> Point:
    total: Point = (0, 1, 1, 0)
    while factor:
        if factor & 1:
            total = _add(total, point)
        point = _add(point, point)
        factor >>= 1
    return total


def _recover_x(y: int, sign: int) -> int:
    square = (y * y - 1) * pow(D * y * y + 1, P - 2, P)
    x = pow(square, (P + 3) // 8, P)
    if (x * x - square) % P:
        x = x * ROOT % P
    if (x * x - square) % P:
        raise ValueError("no point")
    return P - x if x & 1 != sign else x


_Y = 4 * pow(5, P - 2, P) % P
_X = _recover_x(_Y, 0)
BASE: Point = (_X, _Y, 1, _X * _Y % P)


def _pack(point: Point) -> bytes:
    inverse = pow(point[2], P - 2, P)
    x, y = point[0] * inverse % P, point[1] * inverse % P
    return (y | (x & 1) << 255).to_bytes(32, "little")


def _unpack(packed: bytes) -> Point:
    number = int.from_bytes(packed, "little")
    y = number & ((1 << 255) - 1)
    x = _recover_x(y, number >> 255)
    return (x, y, 1, x * y % P)


def _expand(seed: bytes) -> tuple[int, bytes]:
    digest = hashlib.sha512(seed).digest()
    number = int.from_bytes(digest[:32], "little") & ((1 << 254) - 8) | 1 << 254
    return number, digest[32:]


def signing_public_key(seed: bytes) -> bytes:
    """Give the Ed25519 public key of a seed."""
    return _pack(_times(_expand(seed)[0], BASE))


def sign(seed: bytes, message: bytes) -> bytes:
    """Sign with Ed25519."""
    number, prefix = _expand(seed)
    r = _number(prefix, message)
    start = _pack(_times(r, BASE))
    s = (r + _number(start, signing_public_key(seed), message) * number) % Q
    return start + s.to_bytes(32, "little")


def verify(public: bytes, signature: bytes, message: bytes) -> bool:
    """Check an Ed25519 signature."""
    s = int.from_bytes(signature[32:], "little")
    h = _number(signature[:32], public, message)
    x, y, z, t = _unpack(public)
    end = _add(_times(s, BASE), _times(h, (P - x, y, z, P - t)))
    return _pack(end) == signature[:32]


def hkdf_sha256(secret: bytes, salt: bytes, info: bytes, length: int) -> bytes:
    """Derive bytes with HKDF-SHA-256 (RFC 5869)."""
    key = hmac.digest(salt or bytes(32), secret, "sha256")
    block, derived = b"", b""
    while len(derived) < length:
        number = bytes([len(derived) // 32 + 1])
        block = hmac.digest(key, block + info + number, "sha256")
        derived += block
    return derived[:length]


def agree(private: bytes, public: bytes) -> bytes:
    """Compute the X25519 shared secret."""
    scalar = int.from_bytes(private, "little") & ((1 << 254) - 8) | 1 << 254
    u = int.from_bytes(public, "little") & ((1 << 255) - 1)
    x2, z2, x3, z3 = 1, 0, u, 1
    for place in range(254, -1, -1):
        swap = scalar >> place & 1
        if swap:
            x2, z2, x3, z3 = x3, z3, x2, z2
        a, b, c, d = x2 + z2, x2 - z2, x3 + z3, x3 - z3
        x3, z3 = (d * a + c * b) ** 2 % P, u * (d * a - c * b) ** 2 % P
        e = a * a - b * b
        x2, z2 = a * a * b * b % P, e * (a * a + 121665 * e) % P
        if swap:
            x2, z2, x3, z3 = x3, z3, x2, z2
    return (x2 * pow(z2, P - 2, P) % P).to_bytes(32, "little")


def agreement_public_key(private: bytes) -> bytes:
    """Give the X25519 public key of a private key."""
    return agree(private, (9).to_bytes(32, "little"))


def seal(key: bytes, nonce: bytes, plain: bytes, associated: bytes) -> bytes:
    """Stand in for sealing: a stream from SHA-256 and a cut HMAC."""
    hidden = bytes(a ^ b for a, b in zip(plain, _stream(key, nonce), strict=False))
    return hidden + _tag(key, nonce, hidden, associated)


def unseal(key: bytes, nonce: bytes, sealed: bytes, associated: bytes) -> bytes:
    """Open what the stand-in sealed."""
    hidden, tag = sealed[:-16], sealed[-16:]
    if not hmac.compare_digest(tag, _tag(key, nonce, hidden, associated)):
        errors = importlib.import_module("exam_app.crypto.errors")
        raise errors.WrongKeyError
    return bytes(a ^ b for a, b in zip(hidden, _stream(key, nonce), strict=False))


def _stream(key: bytes, nonce: bytes) -> Iterator[int]:
    for counter in itertools.count():
        yield from hashlib.sha256(key + nonce + counter.to_bytes(8, "big")).digest()


def _tag(key: bytes, nonce: bytes, hidden: bytes, associated: bytes) -> bytes:
    length = len(associated).to_bytes(8, "big")
    return hmac.digest(key, nonce + length + associated + hidden, "sha256")[:16]
