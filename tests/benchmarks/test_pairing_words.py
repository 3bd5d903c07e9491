"""What one try at false pairing words costs, and what ten minutes of tries are worth.

Somebody in the middle who knows the words on one screen looks for a card of his own
that gives the same on the other: for each try a nonce, a signature, and the words.
"""

import asyncio
import math
import time

import pytest

from exam_app.crypto import door
from sync.trust.words import WORD_COUNT, WORDS_DERIVATION, slow_words_of, words_of

SECONDS = 10 * 60
BITS = 11 * WORD_COUNT


def tries_per_second(one_try, enough_seconds=2.0):
    begun, tries = time.perf_counter(), 0
    while (spent := time.perf_counter() - begun) < enough_seconds:
        one_try(tries.to_bytes(8, "big"))
        tries += 1
    return tries / spent


@pytest.mark.benchmark
def test_what_a_try_at_false_words_costs():
    seed, clinic_card, card = bytes(32), bytes(260), bytes(300)

    def quick(nonce):
        words_of(clinic_card, card + door.sign(seed, card + nonce))

    def slow(nonce):
        theirs = card + door.sign(seed, card + nonce)
        asyncio.run(slow_words_of(clinic_card, theirs))

    print(f"\nwords: {BITS} bits; a card is valid for {SECONDS} s")
    for name, one_try in (("version 1", quick), ("version 2", slow)):
        rate = tries_per_second(one_try)
        for machines in (1, 1_000_000):
            odds = BITS - math.log2(rate * SECONDS * machines)
            years = 2**BITS / (rate * machines) / 31_557_600
            print(
                f"{name}: {rate:,.0f} tries/s a core, {machines:,} cores: one in "
                f"2^{odds:.1f} within the card's time, {years:.1e} years for all"
            )
    assert WORDS_DERIVATION.memory_kib == 65_536
