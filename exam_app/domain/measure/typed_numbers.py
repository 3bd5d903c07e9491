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
    _refuse(
        (not text, "nothing was typed"),
        (len(text) > _LONGEST_TEXT, "the text is too long for one reading"),
        (
            any(unicodedata.category(mark) == "Cc" for mark in text),
            "it holds a character that cannot be shown",
        ),
        (
            any(mark.isnumeric() and not mark.isascii() for mark in text),
            "use the digits 0 to 9",
        ),
        (text[:1] in _MINUS_SIGNS, "it is below zero"),
        (not any(mark.isdigit() for mark in text), "there is no number in it"),
    )
    text = _MARK_AFTER_WORD.sub(" ", text).strip()
    parts, end = [], 0
    while end < len(text):
        match = _PART.match(text, end)
        if match is None:
            raise ReadingError("a number comes first, then its unit")
        parts.append((_number(match[1]), match[2].strip()))
        end = match.end()
    return tuple(parts)


def _refuse(*checks: tuple[bool, str]) -> None:
    """Refuse a text by the first reason that is met."""
    for is_met, reason in checks:
        if is_met:
            raise ReadingError(reason)


def _number(token: str) -> Decimal:
    """Return the number in a token of digits, spaces and decimal marks."""
    marks = [mark for mark in token if mark in ".,"]
    spaced = any(mark.isspace() for mark in token)
    _refuse(
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
    digits = re.sub(r"\s", "", token).replace(",", ".")
    return Decimal("0" + digits if digits.startswith(".") else digits)
