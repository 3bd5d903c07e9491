"""Prepare a photograph that was taken or chosen, before anything of it is kept.

It is turned upright, made small enough (long edge 1 600), and drawn anew: of the file
that came nothing is kept, neither place nor camera, profile, words, a small picture
inside, nor what hangs behind its end. Its size is read off its first bytes, and what is
larger than a camera makes is refused before anything is unpacked.

On a computer Pillow does it. For Python in the browser there is no Pillow that could
be fetched from a package index, and the browser itself has all that is needed
(``phone/static/pictures.js``); what it gives is walked here, since some browsers write
tags of their own. So a phone fetches nothing for it.
"""

import asyncio
import importlib
from typing import Any

from exam_app.app.clinic.pictures import is_browser
from exam_app.app.pictures.errors import (
    HeicPhotographError,
    PhotographNotPreparedError,
    PhotographRefusedError,
    PhotographTooLargeError,
)
from exam_app.app.pictures.picture_sizes import JPEG, PNG, is_webp, size_of
from exam_app.app.pictures.plain_jpeg import made_plain
from exam_app.record.errors import NotAPhotographError
from exam_app.record.jpeg import LONGEST_EDGE

LARGEST_BYTES = 40_000_000
# A JPEG is unpacked small; of the others every pixel has to be.
LARGEST_PIXELS = 60_000_000
LARGEST_PIXELS_WHOLE = 24_000_000
# From the first on, until the picture has no more bytes than wanted.
QUALITIES = (82, 72, 60, 45, 30)
WANTED_BYTES = 400_000
# A phone's own box of pictures, and its relatives: ISO/IEC 23008-12, brands.
_BRANDS = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif")

# Exif 2.32: one tag, 0x0112, "the 0th column is the right-hand side" (2).
_MIRRORED = bytes.fromhex(
    "FFE1 0022 457869660000 4D4D002A00000008 0001 0112 0003 00000001 00020000 00000000"
)


async def prepare_photograph(content: bytes) -> bytes:
    """Make a photograph of a file's content, on a computer or a phone.

    Raises:
        PhotographRefusedError: It is no picture that is taken, or an absurd one.
        PhotographNotPreparedError: A part is missing here.
    """
    check_offered(content)
    if is_browser():
        jpeg = await _drawn_by_browser(content)
    else:
        jpeg = await asyncio.to_thread(_drawn_here, content)
    try:
        return made_plain(jpeg)
    except NotAPhotographError as error:
        raise PhotographNotPreparedError("another format") from error


def check_offered(content: bytes) -> tuple[int, int]:
    """Return width and height that a file claims, before anything is unpacked.

    Raises:
        PhotographRefusedError: Another format than the three, or too large.
    """
    if len(content) > LARGEST_BYTES:
        raise PhotographTooLargeError("bytes")
    if content[4:8] == b"ftyp" and content[8:12] in _BRANDS:
        raise HeicPhotographError
    size = size_of(content)
    is_taken = content.startswith((JPEG, PNG)) or is_webp(content)
    if size is None or not is_taken or min(size) < 1:
        raise PhotographRefusedError("no picture")
    most = LARGEST_PIXELS if content.startswith(JPEG) else LARGEST_PIXELS_WHOLE
    if size[0] * size[1] > most:
        raise PhotographTooLargeError("pixels")
    return size


def mirrored_back(content: bytes) -> bytes:
    """Mark a mirrored JPEG as such, so that preparing it turns left and right back.

    A part that shows a camera mirrors what it sees, as a person expects of themselves;
    left and right of an animal are findings.

    Raises:
        PhotographRefusedError: It is no JPEG, and could not be marked.
    """
    if not content.startswith(JPEG):
        raise PhotographRefusedError("not marked")
    # Before any other of its kind, since the first one counts.
    return b"".join((JPEG, _MIRRORED, content.removeprefix(JPEG)))


def _drawn_here(content: bytes) -> bytes:
    try:
        # Not in a browser, and half a megabyte to load.
        from exam_app.app.pictures.drawing import drawn_anew  # noqa: PLC0415

        return drawn_anew(content, QUALITIES, WANTED_BYTES)
    except (ImportError, MemoryError) as error:
        raise PhotographNotPreparedError from error


async def _drawn_by_browser(content: bytes) -> bytes:
    js, ffi = map(importlib.import_module, ("js", "pyodide.ffi"))
    if not hasattr(js, "examPictures"):
        raise PhotographNotPreparedError
    wanted = (LONGEST_EDGE, ffi.to_js(QUALITIES), WANTED_BYTES)
    try:
        drawn: Any = await js.examPictures.drawnAnew(ffi.to_js(content), *wanted)
    except ffi.JsException as error:
        raise PhotographNotPreparedError(str(error)) from error
    # A JavaScript null is no None: the browser does not open the file.
    if not hasattr(drawn, "to_bytes"):
        raise PhotographRefusedError("not opened")
    return bytes(drawn.to_bytes())
