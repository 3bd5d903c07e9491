"""A sheet: its size, its text, its margins, and nothing but black on white."""

import io

import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from exam_app.paper.figures import draw_code
from exam_app.paper.pdf_file import Picture
from exam_app.paper.sheet import MARGIN, PageSize, Sheet
from tests.pictures import HEIGHT, WIDTH, picture
from tests.printed import (
    SIZES,
    boxes_of,
    font,
    images_of,
    is_grey,
    missing,
    pages_of,
    squeezed,
    words_of,
)

LONG = " ".join(f"word{number}" for number in range(900))


def sheet(size=PageSize.A4):
    return Sheet(size, font(), "A title", "what it is")


@pytest.mark.reference
@pytest.mark.parametrize(
    ("size", "across", "down"),
    # ISO 216: 210 by 297 mm. ANSI/ASME Y14.1: 8.5 by 11 inches. A point is 1/72 inch.
    [
        (PageSize.A4, 210 / 25.4 * 72, 297 / 25.4 * 72),
        (PageSize.LETTER, 8.5 * 72, 11 * 72),
    ],
)
def test_page_is_as_large_as_the_paper(size, across, down):
    made = sheet(size)
    made.text("one")
    box = pypdf.PdfReader(io.BytesIO(made.pdf())).pages[0].mediabox
    assert float(box.width) == pytest.approx(across, abs=0.5)
    assert float(box.height) == pytest.approx(down, abs=0.5)


@pytest.mark.parametrize("size", SIZES)
def test_text_goes_on_over_columns_and_pages_and_none_of_it_is_lost(size):
    made = sheet(size)
    made.heading("First")
    made.columns(2)
    made.items([LONG, "last line"])
    pdf = made.pdf()
    pages = pages_of(pdf)
    assert len(pages) == made.page_count >= 1
    assert pages[-1].rstrip().endswith(f"page {len(pages)} of {len(pages)}")
    assert missing(["First", LONG, "last line"], pdf) == []


@pytest.mark.parametrize("size", SIZES)
def test_nothing_is_written_beyond_the_margins(size):
    made = sheet(size)
    made.columns(2)
    made.text("x" * 400, 11, bold=True)
    made.box(["y" * 300, "short"])
    made.items([LONG])
    for (width, height), boxes in boxes_of(made.pdf()):
        assert boxes
        for left, low, right, high in boxes:
            assert left >= MARGIN - 2
            assert right <= width - MARGIN + 2
            assert low >= MARGIN - 12
            assert high <= height - MARGIN + 2


TYPED = st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=60)


@given(TYPED)
def test_whatever_is_typed_is_seen(text):
    made = sheet()
    made.text(text)
    printed = words_of(made.pdf())
    for character in text:
        if character.isspace() or character in "\u00ad":
            continue
        if not character.isprintable():
            assert f"{ord(character):x}}}" in printed
        elif font().has(character):
            assert character in printed
        else:
            assert f"[U+{ord(character):04X}]" in printed


def test_sheet_is_black_and_white_and_always_the_same_bytes():
    def made():
        one = sheet()
        one.heading("Heading")
        one.box(["In a frame"])
        draw_code(one, "0" * 32, (100, 200), 80)
        return one.pdf()

    assert made() == made()
    (page,) = images_of(made())
    assert is_grey(page)
    assert page.getextrema()[0] == (0, 255)


def test_picture_is_placed_as_it_is_and_once():
    made = sheet()
    content = picture(1)
    for y in (100, 300):
        made.picture(Picture(content, WIDTH, HEIGHT, 1), 100, y, 160)
    reader = pypdf.PdfReader(io.BytesIO(made.pdf()))
    placed = reader.pages[0]["/Resources"]["/XObject"]
    assert [one.get_object()._data for one in placed.values()] == [content]


def test_page_asks_to_be_printed_and_names_itself():
    made = sheet()
    made.text("x")
    reader = pypdf.PdfReader(io.BytesIO(made.pdf()))
    assert reader.metadata.title == "A title"
    action = reader.trailer["/Root"]["/OpenAction"]
    assert (action["/S"], action["/N"]) == ("/Named", "/Print")
    assert squeezed("what it is") in squeezed(pages_of(made.pdf())[0])


@pytest.mark.reference
@pytest.mark.parametrize(("mode", "parts"), [("L", 1), ("RGB", 3), ("CMYK", 4)])
def test_picture_of_any_colours_is_drawn_as_a_picture_library_shows_it(mode, parts):
    """A red field, or its grey, as Pillow wrote it and PDFium draws it."""
    field = Image.new("RGB", (64, 64), (200, 30, 30)).convert(mode)
    file = io.BytesIO()
    field.save(file, "JPEG", quality=95)
    made = sheet()
    made.picture(Picture(file.getvalue(), 64, 64, parts), 100, 100, 200)
    (page,) = images_of(made.pdf(), 1)
    expected = Image.open(file).convert("RGB").getpixel((32, 32))
    found = page.getpixel((200, 200))
    assert all(abs(a - b) < 45 for a, b in zip(found, expected, strict=True))
