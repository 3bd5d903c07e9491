"""Slow plain-Python primitives that stand in for the native half of the crypto door.

For the smoke test only: Pyodide has no wheel of the native library, and the browser's
own half comes with the phone build. Ed25519 follows the reference code of RFC 8032,
section 6; sealing is a stand-in of the same shapes, not AES-GCM.
"""

import hashlib
import hmac

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
