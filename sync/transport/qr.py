"""QR codes of hand-over texts: module rows, and a picture of one bit a pixel.

Texts are of the alphanumeric mode. What they carry is sealed or compressed and so
looks random, for which scoring the eight masks buys nothing: the mask is fixed.
A version is the smallest that holds the text, so that dots are as large as can be.
"""

import struct
import zlib
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from qrcode.constants import ERROR_CORRECT_L, ERROR_CORRECT_M
from qrcode.exceptions import DataOverflowError
from qrcode.main import QRCode
from qrcode.util import MODE_ALPHA_NUM, QRData

from sync.errors import BundleTooLargeError
from sync.transport.frames import ALPHABET, DotSize

QUIET_MODULES = 4
_MASK = 3
_LEVELS = {
    DotSize.BIGGER: ERROR_CORRECT_M,
    DotSize.NORMAL: ERROR_CORRECT_M,
    DotSize.DENSE: ERROR_CORRECT_L,
}
_PNG_HEAD = b"\x89PNG\r\n\x1a\n"


def qr_rows(text: str, dots: DotSize = DotSize.NORMAL) -> tuple[bytes, ...]:
    """Give the rows of a QR code, without its quiet zone.

    Args:
        text: Characters of the alphanumeric mode (those of Base45).
        dots: Sets the error correction: M, or L for dense dots.

    Returns:
        As many rows as columns; a byte for each module, 1 for a dark one.

    Raises:
        ValueError: A character outside the alphanumeric mode, or no text.
        BundleTooLargeError: No QR code holds so long a text.
    """
    if not text or not set(ALPHABET).issuperset(text):
        msg = "not alphanumeric"
        raise ValueError(msg)
    code = _code(text, _LEVELS[dots], _version(len(text), _LEVELS[dots]))
    code.make(fit=False)
    return tuple(bytes(map(bool, row)) for row in code.modules)


def qr_png(text: str, dots: DotSize = DotSize.NORMAL, module_pixels: int = 1) -> bytes:
    """Give a QR code as a PNG in black and white, quiet zone of four modules.

    Args:
        module_pixels: Width of one module; enlarge further by whole numbers only.

    Raises:
        ValueError: As of ``qr_rows``.
        BundleTooLargeError: As of ``qr_rows``.
    """
    return strip_png([qr_rows(text, dots)], module_pixels)


def strip_png(codes: Sequence[Sequence[bytes]], module_pixels: int = 1) -> bytes:
    """Give codes one below the other as a PNG, each with its quiet zone.

    Args:
        codes: Rows as of ``qr_rows``, at least one code, all of one size.
        module_pixels: As of ``qr_png``.

    Raises:
        ValueError: The codes are of several sizes.
    """
    if len({len(rows) for rows in codes}) != 1:
        msg = "one size of codes makes a strip"
        raise ValueError(msg)
    margin = bytes(QUIET_MODULES)
    blank = [bytes(len(codes[0]) + 2 * QUIET_MODULES)] * QUIET_MODULES
    lines = [
        line
        for rows in codes
        for line in (*blank, *(margin + row + margin for row in rows), *blank)
    ]
    width, height = len(lines[0]) * module_pixels, len(lines) * module_pixels
    packed = b"".join(_packed(line, module_pixels) * module_pixels for line in lines)
    return b"".join(
        (
            _PNG_HEAD,
            _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)),
            _chunk(b"IDAT", zlib.compress(packed, 1)),
            _chunk(b"IEND", b""),
        )
    )


def _packed(line: bytes, module_pixels: int) -> bytes:
    """Pack a line, 0 black and 1 white, behind its filter type (none)."""
    light, dark = "1" * module_pixels, "0" * module_pixels
    bits = "".join(dark if module else light for module in line)
    bits += "0" * (-len(bits) % 8)
    return b"\0" + int(bits, 2).to_bytes(len(bits) // 8, "big")


def _chunk(name: bytes, content: bytes) -> bytes:
    check = zlib.crc32(name + content)
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", check)


# Finding the version writes the text into a buffer once more; frames are all equally
# long.
@lru_cache(maxsize=64)
def _version(characters: int, level: int) -> int:
    try:
        return int(_code("0" * characters, level, None).best_fit())
    except (DataOverflowError, ValueError) as error:
        raise BundleTooLargeError(f"{characters} characters") from error


def _code(text: str, level: int, version: int | None) -> Any:  # noqa: ANN401
    # The library is typed only here and there.
    code: Any = QRCode(version, level, mask_pattern=_MASK)
    chunk: Any = QRData
    # It wants bytes for text that it is told not to look through.
    code.add_data(chunk(text.encode(), MODE_ALPHA_NUM, check_data=False))
    return code
