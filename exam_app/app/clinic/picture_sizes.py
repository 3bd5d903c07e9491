"""How large a picture is, from its first bytes, before anything unpacks it.

A small file can claim a billion pixels; what reads pictures would ask for the room.

References:
    PNG (W3C), section 11.2.2; JPEG, ITU-T T.81, B.2.2; GIF89a, section 18; the
    headers of Windows bitmaps, as Microsoft documents them.
"""

import struct

_PNG = b"\x89PNG\r\n\x1a\n"
# Frame headers: C0 to CF, without Huffman tables, arithmetic tables and a reserved one.
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
# Markers that stand alone, without a length.
_ALONE = frozenset({0x01, *range(0xD0, 0xD9)})


def size_of(content: bytes) -> tuple[int, int] | None:
    """Return width and height in pixels of a PNG, JPEG, GIF or BMP; else None."""
    try:
        if content.startswith(_PNG):
            width, height = struct.unpack_from(">II", content, 16)
            return width, height
        if content.startswith(b"\xff\xd8"):
            return _size_of_jpeg(content)
        if content.startswith((b"GIF87a", b"GIF89a")):
            width, height = struct.unpack_from("<HH", content, 6)
            return width, height
        if content.startswith(b"BM"):
            return _size_of_bitmap(content)
    except struct.error:
        return None
    return None


def _size_of_jpeg(content: bytes) -> tuple[int, int] | None:
    at = 2
    while at + 1 < len(content):
        if content[at] != 0xFF:
            return None
        marker = content[at + 1]
        if marker in _FRAMES:
            height, width = struct.unpack_from(">HH", content, at + 5)
            return width, height
        if marker == 0xFF:
            at += 1
        elif marker in _ALONE:
            at += 2
        else:
            at += 2 + struct.unpack_from(">H", content, at + 2)[0]
    return None


def _size_of_bitmap(content: bytes) -> tuple[int, int]:
    (header,) = struct.unpack_from("<I", content, 14)
    if header == 12:
        width, height = struct.unpack_from("<HH", content, 18)
    else:
        width, height = struct.unpack_from("<ii", content, 18)
    # A negative height means that the top row comes first.
    return abs(width), abs(height)
