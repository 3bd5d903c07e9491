"""The recovery code is read as people write and type, and mistakes are noticed."""

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.store.engine.keys import (
    ALPHABET,
    CODE_LENGTH,
    check_symbols,
    format_code,
    read_code,
)
from exam_app.store.errors import MistypedRecoveryCodeError

RANDOM = bytes(range(3, 20))
CODE = format_code(RANDOM)
PLAIN = CODE.replace("-", "")


def test_code_has_seven_groups_of_four_crockford_characters():
    # Crockford's base 32 leaves out I, L, O and U.
    assert len(ALPHABET) == 32
    assert not set("ILOU") & set(ALPHABET)
    assert [len(group) for group in CODE.split("-")] == [4] * 7
    assert set(PLAIN) <= set(ALPHABET)


def test_code_carries_the_first_130_of_the_random_bits():
    number = int.from_bytes(RANDOM, "big")
    carried = 0
    for character in read_code(CODE).decode():
        carried = carried * 32 + ALPHABET.index(character)
    assert carried == number >> 6
    assert format_code(bytes(17)) == "-".join(["0000"] * 7)
    assert read_code(format_code(b"\xff" * 17)) == b"Z" * 26


@given(st.binary(min_size=17, max_size=17))
def test_every_code_is_read_back(random):
    code = format_code(random)
    typed = code.lower().replace("-", " ").replace("0", "o").replace("1", "l")
    assert read_code(typed) == read_code(code) == code.replace("-", "")[:26].encode()
    assert read_code(code.replace("1", "i").replace("0", "O")) == read_code(code)
    assert read_code(f"  {code}\n") == read_code(code)


def test_check_characters_are_a_remainder_over_the_field_of_32():
    # The code word, as a polynomial, vanishes at 1 and at 2: an independent
    # evaluation with a logarithm table of x^5 + x^2 + 1.
    powers = [1]
    for _ in range(30):
        doubled = powers[-1] << 1
        powers.append(doubled ^ 0b100101 if doubled & 32 else doubled)
    assert sorted(powers) == list(range(1, 32))
    symbols = [ALPHABET.index(character) for character in PLAIN]
    for root_exponent in (0, 1):
        total = 0
        for degree, symbol in enumerate(reversed(symbols)):
            if symbol:
                exponent = powers.index(symbol) + root_exponent * degree
                total ^= powers[exponent % 31]
        assert total == 0


def test_every_single_wrong_character_is_noticed():
    for position in range(CODE_LENGTH):
        for character in ALPHABET:
            if character != PLAIN[position]:
                typed = PLAIN[:position] + character + PLAIN[position + 1 :]
                with pytest.raises(MistypedRecoveryCodeError):
                    read_code(typed)


def test_every_two_wrong_characters_are_noticed():
    # The code is linear: an error is noticed if and only if its own remainder is
    # not zero, so all errors of weight two are tried, for every code at once.
    for first, second in combinations(range(CODE_LENGTH), 2):
        for size in range(1, 32):
            error = [0] * CODE_LENGTH
            error[first], error[second] = 1, size
            assert check_symbols(error[:-2]) != error[-2:]


def test_two_characters_that_changed_places_are_noticed():
    for first, second in combinations(range(CODE_LENGTH), 2):
        typed = list(PLAIN)
        typed[first], typed[second] = typed[second], typed[first]
        if typed != list(PLAIN):
            with pytest.raises(MistypedRecoveryCodeError):
                read_code("".join(typed))


@pytest.mark.parametrize(
    "typed", ["", "hoof", PLAIN[:-1], PLAIN + "0", PLAIN[:-1] + "U", "ß" * 28, "É" * 28]
)
def test_anything_that_is_no_code_is_refused_as_mistyped(typed):
    with pytest.raises(MistypedRecoveryCodeError):
        read_code(typed)
