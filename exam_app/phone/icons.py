"""Draw the app's sign: an animal's outline of a back with a pulse, as PNG pictures.

Drawn by numbers so that no picture has to be kept, and the same bytes every time.
"""

import itertools
import struct
import zlib
from typing import TypeAlias

_Point: TypeAlias = tuple[float, float]
_Stroke: TypeAlias = tuple[_Point, _Point]

GROUND = (11, 74, 102)
SIGN = (255, 255, 255)
# Corners of the pulse line, in parts of the side; the middle 80 % stay visible when
# a launcher cuts a maskable icon to a circle.
_LINE = (
    (0.16, 0.54),
    (0.34, 0.54),
    (0.42, 0.30),
    (0.54, 0.76),
    (0.63, 0.44),
    (0.69, 0.54),
    (0.84, 0.54),
)
_HALF_WIDTH = 0.035
_CORNER = 0.18


def icon_png(side: int, *, is_maskable: bool) -> bytes:
    """Draw the sign.

    Args:
        side: Pixels.
        is_maskable: Whether the ground fills the square, for launchers that cut it;
            otherwise its corners are round and clear.

    Returns:
        A PNG, RGBA.
    """
    rows, softness = [], 1.5 / side
    for y in range(side):
        row, level = bytearray(b"\0"), (y + 0.5) / side
        strokes = _strokes_near(level, _HALF_WIDTH + softness)
        for x in range(side):
            at = ((x + 0.5) / side, level)
            row += bytes(_pixel(at, softness, strokes, is_maskable=is_maskable))
        rows.append(bytes(row))
    head = struct.pack(">IIBBBBB", side, side, 8, 6, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(b"".join(rows), 9)))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(*p) for p in (*parts, (b"IEND", b"")))


def _strokes_near(level: float, reach: float) -> list[_Stroke]:
    """Give the strokes that a row of pixels can meet: the others do not light it."""
    return [
        (start, end)
        for start, end in itertools.pairwise(_LINE)
        if min(start[1], end[1]) - reach < level < max(start[1], end[1]) + reach
    ]


def _pixel(
    at: _Point, softness: float, strokes: list[_Stroke], *, is_maskable: bool
) -> tuple[int, ...]:
    distances = (_distance(start, end, at) for start, end in strokes)
    from_line = min(distances, default=1.0)
    lit = min(1.0, max(0.0, 0.5 - (from_line - _HALF_WIDTH) / softness))
    mixed = (
        round(ground + (sign - ground) * lit)
        for ground, sign in zip(GROUND, SIGN, strict=True)
    )
    outside = -1.0 if is_maskable else _beyond_corner(at)
    return (*mixed, round(255 * min(1.0, max(0.0, 0.5 - outside / softness))))


def _beyond_corner(at: _Point) -> float:
    x, y = (max(0.0, abs(part - 0.5) - (0.5 - _CORNER)) for part in at)
    return float((x * x + y * y) ** 0.5 - _CORNER)


def _distance(start: _Point, end: _Point, at: _Point) -> float:
    along = (end[0] - start[0], end[1] - start[1])
    away = (at[0] - start[0], at[1] - start[1])
    length = along[0] ** 2 + along[1] ** 2
    part = max(0.0, min(1.0, (away[0] * along[0] + away[1] * along[1]) / length))
    x, y = away[0] - part * along[0], away[1] - part * along[1]
    return float((x * x + y * y) ** 0.5)


def _chunk(name: bytes, content: bytes) -> bytes:
    check = struct.pack(">I", zlib.crc32(name + content))
    return struct.pack(">I", len(content)) + name + content + check
