"""An erasure code: of up to 256 blocks, any K rebuild the K that count.

Systematic Cauchy code over GF(256) with the polynomial x⁸+x⁴+x³+x²+1 (0x11d). Block
``id < K`` is the source itself; every other one is the sum over j of
``source[j] · inverse(id ⊕ j)``. Every square part of a Cauchy matrix can be inverted
(Blömer et al., "An XOR-Based Erasure-Resilient Coding Scheme", 1995), so no choice
of K blocks ever falls short. Multiplying is ``bytes.translate`` with a table, adding
is XOR of long integers: both run at the speed of C.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache, reduce

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


MOST_SOURCES = 128
BLOCK_IDS = 256


def encode_block(sources: Sequence[bytes], block_id: int) -> bytes:
    """Give the block of this id.

    Args:
        sources: K blocks of equal length, 1 to 128.
        block_id: 0 to 255.

    Raises:
        ValueError: Too many or unequal sources, or no such id.
    """
    if not 1 <= len(sources) <= MOST_SOURCES or not 0 <= block_id < BLOCK_IDS:
        msg = "no such block"
        raise ValueError(msg)
    if len({len(source) for source in sources}) != 1:
        msg = "the blocks differ in length"
        raise ValueError(msg)
    if block_id < len(sources):
        return sources[block_id]
    weights = [inverse(block_id ^ index) for index in range(len(sources))]
    return _weighted_sum(weights, sources)


def decode_blocks(blocks: Mapping[int, bytes], count: int) -> tuple[bytes, ...]:
    """Rebuild the sources from any ``count`` blocks.

    Args:
        blocks: Block by id; at least ``count`` of equal length.
        count: How many sources there are, K.

    Returns:
        The K sources, in order.

    Raises:
        ValueError: Fewer than ``count`` blocks, or of unequal length.
    """
    lost = [index for index in range(count) if index not in blocks]
    repairs = sorted(block_id for block_id in blocks if block_id >= count)[: len(lost)]
    if len(repairs) < len(lost) or len({len(block) for block in blocks.values()}) != 1:
        msg = "too few blocks, or of unequal length"
        raise ValueError(msg)
    known = {index: blocks[index] for index in range(count) if index in blocks}
    # What the lost sources put into each repair block.
    sums = [
        _weighted_sum([1, *(inverse(one ^ j) for j in known)], [blocks[one], *sources])
        for sources in [known.values()]
        for one in repairs
    ]
    known.update(zip(lost, _solve(repairs, lost, sums), strict=True))
    return tuple(known[index] for index in range(count))


def _solve(
    rows: Sequence[int], columns: Sequence[int], sums: Sequence[bytes]
) -> list[bytes]:
    """Invert the Cauchy matrix ``inverse(row ⊕ column)`` in closed form.

    The inverse is again a Cauchy matrix with scaled rows and columns (Knuth, The Art
    of Computer Programming, volume 1, section 1.2.3, exercise 41; from memory).
    """
    row_scales = [_quotient(columns, rows, row) for row in rows]
    column_scales = [_quotient(rows, columns, column) for column in columns]
    scaled = [
        total.translate(_table(scale))
        for total, scale in zip(sums, row_scales, strict=True)
    ]
    solved = []
    for column, scale in zip(columns, column_scales, strict=True):
        weights = [multiply(scale, inverse(row ^ column)) for row in rows]
        solved.append(_weighted_sum(weights, scaled))
    return solved


def _quotient(above: Sequence[int], below: Sequence[int], at: int) -> int:
    """Multiply all ``at ⊕ above``, divided by all ``at ⊕ below`` but itself."""
    total = sum(LOGARITHMS[at ^ other] for other in above)
    total -= sum(LOGARITHMS[at ^ other] for other in below if other != at)
    return EXPONENTS[total % 255]


def _weighted_sum(weights: Sequence[int], blocks: Sequence[bytes]) -> bytes:
    parts = (
        int.from_bytes(block.translate(_table(weight)), "little")
        for weight, block in zip(weights, blocks, strict=True)
    )
    return reduce(int.__xor__, parts, 0).to_bytes(len(blocks[0]), "little")


@lru_cache(maxsize=256)
def _table(weight: int) -> bytes:
    return bytes(multiply(weight, value) for value in range(256))
