"""A TrueType font: widths of its characters, and the few glyphs that a sheet uses.

Reads what embedding asks for and no more (OpenType specification, tables cmap, glyf,
head, hhea, hmtx, loca, maxp). A subset has one glyph for each character used, in the
order of their first use, so that what is copied out of a sheet is what stands in it.
Hinting is left out: paper and screens of today draw the outlines.
"""

import struct
from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import ClassVar

from exam_app.domain.errors import ExamError

MISSING = 0
_ARGS_ARE_WORDS, _HAS_SCALE, _MORE, _HAS_TWO, _HAS_FOUR, _HAS_PROGRAM = (
    0x0001,
    0x0008,
    0x0020,
    0x0040,
    0x0080,
    0x0100,
)
_REPEATED = 0x08
_KEPT = ("head", "hhea", "maxp")


class FontDamagedError(ExamError):
    """The font that sheets are written in cannot be read."""

    advice: ClassVar[str] = (
        "A sheet cannot be printed: the font that belongs to the app is damaged. "
        "Nothing of yours was changed. Install the app again."
    )


class Font:
    """One font file.

    Args:
        content: A TrueType font with outlines in ``glyf``.

    Raises:
        FontDamagedError: It is none, or its tables end too early.
    """

    def __init__(self, content: bytes) -> None:
        self._content = content
        try:
            self._tables = self._directory()
            head, hhea = self._table("head"), self._table("hhea")
            (self.units,) = struct.unpack_from(">H", head, 18)
            self.box = struct.unpack_from(">4h", head, 36)
            self._has_long_places = bool(struct.unpack_from(">h", head, 50)[0])
            self.ascent, self.descent = struct.unpack_from(">hh", hhea, 4)
            (self._metrics,) = struct.unpack_from(">H", hhea, 34)
            (self._glyphs,) = struct.unpack_from(">H", self._table("maxp"), 4)
            self._glyph_of = dict(self._characters())
        except (struct.error, KeyError, IndexError, ValueError) as error:
            raise FontDamagedError from error
        if not self.units or not self._metrics or not self._glyph_of:
            raise FontDamagedError
        self._widths: dict[str, float] = {}

    def has(self, character: str) -> bool:
        """Whether the font can draw a character."""
        return self._glyph_of.get(ord(character), MISSING) != MISSING

    def width(self, text: str) -> float:
        """Return the width of a text that is one unit high, in that unit."""
        known = self._widths
        for character in set(text).difference(known):
            known[character] = self._advance(self._glyph(character)) / self.units
        return sum(map(known.__getitem__, text))

    def advance(self, character: str) -> int:
        """Return a character's width in thousandths of its height."""
        return round(self.width(character) * 1000)

    def subset(self, characters: Sequence[str]) -> bytes:
        """Return a font with a glyph for each character; glyph 0 is the missing one.

        Args:
            characters: Glyph 1 is the first one's, and so on.

        Raises:
            FontDamagedError: An outline ends too early, or lies outside of its table.
        """
        wanted = [MISSING, *map(self._glyph, characters)]
        try:
            outlines = list(self._outlines(wanted))
            advances = b"".join(map(self._metric, wanted))
        except (struct.error, IndexError) as error:
            raise FontDamagedError from error
        places = [0]
        for outline in outlines:
            places.append(places[-1] + len(outline))
        tables = {name: bytearray(self._table(name)) for name in _KEPT}
        struct.pack_into(">I", tables["head"], 8, 0)
        struct.pack_into(">h", tables["head"], 50, 1)
        struct.pack_into(">H", tables["hhea"], 34, len(wanted))
        struct.pack_into(">H", tables["maxp"], 4, len(wanted))
        tables["glyf"] = bytearray(b"".join(outlines))
        tables["loca"] = bytearray(struct.pack(f">{len(places)}I", *places))
        tables["hmtx"] = bytearray(advances)
        return _file_of(tables)

    def _directory(self) -> dict[str, tuple[int, int]]:
        (count,) = struct.unpack_from(">H", self._content, 4)
        found = {}
        for at in range(count):
            name, _, start, length = struct.unpack_from(
                ">4sIII", self._content, 12 + 16 * at
            )
            found[name.decode("ascii")] = (start, length)
        return found

    def _table(self, name: str) -> bytes:
        start, length = self._tables[name]
        table = self._content[start : start + length]
        if len(table) < length:
            raise IndexError(name)
        return table

    @cached_property
    def _glyf(self) -> bytes:
        return self._table("glyf")

    @cached_property
    def _loca(self) -> tuple[int, ...]:
        table, count = self._table("loca"), self._glyphs + 1
        if self._has_long_places:
            return struct.unpack_from(f">{count}I", table)
        return tuple(2 * at for at in struct.unpack_from(f">{count}H", table))

    @cached_property
    def _hmtx(self) -> bytes:
        return self._table("hmtx")

    def _glyph(self, character: str) -> int:
        return self._glyph_of.get(ord(character), MISSING)

    def _advance(self, glyph: int) -> int:
        at = min(glyph, self._metrics - 1)
        return int(struct.unpack_from(">H", self._hmtx, 4 * at)[0])

    def _metric(self, glyph: int) -> bytes:
        if glyph < self._metrics:
            bearing = struct.unpack_from(">h", self._hmtx, 4 * glyph + 2)[0]
        else:
            at = 4 * self._metrics + 2 * (glyph - self._metrics)
            bearing = struct.unpack_from(">h", self._hmtx, at)[0]
        return struct.pack(">Hh", self._advance(glyph), bearing)

    def _characters(self) -> Iterator[tuple[int, int]]:
        """Yield every character with its glyph, from the widest table it can read."""
        table = self._table("cmap")
        (count,) = struct.unpack_from(">H", table, 2)
        starts = {}
        for at in range(count):
            _, _, start = struct.unpack_from(">HHI", table, 4 + 8 * at)
            (form,) = struct.unpack_from(">H", table, start)
            starts[form] = start
        if 12 in starts:
            yield from _from_groups(table, starts[12])
        else:
            yield from _from_segments(table, starts[4])

    def _outlines(self, wanted: list[int]) -> Iterator[bytes]:
        """Yield each outline; a glyph that another is composed of is added behind."""
        new = {glyph: at for at, glyph in reversed([*enumerate(wanted)])}
        at = 0
        while at < len(wanted):
            yield self._outline(wanted[at], wanted, new)
            at += 1

    def _outline(self, glyph: int, wanted: list[int], new: dict[int, int]) -> bytes:
        start, end = self._loca[glyph], self._loca[glyph + 1]
        outline = self._glyf[start:end]
        if not outline:
            return b""
        (contours,) = struct.unpack_from(">h", outline)
        plain = (
            _without_program(outline, contours)
            if contours >= 0
            else _composed(outline, wanted, new)
        )
        return plain + b"\0" * (-len(plain) % 4)


