"""One check character over characters that a person types.

The letters are numbers of GF(32) (polynomial x^5 + x^2 + 1). The sum of each times a
power of x by its place must be zero, the check character standing last. Neighbours
have different weights, so every single wrong character and every swap of neighbours is
noticed, and so is every swap of any two.
"""

# Crockford's base 32: no I, L, O or U.
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_READ_AS = {"O": "0", "I": "1", "L": "1"}
_POLYNOMIAL = 0b100101


def value_of(letter: str) -> int | None:
    """Return the number of a letter as typed, in either case, or ``None``."""
    capital = letter.upper()
    place = ALPHABET.find(_READ_AS.get(capital, capital))
    return place if len(capital) == 1 and place >= 0 else None


def check_character(letters: str) -> str:
    """Return the letter that makes the weighted sum zero.

    Args:
        letters: At most 30 of ``ALPHABET``.
    """
    # With weights x^n ... x^1 and x^0 for the check itself, it is the sum.
    total = 0
    for letter in letters:
        total = _times_x(total ^ ALPHABET.index(letter))
    return ALPHABET[total]


def _times_x(value: int) -> int:
    doubled = value << 1
    return doubled ^ _POLYNOMIAL if doubled & 32 else doubled
