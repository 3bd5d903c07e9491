"""The font of sheets, laid beside what fontTools reads of the same file."""

import io
import struct

import pytest
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.ttLib import TTFont

from exam_app.paper import font_file
from exam_app.paper.fonts import Font, FontDamagedError
from exam_app.resources import ResourceMissingError, fallback_font
from tests.printed import font

CONTENT = fallback_font()
# Letters of several scripts, signs of units, and letters composed of two glyphs.
USED = [*map(chr, range(32, 127)), *"é°½–−ñÅµ≥ŸǖżЖяΩあ•"]
DRAWN = [character for character in USED if character != "あ"]


def outline(of, glyph):
    glyphs = of.getGlyphSet()
    pen = DecomposingRecordingPen(glyphs)
    glyphs[glyph].draw(pen)
    return pen.value, glyphs[glyph].width


@pytest.mark.reference
def test_every_glyph_of_a_subset_is_drawn_as_in_the_font():
    """As fontTools draws both."""
    whole = TTFont(io.BytesIO(CONTENT))
    part = TTFont(io.BytesIO(font().subset(DRAWN)), checkChecksums=1)
    names, known = part.getGlyphOrder(), whole.getBestCmap()
    for number, character in enumerate(DRAWN, 1):
        expected = outline(whole, known[ord(character)])
        assert outline(part, names[number]) == expected, character
    assert len(part["glyf"].glyphs) == part["maxp"].numGlyphs


@pytest.mark.reference
def test_widths_and_characters_are_those_of_the_font():
    """As fontTools reads them."""
    whole = TTFont(io.BytesIO(CONTENT))
    known, units = whole.getBestCmap(), whole["head"].unitsPerEm
    for character in DRAWN:
        assert font().has(character)
        expected = whole["hmtx"][known[ord(character)]][0] / units
        assert font().width(character) == pytest.approx(expected)
    assert not font().has("あ")
    every = {chr(code) for code in known}
    assert all(map(font().has, every))


def test_subset_holds_no_program_and_is_small():
    part = font().subset(DRAWN)
    tables = TTFont(io.BytesIO(part)).reader.keys()
    assert not {"fpgm", "prep", "cvt "} & set(tables)
    assert len(part) < 20_000


def test_font_that_is_cut_off_anywhere_is_refused():
    tables = TTFont(io.BytesIO(CONTENT)).reader.tables
    in_the_last = tables["maxp"].offset + 5
    for end in (0, 3, 11, 12, 100, 299, 5_000, 100_000, 600_000, in_the_last):
        with pytest.raises(FontDamagedError):
            Font(CONTENT[:end]).subset(DRAWN)


def test_flipped_bit_is_refused_or_draws_something_else_but_never_breaks():
    refused = 0
    for at in [*range(0, 300, 7), *range(300, len(CONTENT), 40_009)]:
        changed = bytearray(CONTENT)
        changed[at] ^= 0xFF
        try:
            Font(bytes(changed)).subset(DRAWN)
        except FontDamagedError:
            refused += 1
    print("fonts with one changed byte that were refused:", refused)
    assert refused


def test_composed_glyph_that_names_itself_ends():
    whole = TTFont(io.BytesIO(CONTENT))
    composed = whole["glyf"][whole.getBestCmap()[ord("é")]]
    assert composed.isComposite()
    # The same glyph again is the same one of the subset: nothing is added twice.
    part = TTFont(io.BytesIO(font().subset(["é", "é", "e"])))
    parts = {one.glyphName for one in composed.components}
    assert part["maxp"].numGlyphs == 4 + len(parts - {"e"})


def test_no_font_has_an_advice():
    with pytest.raises(FontDamagedError) as refused:
        Font(struct.pack(">IHHHH", 0x00010000, 0, 0, 0, 0))
    assert "Install the app again" in refused.value.advice


async def test_without_assets_and_browser_the_font_is_missing(monkeypatch):
    def none():
        raise ResourceMissingError("assets")

    assert (await font_file.sheet_font()).has("a")
    monkeypatch.setattr(font_file, "fallback_font", none)
    with pytest.raises(ResourceMissingError):
        await font_file.sheet_font()
