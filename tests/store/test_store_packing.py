"""Documents are packed by one of two windows and read by one way, of whatever size."""

import random
import zlib

import pytest

from exam_app.store.engine.documents import DICTIONARY, deflate, inflate

# What is larger is packed by the larger window.
LARGEST_SMALL = 4_096


@pytest.mark.parametrize(
    "size", [0, 1, 98, LARGEST_SMALL - 1, LARGEST_SMALL, LARGEST_SMALL + 1, 100_000]
)
@pytest.mark.parametrize("kind", ["text", "random"])
def test_what_is_packed_comes_out_byte_for_byte(size, kind):
    stream = random.Random(f"{size} {kind}")
    if kind == "text":
        plain = (DICTIONARY * (size // len(DICTIONARY) + 1))[-size:] if size else b""
    else:
        plain = stream.randbytes(size)
    packed = deflate(plain)
    assert inflate(packed) == plain
    assert len(packed) <= size + 1
    # What was packed before counts for nothing.
    assert deflate(plain) == packed


def test_a_small_document_is_packed_as_small_as_by_the_larger_window():
    plain = DICTIONARY[300:1_700] + random.Random(5).randbytes(400)
    larger = zlib.compressobj(3, zlib.DEFLATED, -15, zdict=DICTIONARY)
    assert len(deflate(plain)) <= len(larger.compress(plain) + larger.flush()) + 8
