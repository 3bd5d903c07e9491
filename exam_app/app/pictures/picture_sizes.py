"""How large a picture says it is, read off its first bytes.

A small file can claim a billion pixels; what opens pictures would ask for the room.

References:
    PNG (W3C), section 11.2.2; JPEG, ITU-T T.81, B.2.2; GIF89a, section 18; the
    headers of Windows bitmaps, as Microsoft documents them; WebP, RFC 9649, 2.5 to 2.7.
"""

import struct

PNG = b"\x89PNG\r\n\x1a\n"
JPEG = b"\xff\xd8"
# Frame headers: C0 to CF, without Huffman tables, arithmetic tables and a reserved one.
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
# Markers that stand alone, without a length.
_ALONE = frozenset({0x01, *range(0xD0, 0xD9)})


def is_webp(content: bytes) -> bool:
    """Return whether the first bytes are those of a WebP picture."""
    return content[:4] == b"RIFF" and content[8:12] == b"WEBP"


def size_of(content: bytes) -> tuple[int, int] | None:
    """Return width and height in pixels of a PNG, JPEG, WebP, GIF or BMP; else None."""
    try:
        if content.startswith(PNG):
            return _two(">II", content, 16)
        if content.startswith((b"GIF87a", b"GIF89a")):
            return _two("<HH", content, 6)
        readers = {JPEG: _size_of_jpeg, b"RI": _size_of_webp, b"BM": _size_of_bitmap}
        reader = readers.get(content[:2])
        return reader(content) if reader else None
    except struct.error:
        return None


def _two(form: str, content: bytes, at: int) -> tuple[int, int]:
    width, height = struct.unpack_from(form, content, at)
    return width, height


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


def _size_of_webp(content: bytes) -> tuple[int, int] | None:
    kind = content[12:16] if is_webp(content) else b""
    if kind == b"VP8 ":
        width, height = _two("<HH", content, 26)
        return width & 0x3FFF, height & 0x3FFF
    if kind == b"VP8L":
        (both,) = struct.unpack_from("<I", content, 21)
        return (both & 0x3FFF) + 1, (both >> 14 & 0x3FFF) + 1
    if kind == b"VP8X":
        low, high, low_of_height, high_of_height = struct.unpack_from(
            "<HBHB", content, 24
        )
        return low + (high << 16) + 1, low_of_height + (high_of_height << 16) + 1
    return None


def _size_of_bitmap(content: bytes) -> tuple[int, int] | None:
    (header,) = struct.unpack_from("<I", content, 14)
    width, height = _two("<HH" if header == 12 else "<ii", content, 18)
    # A negative height means that the top row comes first.
    return abs(width), abs(height)
