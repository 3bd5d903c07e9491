"""The recovery code: 130 random bits that a person can write down and type.

Crockford's base 32 (no I, L, O, U), 26 characters and two check characters, in
seven groups of four. Read tolerantly: case, spaces and hyphens do not matter, O
reads as 0, I and L read as 1. The check characters are a Reed-Solomon remainder
over GF(32) with minimum distance three, so one or two wrong characters, and any two
that changed places, are always noticed.
"""

from exam_app.store.errors import MistypedRecoveryCodeError

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
SYMBOL_COUNT = 26
CODE_LENGTH = 28
RANDOM_LENGTH = 17
_GROUP_LENGTH = 4
_FIELD_POLYNOMIAL = 0b100101
_LOOK_ALIKES = str.maketrans("OIL", "011", " -\u2010\u2011\u2012\u2013\t\n")


def format_code(random: bytes) -> str:
    """Write 130 of the given 136 random bits as a recovery code.

    Args:
        random: 17 bytes from the system's generator.

    Returns:
        Seven groups of four characters, joined by hyphens.
    """
    number = int.from_bytes(random, "big") >> (8 * RANDOM_LENGTH - 5 * SYMBOL_COUNT)
    shifts = range(5 * (SYMBOL_COUNT - 1), -1, -5)
    symbols = [(number >> shift) & 31 for shift in shifts]
    symbols += check_symbols(symbols)
    code = "".join(ALPHABET[symbol] for symbol in symbols)
    starts = range(0, CODE_LENGTH, _GROUP_LENGTH)
    return "-".join(code[start : start + _GROUP_LENGTH] for start in starts)


def read_code(typed: str) -> bytes:
    """Read a typed recovery code.

    Args:
        typed: What the person typed, in any case and grouping.

    Returns:
        The 26 characters that carry the secret, as ASCII, without the checks.

    Raises:
        MistypedRecoveryCodeError: Wrong length, a foreign character, or check
            characters that do not fit.
    """
    code = typed.upper().translate(_LOOK_ALIKES)
    symbols = [ALPHABET.find(character) for character in code]
    well_formed = len(symbols) == CODE_LENGTH and min(symbols) >= 0
    if not well_formed or check_symbols(symbols[:-2]) != symbols[-2:]:
        raise MistypedRecoveryCodeError(
            "recovery code does not fit its check characters"
        )
    return code[:SYMBOL_COUNT].encode("ascii")


def check_symbols(symbols: list[int]) -> list[int]:
    """Give the two check symbols: the remainder by (x + 1)(x + 2) over GF(32)."""
    high = low = 0
    for symbol in symbols:
        carry = symbol ^ high
        high, low = low ^ _multiply(carry, 3), _multiply(carry, 2)
    return [high, low]


def _multiply(left: int, right: int) -> int:
    product = 0
    while right:
        if right & 1:
            product ^= left
        left <<= 1
        if left & 32:
            left ^= _FIELD_POLYNOMIAL
        right >>= 1
    return product
