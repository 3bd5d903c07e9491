"""What a prepared photograph is: a JPEG of known size that holds a picture and no more.

The structure is read, not the picture: nothing is decoded here. A prepared picture has
no comment, no profile, no application data beside the plain header, and nothing behind
its end, so that neither place nor device can stand in it.

References:
    ITU-T T.81 (1992), annex B: markers and their segments; T.871 (2011): JFIF.
"""

import re
from dataclasses import dataclass

from exam_app.record.errors import NotAPhotographError

LARGEST_PICTURE = 1_572_864
LONGEST_EDGE = 1_600
_START, _END = b"\xff\xd8", b"\xff\xd9"
# Baseline, extended and progressive; no other process is shown by every browser.
_FRAMES = (0xC0, 0xC1, 0xC2)
_SCAN = 0xDA
_TABLES = (0xDB, 0xC4, 0xDD)
# JFIF without a thumbnail and Adobe's marker of colours, by what their segments say.
_HEADERS = {0xE0: (16, b"JFIF\0"), 0xEE: (14, b"Adobe")}
_AFTER_SCAN = re.compile(rb"\xff+([^\x00\xff\xd0-\xd7])")
_MARKER = re.compile(rb"\xff+([^\x00\xff])")


@dataclass(frozen=True, slots=True)
class Pixels:
    """Width and height of a picture; each at least 1."""

    width: int
    height: int


def check_picture(picture: bytes) -> Pixels:
    """Check that bytes are a prepared photograph.

    Returns:
        Its size in pixels.

    Raises:
        NotAPhotographError: They are no JPEG, it is cut off or goes on behind its end,
            is larger than a prepared one, or holds more than a picture.
    """
    if len(picture) > LARGEST_PICTURE:
        raise NotAPhotographError(f"more than {LARGEST_PICTURE} bytes")
    if not picture.startswith(_START):
        raise NotAPhotographError("no JPEG")
    pixels, at = _header(picture)
    while picture[at:] != _END:
        # Scans of a progressive picture, with tables between them.
        found = _MARKER.match(picture, at)
        if found is None or found[1][0] not in (*_TABLES, _SCAN):
            raise NotAPhotographError("cut off, or something behind the picture")
        at = _behind(picture, found)
        if found[1][0] == _SCAN:
            at = _scanned(picture, at)
    if max(pixels.width, pixels.height) > LONGEST_EDGE:
        raise NotAPhotographError(f"an edge longer than {LONGEST_EDGE} pixels")
    return pixels


def _header(picture: bytes) -> tuple[Pixels, int]:
    """Read up to the first scan; give the size and where that scan begins."""
    at, pixels = len(_START), None
    while True:
        found = _MARKER.match(picture, at)
        if found is None:
            raise NotAPhotographError("cut off before the picture")
        marker, begins = found[1][0], at
        if marker == _SCAN:
            if pixels is None:
                raise NotAPhotographError("it says no size")
            return pixels, begins
        at = _behind(picture, found)
        segment = picture[found.end() : at]
        if marker in _FRAMES:
            if pixels is not None:
                # Viewers would differ in which of the two they show.
                raise NotAPhotographError("it says its size twice")
            pixels = _pixels(segment)
        elif marker not in _TABLES and not _is_plain_header(marker, segment):
            raise NotAPhotographError(f"a segment {marker:02x} beside the picture")


def colour_parts(picture: bytes) -> int:
    """Return how many colours each pixel of a prepared photograph has: 1, 3 or 4.

    Raises:
        NotAPhotographError: It is none.
    """
    at = len(_START)
    while found := _MARKER.match(picture, at):
        at = _behind(picture, found)
        if found[1][0] in _FRAMES:
            segment = picture[found.end() : at]
            _pixels(segment)
            if segment[7] not in (1, 3, 4):
                raise NotAPhotographError("it says no colours")
            return segment[7]
    raise NotAPhotographError("it says no size")


def _is_plain_header(marker: int, segment: bytes) -> bool:
    length, words = _HEADERS.get(marker, (0, b"-"))
    return len(segment) == length and segment[2:].startswith(words)


def _pixels(segment: bytes) -> Pixels:
    height, width = (int.from_bytes(segment[at : at + 2]) for at in (3, 5))
    if len(segment) < 8 or not (width and height):
        raise NotAPhotographError("it says no size")
    return Pixels(width, height)


def _behind(picture: bytes, found: re.Match[bytes]) -> int:
    """Give where a segment ends, of which the length stands behind its marker."""
    length = int.from_bytes(picture[found.end() : found.end() + 2])
    end = found.end() + length
    if length < 2 or end > len(picture):
        raise NotAPhotographError("a segment is cut off")
    return end


def _scanned(picture: bytes, at: int) -> int:
    """Give where the next marker stands behind what a scan encodes."""
    found = _AFTER_SCAN.search(picture, at)
    if found is None:
        raise NotAPhotographError("the picture is cut off")
    return found.start()
