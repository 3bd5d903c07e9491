"""Arithmetic in GF(256) with the polynomial 0x11d, by tables of logarithms."""

_POLYNOMIAL = 0x11D


def _build() -> tuple[tuple[int, ...], tuple[int, ...]]:
    exponents, logarithms = [0] * 255, [0] * 256
    value = 1
    for power in range(255):
        exponents[power] = value
        logarithms[value] = power
        value <<= 1
        if value & 0x100:
            value ^= _POLYNOMIAL
    return tuple(exponents), tuple(logarithms)


# Powers of two, 0 to 254, and their logarithms; that of zero is never asked for.
EXPONENTS, LOGARITHMS = _build()


def multiply(left: int, right: int) -> int:
    """Multiply two elements, each 0 to 255."""
    if not left or not right:
        return 0
    return EXPONENTS[(LOGARITHMS[left] + LOGARITHMS[right]) % 255]


def inverse(value: int) -> int:
    """Give the element whose product with this one, 1 to 255, is one.

    Raises:
        ZeroDivisionError: Zero has none.
    """
    if not value:
        msg = "zero has no inverse"
        raise ZeroDivisionError(msg)
    return EXPONENTS[-LOGARITHMS[value] % 255]
