"""A keyboard-safe form of short contents, for scanners that type and for pasting.

Such a scanner types as if it had a keyboard of the United States; the computer may
read its keys by another layout. So this form has letters and the digits 2 to 7 only
(base 32 of RFC 4648), in either case, with a CRC-32 at its end: the layout under
which the check fits is the one it was typed with.

    text = "EX" kind base32(content ‖ crc32("EX" kind ‖ content)), without "="

The letters of the prefix stand on the same keys in all layouts that are tried.
"""

from base64 import b32decode, b32encode
from dataclasses import dataclass
from enum import StrEnum
from zlib import crc32

_PREFIX = "EX"
_CRC_LENGTH = 4
# A QR code holds 4 296 characters of this kind; line breaks may come on top.
LONGEST_TEXT = 8_600
_IGNORED = dict.fromkeys(map(ord, " \t\r\n\f\v\u00a0\u2028\u2029-\u2010\u2011"))
# From what the computer read to what the scanner meant. Y and Z change places on
# German and Swiss keyboards. French and Belgian ones have other keys in the place of
# A, Q, W, Z, M and of the digits; with caps lock the digits may come as digits.
_TYPED_AS: tuple[dict[int, int], ...] = (
    {},
    str.maketrans("YZ", "ZY"),
    str.maketrans("QAWZ,?É\"'(-§È", "AQZWMM2345667"),
)


class Kind(StrEnum):
    """What the content is: the third letter, on the same key on every layout."""

    FRAME = "F"
    CONTENT = "C"


@dataclass(frozen=True, slots=True)
class Typed:
    """What one text held, whole by its check.

    Attributes:
        kind: A frame of a bundle, or something that says itself what it is.
        content: At least one byte.
    """

    kind: Kind
    content: bytes


def to_keys(content: bytes, kind: Kind = Kind.CONTENT) -> str:
    """Write content in characters that survive a scanner that types.

    Args:
        content: At least one byte.

    Returns:
        Capital letters and the digits 2 to 7.
    """
    prefix = _PREFIX + kind
    check = crc32(prefix.encode() + content).to_bytes(_CRC_LENGTH, "big")
    return prefix + b32encode(content + check).decode().rstrip("=")


def from_keys(text: str) -> Typed:
    """Read such a text, whichever of the known layouts it was typed with.

    Case, spaces, line breaks and hyphens do not matter.

    Raises:
        ValueError: No such text, or cut off, or changed.
    """
    if len(text) <= LONGEST_TEXT:
        folded = text.upper()
        for layout in _TYPED_AS:
            typed = _read(folded.translate(layout).translate(_IGNORED))
            if typed:
                return typed
    msg = "this text does not fit its check"
    raise ValueError(msg)


def longest_keyed(characters: int) -> int:
    """Give how many bytes of content fit in a text of so many characters."""
    return max(0, (characters - 3) * 5 // 8 - _CRC_LENGTH)


def _read(text: str) -> Typed | None:
    """Read capitals without anything between them; None if the check fails."""
    prefix = text[:3]
    if prefix not in {_PREFIX + kind for kind in Kind}:
        return None
    try:
        whole = b32decode(text[3:] + "=" * (-len(text[3:]) % 8))
    except ValueError:
        return None
    typed = Typed(Kind(prefix[2]), whole[:-_CRC_LENGTH])
    # Written again, so that the bits left over in the last character count as well.
    is_whole = typed.content and to_keys(typed.content, typed.kind) == text
    return typed if is_whole else None
