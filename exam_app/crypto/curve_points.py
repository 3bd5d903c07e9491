"""Refuse public keys on which implementations disagree, before any of them looks.

An Ed25519 key of small order verifies some signatures over any message; an X25519
key of small order yields a shared secret known to everyone. Encodings that are not
canonical, or that name no point, are read differently by different libraries. All
of them are refused here, so that every implementation behind the door sees only
keys on which they agree.

References:
    RFC 8032, sections 5.1.2 and 5.1.3; RFC 7748, sections 4.1, 5 and 6.1.
"""

from functools import lru_cache

from exam_app.crypto.errors import BadKeyError

FIELD_PRIME = 2**255 - 19
GROUP_ORDER = 2**252 + 27742317777372353535851937790883648493
_EDWARDS_D = (-121665 * pow(121666, -1, FIELD_PRIME)) % FIELD_PRIME
_SIGN_BIT = 1 << 255

# The y coordinates of the eight points whose order divides eight; the tests
# derive them again from the curve equation.
_ORDER_EIGHT_Y = int.from_bytes(
    bytes.fromhex("26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05"),
    "little",
)
SMALL_ORDER_Y = frozenset(
    (0, 1, FIELD_PRIME - 1, _ORDER_EIGHT_Y, FIELD_PRIME - _ORDER_EIGHT_Y)
)

# The same points seen on the Montgomery curve, u = (1 + y) / (1 - y), and u = -1,
# which lies on its twist.
SMALL_ORDER_U = frozenset(
    (
        0,
        1,
        FIELD_PRIME - 1,
        (1 + _ORDER_EIGHT_Y) * pow(1 - _ORDER_EIGHT_Y, -1, FIELD_PRIME) % FIELD_PRIME,
        (1 - _ORDER_EIGHT_Y) * pow(1 + _ORDER_EIGHT_Y, -1, FIELD_PRIME) % FIELD_PRIME,
    )
)


@lru_cache(maxsize=64)
def check_signing_key(public: bytes) -> None:
    """Refuse an Ed25519 public key that no honest device makes.

    One that passed is known for a while: a device's key stands below all its records.

    Args:
        public: The encoded point, 32 bytes.

    Raises:
        BadKeyError: Wrong length, y not below the prime, small order, or no point
            of the curve.
    """
    _check_length(public)
    y = int.from_bytes(public, "little") & (_SIGN_BIT - 1)
    if y >= FIELD_PRIME:
        raise BadKeyError("signing key is not canonical")
    if y in SMALL_ORDER_Y:
        raise BadKeyError("signing key has small order")
    if not _is_square((y * y - 1) * pow(_EDWARDS_D * y * y + 1, -1, FIELD_PRIME)):
        raise BadKeyError("signing key is no point of the curve")


def check_agreement_key(public: bytes) -> None:
    """Refuse an X25519 public key that no honest device makes.

    RFC 7748 masks the top bit and accepts values above the prime; this door does
    not, so that one key has one encoding.

    Args:
        public: The encoded u coordinate, 32 bytes.

    Raises:
        BadKeyError: Wrong length, u not below the prime, or small order.
    """
    _check_length(public)
    u = int.from_bytes(public, "little")
    if u >= FIELD_PRIME:
        raise BadKeyError("agreement key is not canonical")
    if u in SMALL_ORDER_U:
        raise BadKeyError("agreement key has small order")


def has_canonical_scalar(signature: bytes) -> bool:
    """Whether the second half of a 64-byte signature is below the group order."""
    return int.from_bytes(signature[32:], "little") < GROUP_ORDER


def _check_length(public: bytes) -> None:
    if len(public) != 32:
        raise BadKeyError("a public key has 32 bytes")


def _is_square(number: int) -> bool:
    return pow(number % FIELD_PRIME, (FIELD_PRIME - 1) // 2, FIELD_PRIME) in (0, 1)
