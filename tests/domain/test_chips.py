"""Chip numbers as typed or scanned."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.domain.animal.chips import (
    check_chip,
    normalise_chip,
    show_chip,
)

# Invented numbers; 985 is used only as a three-digit code in the maker's range.
PLAIN = "985000000000017"


def met(typed: str) -> str:
    """Say how a number is met: refused, told of, or plain."""
    check = check_chip(typed)
    if check.is_refused:
        return "refused"
    return "told" if check.problems else "plain"


@pytest.mark.parametrize(
    "typed",
    [
        PLAIN,
        f"{PLAIN}\n",
        f"{PLAIN}\r\n",
        f"\t{PLAIN}\t",
        "985 000 000 000 017",
        "985-000-000-000-017",
        "985.000.000.000.017",
        "985\u00a0000\u2013000000\u200b017",
        f"{PLAIN}\x00",
    ],
)
def test_spaces_dashes_and_the_line_end_of_a_scanner_do_not_matter(typed):
    check = check_chip(typed)
    assert (check.number, check.problems) == (PLAIN, ())
    assert not check.is_refused


@pytest.mark.reference
def test_a_number_beginning_000_is_refused():
    # ICAR's note on misuse of manufacturer codes: 000 is invalid.
    assert met("000000000000017") == "refused"


@pytest.mark.reference
def test_the_last_twelve_digits_hold_no_more_than_38_bits():
    # ISO 11784 as described by ICAR: 38 bits for the national number.
    assert met(f"985{2**38 - 1:012d}") == "plain"
    assert met(f"985{2**38:012d}") == "refused"


@pytest.mark.reference
def test_999_is_a_test_chip_and_is_asked_about():
    # From memory: 999 marks test transponders. ICAR lists its sale as misuse.
    assert met("999000000000017") == "told"


@pytest.mark.reference
def test_900_is_shared_so_the_digits_that_tell_the_maker_are_named():
    # ICAR: 900 is shared between makers.
    check = check_chip("900215000000017")
    assert met("900215000000017") == "told"
    assert "215" in check.problems[0]


def test_a_country_code_is_no_problem():
    # animaldata: 276 is Germany, 001 to 899 are countries.
    assert met("276000000000017") == "plain"


def test_the_gravest_problem_comes_first():
    first, second = check_chip("999999999999999").problems
    assert "higher than a chip can hold" in first
    assert "test chip" in second
    assert met("999999999999999") == "refused"


@pytest.mark.reference
def test_an_older_chip_is_kept_as_text_of_unknown_type():
    # WSAVA: 10-character chips at 125 kHz exist.
    check = check_chip("0a1b2c3d4e")
    assert check.number == "0A1B2C3D4E"
    assert "older type" in check.problems[0]
    assert "missing" not in check.problems[0]
    assert met("0a1b2c3d4e") == "told"


def test_nine_or_ten_digits_may_be_an_older_chip_or_one_cut_short():
    assert met("123456789") == "told"
    assert met("1234567890") == "told"
    assert "digits are missing" in check_chip("123456789").problems[0]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("", "Nothing"),
        (" \n", "Nothing"),
        ("98500000000001", "14 digits"),
        ("9850000000000170", "16 digits"),
        ("9.85E+14", "spreadsheet"),
        ("9,85e+14", "spreadsheet"),
        (PLAIN + "\n" + PLAIN, "twice"),
        ("98500000000001O", "no letters"),
        ("\uff19" + PLAIN[1:], "digits 0 to 9"),
        ("\u0669" * 15, "digits 0 to 9"),
    ],
)
def test_what_is_no_chip_number_is_refused_with_its_reason(typed, words):
    check = check_chip(typed)
    assert check.is_refused
    assert len(check.problems) == 1
    assert words in check.problems[0]


def test_an_iso_number_is_shown_in_threes_and_others_as_they_are():
    assert show_chip(PLAIN) == "985 000 000 000 017"
    assert show_chip("0A1B2C3D4E") == "0A1B2C3D4E"


@given(typed=st.text(max_size=40))
def test_cleaning_a_number_twice_changes_nothing_more(typed):
    once = normalise_chip(typed)
    assert normalise_chip(once) == once
    assert check_chip(once).number == once
