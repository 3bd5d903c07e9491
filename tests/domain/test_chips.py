"""Chip numbers as typed or scanned."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.domain.animal.chips import (
    ChipKind,
    Severity,
    check_chip,
    normalise_chip,
    show_chip,
)

# Invented numbers; 985 is used only as a three-digit code in the maker's range.
PLAIN = "985000000000017"


def severities(typed: str) -> list[Severity]:
    return [problem.severity for problem in check_chip(typed).problems]


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
    assert (check.number, check.kind, check.problems) == (PLAIN, ChipKind.ISO, ())


@pytest.mark.reference
def test_a_number_beginning_000_is_refused():
    # ICAR's note on misuse of manufacturer codes: 000 is invalid.
    assert severities("000000000000017") == [Severity.REFUSE]


@pytest.mark.reference
def test_the_last_twelve_digits_hold_no_more_than_38_bits():
    # ISO 11784 as described by ICAR: 38 bits for the national number.
    assert severities(f"985{2**38 - 1:012d}") == []
    assert severities(f"985{2**38:012d}") == [Severity.REFUSE]


@pytest.mark.reference
def test_999_is_a_test_chip_and_is_asked_about():
    # From memory: 999 marks test transponders. ICAR lists its sale as misuse.
    assert severities("999000000000017") == [Severity.WARN]


@pytest.mark.reference
def test_900_is_shared_so_the_digits_that_tell_the_maker_are_named():
    # ICAR: 900 is shared between makers.
    check = check_chip("900215000000017")
    assert severities("900215000000017") == [Severity.NOTE]
    assert "215" in check.problems[0].text


def test_a_country_code_is_no_problem():
    # animaldata: 276 is Germany, 001 to 899 are countries.
    assert severities("276000000000017") == []


def test_the_gravest_problem_comes_first():
    assert severities("999999999999999") == [Severity.REFUSE, Severity.WARN]


@pytest.mark.reference
def test_an_older_chip_is_kept_as_text_of_unknown_type():
    # WSAVA: 10-character chips at 125 kHz exist.
    check = check_chip("0a1b2c3d4e")
    assert (check.number, check.kind) == ("0A1B2C3D4E", ChipKind.OLDER)
    assert severities("0a1b2c3d4e") == [Severity.NOTE]


def test_nine_or_ten_digits_may_be_an_older_chip_or_one_cut_short():
    assert severities("123456789") == [Severity.WARN]
    assert severities("1234567890") == [Severity.WARN]


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
    assert check.kind is ChipKind.UNKNOWN
    assert [problem.severity for problem in check.problems] == [Severity.REFUSE]
    assert words in check.problems[0].text


def test_an_iso_number_is_shown_in_threes_and_others_as_they_are():
    assert show_chip(PLAIN) == "985 000 000 000 017"
    assert show_chip("0A1B2C3D4E") == "0A1B2C3D4E"


@given(typed=st.text(max_size=40))
def test_cleaning_a_number_twice_changes_nothing_more(typed):
    once = normalise_chip(typed)
    assert normalise_chip(once) == once
    assert check_chip(once).number == once
