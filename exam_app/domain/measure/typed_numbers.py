"""Reading numbers out of typed text, without ever guessing.

A point or a comma is the decimal mark; groups of three may be set apart by a space.
What can be read two ways is refused with the reason: ``1,234`` is either just over
one or over a thousand, and an animal's dose may hang on it.
"""

import re
import unicodedata
from decimal import Decimal

from exam_app.domain.errors import ReadingError

_LONGEST_TEXT = 40
_MOST_DIGITS = 12
_MINUS_SIGNS = "-\u2010\u2011\u2012\u2013\u2212"
_MARK_AFTER_WORD = re.compile(r"(?<=[^\W\d_])[.,](?=\s|$)")
_PART = re.compile(r"([0-9.,](?:[0-9.,\s]*[0-9.,])?)\s*([^0-9.,]*)")
_GROUPED = re.compile(r"[1-9][0-9]{0,2}(?:\s[0-9]{3})+(?:[.,][0-9]+)?")
_COMMA_THOUSANDS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")


def read_parts(typed: str) -> tuple[tuple[Decimal, str], ...]:
    """Return the numbers in a text, each with the word that follows it.

    Args:
        typed: The text of one field; the spaces around it do not matter.

    Returns:
        One pair per number, in the order typed; at least one. The word is empty
        when none follows, and otherwise as typed without the spaces around it.

    Raises:
        ReadingError: The text is empty, too long, negative, holds no number, or
            can be read in more than one way.
    """
    text = typed.strip()
    _refuse_unreadable(typed, text)
    text = _MARK_AFTER_WORD.sub(" ", text).strip()
    parts, end = [], 0
    while end < len(text):
        match = _PART.match(text, end)
        if match is None:
            raise ReadingError(typed, "a number comes first, then its unit")
        parts.append((read_number(typed, match[1]), match[2].strip()))
        end = match.end()
    return tuple(parts)


def read_number(typed: str, token: str) -> Decimal:
    """Return the number in a token of digits, spaces and decimal marks.

    Args:
        typed: The whole text, for the error.
        token: The digits with their marks.

    Raises:
        ReadingError: The token is unfinished or can be read in more than one way.
    """
    reason = _number_problem(token)
    if reason:
        raise ReadingError(typed, reason)
    digits = re.sub(r"\s", "", token).replace(",", ".")
    return Decimal("0" + digits if digits.startswith(".") else digits)


def _refuse_unreadable(typed: str, text: str) -> None:
    if not text:
        raise ReadingError(typed, "nothing was typed")
    if len(text) > _LONGEST_TEXT:
        raise ReadingError(typed, "the text is too long for one reading")
    if any(unicodedata.category(mark) == "Cc" for mark in text):
        raise ReadingError(typed, "it holds a character that cannot be shown")
    if any(mark.isnumeric() and not mark.isascii() for mark in text):
        raise ReadingError(typed, "use the digits 0 to 9")
    if text[0] in _MINUS_SIGNS:
        raise ReadingError(typed, "it is below zero")
    if not any(mark.isdigit() for mark in text):
        raise ReadingError(typed, "there is no number in it")


def _number_problem(token: str) -> str:
    """Return why a token is not one plain number; empty when it is."""
    marks = [mark for mark in token if mark in ".,"]
    spaced = any(mark.isspace() for mark in token)
    checks = (
        (
            len(set(marks)) > 1,
            "a point and a comma together can be read two ways: "
            "write it without a mark for thousands",
        ),
        (len(marks) > 1, "there is more than one decimal mark"),
        (token[-1] in ".,", "the number is unfinished"),
        (
            spaced and not _GROUPED.fullmatch(token),
            "there are two numbers without a unit between them",
        ),
        (
            _COMMA_THOUSANDS.fullmatch(token) is not None,
            "a comma before three digits can be read two ways: "
            "write it with a point, or without a mark for thousands",
        ),
        (
            sum(mark.isdigit() for mark in token) > _MOST_DIGITS,
            "there are too many digits",
        ),
    )
    return next((reason for is_met, reason in checks if is_met), "")
