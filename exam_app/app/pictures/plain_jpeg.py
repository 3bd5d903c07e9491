"""Leave out of a JPEG all that is no picture.

What a picture needs is its tables, one frame and its scans. Whatever else a file may
carry (place and camera, a profile, words, a small picture, other files behind the end)
has no place among them and is left out; what is drawn stays the same. What is left is
checked by the one reader of kept photographs (``record/jpeg.py``).

References:
    ITU-T T.81, B.1 and B.2 (markers, frame and scan headers); ITU-T T.871 (JFIF).
"""

import re
import struct

from exam_app.app.pictures.picture_sizes import JPEG
from exam_app.record.errors import NotAPhotographError
from exam_app.record.jpeg import check_picture

# Version 1.1, no density, no small picture.
_JFIF = b"\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"
_END = b"\xff\xd9"
_SCAN, _LAST = 0xDA, 0xD9
# Comments and what applications put in.
_LEFT_OUT = frozenset({0xFE, *range(0xE0, 0xF0)})
# In a scan a value of FF is followed by zero, and restarts stand alone.
_END_OF_SCAN = re.compile(rb"\xff[^\x00\xd0-\xd7]", re.DOTALL)


def made_plain(content: bytes) -> bytes:
    """Return the picture of a JPEG and nothing else, as it is kept.

    Raises:
        NotAPhotographError: It is no whole JPEG, or a larger one than is kept.
    """
    if not content.startswith(JPEG):
        raise NotAPhotographError("no JPEG")
    try:
        plain = b"".join((JPEG, _JFIF, *_segments(content), _END))
    except struct.error as error:
        raise NotAPhotographError("cut off") from error
    check_picture(plain)
    return plain


def _segments(content: bytes) -> list[bytes]:
    """Return the segments that draw something, in their order."""
    kept: list[bytes] = []
    at = len(JPEG)
    while True:
        sign, marker = struct.unpack_from(">BB", content, at)
        if (sign, marker) == (0xFF, _LAST):
            return kept
        (length,) = struct.unpack_from(">H", content, at + 2)
        end = at + 2 + length
        if sign != 0xFF or length < 2 or end > len(content):
            raise NotAPhotographError(f"byte {at}")
        if marker == _SCAN:
            found = _END_OF_SCAN.search(content, end)
            if found is None:
                raise NotAPhotographError("a scan without an end")
            end = found.start()
        if marker not in _LEFT_OUT:
            kept.append(content[at:end])
        at = end