def _without_program(outline: bytes, contours: int) -> bytes:
    at = 10 + 2 * contours
    (length,) = struct.unpack_from(">H", outline, at)
    points = struct.unpack_from(">H", outline, at - 2)[0] + 1 if contours else 0
    start = at + 2 + length
    return outline[:at] + b"\0\0" + outline[start : _end_of(outline, start, points)]


def _end_of(outline: bytes, at: int, points: int) -> int:
    """Return where the flags and the places of so many points end."""
    across = down = 0
    while points > 0:
        flag, times = outline[at], 1
        at += 1
        if flag & _REPEATED:
            times += outline[at]
            at += 1
        across += times * _bytes_of(flag, 0x02, 0x10)
        down += times * _bytes_of(flag, 0x04, 0x20)
        points -= times
    if at + across + down > len(outline):
        raise IndexError(at)
    return at + across + down


def _bytes_of(flag: int, is_short: int, is_same: int) -> int:
    """Return how many bytes a step takes: one, none where it is the same, or two."""
    if flag & is_short:
        return 1
    return 0 if flag & is_same else 2


def _composed(outline: bytes, wanted: list[int], new: dict[int, int]) -> bytes:
    changed, at, flags = bytearray(outline), 10, _MORE
    while flags & _MORE:
        flags, part = struct.unpack_from(">HH", outline, at)
        if part not in new:
            new[part] = len(wanted)
            wanted.append(part)
        struct.pack_into(">HH", changed, at, flags & ~_HAS_PROGRAM, new[part])
        at += 8 if flags & _ARGS_ARE_WORDS else 6
        if flags & _HAS_SCALE:
            at += 2
        elif flags & _HAS_TWO:
            at += 4
        elif flags & _HAS_FOUR:
            at += 8
    return bytes(changed[:at])


def _from_groups(table: bytes, start: int) -> Iterator[tuple[int, int]]:
    (count,) = struct.unpack_from(">I", table, start + 12)
    for at in range(count):
        first, last, glyph = struct.unpack_from(">III", table, start + 16 + 12 * at)
        for code in range(first, last + 1):
            yield code, glyph + code - first


def _from_segments(table: bytes, start: int) -> Iterator[tuple[int, int]]:
    (double,) = struct.unpack_from(">H", table, start + 6)
    for at in range(0, double, 2):
        (last,) = struct.unpack_from(">H", table, start + 14 + at)
        (first,) = struct.unpack_from(">H", table, start + 16 + double + at)
        (step,) = struct.unpack_from(">H", table, start + 16 + 2 * double + at)
        where = start + 16 + 3 * double + at
        (away,) = struct.unpack_from(">H", table, where)
        for code in range(first, min(last, 0xFFFE) + 1):
            glyph = code
            if away:
                (glyph,) = struct.unpack_from(
                    ">H", table, where + away + 2 * (code - first)
                )
            yield code, (glyph + step) % 0x10000 if glyph or not away else MISSING


def _file_of(tables: dict[str, bytearray]) -> bytes:
    count = len(tables)
    power = count.bit_length() - 1
    search = 16 * 2**power
    head = struct.pack(">IHHHH", 0x00010000, count, search, power, 16 * count - search)
    at, entries, bodies = 12 + 16 * count, [], []
    for name in sorted(tables):
        body = bytes(tables[name])
        padded = body + b"\0" * (-len(body) % 4)
        total = sum(struct.unpack(f">{len(padded) // 4}I", padded)) % 2**32
        entries.append(
            struct.pack(">4sIII", name.encode("ascii"), total, at, len(body))
        )
        bodies.append(padded)
        at += len(padded)
    return head + b"".join(entries) + b"".join(bodies)
