"""The erasure code against a bitwise reference, in every small case."""

import itertools
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sync.transport.erasure_code import (
    BLOCK_IDS,
    MOST_SOURCES,
    decode_blocks,
    encode_block,
    inverse,
    multiply,
)
from tests.samples import examples


def bitwise_product(left, right):
    """Multiply polynomials over GF(2) bit by bit, modulo 0x11d."""
    product = 0
    for bit in range(8):
        if right >> bit & 1:
            product ^= left << bit
    for bit in range(14, 7, -1):
        if product >> bit & 1:
            product ^= 0x11D << (bit - 8)
    return product


def bitwise_inverse(value):
    return next(x for x in range(1, 256) if bitwise_product(value, x) == 1)


def bitwise_block(sources, block_id):
    """Sum source[j] · inverse(id ⊕ j), byte by byte."""
    if block_id < len(sources):
        return sources[block_id]
    weights = [bitwise_inverse(block_id ^ j) for j in range(len(sources))]
    block = bytearray(len(sources[0]))
    for weight, source in zip(weights, sources, strict=True):
        for place, value in enumerate(source):
            block[place] ^= bitwise_product(weight, value)
    return bytes(block)


@pytest.mark.vector
def test_frozen_blocks_are_what_they_always_were():
    sources = [bytes.fromhex(block) for block in ("0102", "0304", "0506")]
    repairs = {block_id: encode_block(sources, block_id) for block_id in (3, 4, 255)}
    assert {i: block.hex() for i, block in repairs.items()} == {
        3: "7ef1",
        4: "3c29",
        255: "5b3a",
    }
    assert decode_blocks(repairs, 3) == tuple(sources)


def test_products_are_those_of_polynomials():
    for left, right in itertools.product(range(256), repeat=2):
        assert multiply(left, right) == bitwise_product(left, right)


def test_inverse_times_value_is_one():
    assert [multiply(v, inverse(v)) for v in range(1, 256)] == [1] * 255
    with pytest.raises(ZeroDivisionError):
        inverse(0)


@pytest.mark.parametrize("count", [1, 2, 7, 43, 128])
def test_blocks_are_those_of_the_bitwise_reference(count):
    rng = random.Random(count)
    sources = [rng.randbytes(5) for _ in range(count)]
    for block_id in (0, count - 1, count, rng.randrange(count, 256), 255):
        assert encode_block(sources, block_id) == bitwise_block(sources, block_id)


@settings(max_examples=examples(40))
@given(st.data())
def test_any_choice_of_blocks_rebuilds_the_sources(data):
    count = data.draw(st.integers(1, MOST_SOURCES))
    rng = random.Random(data.draw(st.integers(0, 2**32)))
    sources = [rng.randbytes(3) for _ in range(count)]
    chosen = rng.sample(range(BLOCK_IDS), count)
    blocks = {block_id: encode_block(sources, block_id) for block_id in chosen}
    assert decode_blocks(blocks, count) == tuple(sources)


def pairs_of(ids):
    sources = [b"\x5a", b"\xc3"]
    blocks = [encode_block(sources, block_id) for block_id in range(BLOCK_IDS)]
    for pair in ids:
        assert decode_blocks({i: blocks[i] for i in pair}, 2) == tuple(sources)


def test_first_pairs_of_blocks_rebuild_two_sources():
    pairs_of(itertools.combinations(range(40), 2))


@pytest.mark.exhaustive
def test_every_pair_and_many_triples_rebuild_their_sources():
    pairs_of(itertools.combinations(range(BLOCK_IDS), 2))
    sources = [b"\x01", b"\x80", b"\xff"]
    blocks = [encode_block(sources, block_id) for block_id in range(BLOCK_IDS)]
    count = 0
    for triple in itertools.combinations(range(0, BLOCK_IDS, 3), 3):
        assert decode_blocks({i: blocks[i] for i in triple}, 3) == tuple(sources)
        count += 1
    print(f"32 640 pairs and {count} triples rebuilt, 0 failed")


@pytest.mark.parametrize(
    "blocks",
    [
        {},
        {0: b"a"},
        {0: b"a", 5: b"bc"},
    ],
    ids=["none", "one of two", "unequal"],
)
def test_too_few_or_unequal_blocks_are_refused(blocks):
    with pytest.raises(ValueError, match="too few"):
        decode_blocks(blocks, 2)


@pytest.mark.parametrize(
    ("sources", "block_id"),
    [
        ([], 0),
        ([b"a"] * 129, 0),
        ([b"a"], 256),
        ([b"a"], -1),
        ([b"a", b"bc"], 3),
    ],
)
def test_impossible_blocks_are_refused(sources, block_id):
    with pytest.raises(ValueError, match="block"):
        encode_block(sources, block_id)
