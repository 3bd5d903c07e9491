"""Printed sheets read back by other libraries: their text, their pages, their ink."""

import io
import re
from functools import cache, lru_cache

import pypdf
import pypdfium2

from exam_app.paper.fonts import Font
from exam_app.paper.sheet import PageSize
from exam_app.resources import fallback_font

SIZES = tuple(PageSize)
_PAGE = re.compile(r"[^\n]*\n?page \d+ of \d+\s*$")


@cache
def font():
    return Font(fallback_font())


def squeezed(text):
    """Leave out every space: where a line was broken is no matter."""
    return "".join(text.split())


def pages_of(pdf):
    """Return the text of each page as PDFium reads it."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [page.get_textpage().get_text_range() for page in document]
    finally:
        document.close()


def pages_by_pypdf(pdf):
    """Return the text of each page as pypdf reads it, in eight times the time."""
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]


def sizes_of(pdf):
    """Return the width and height of each page, in points."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [page.get_size() for page in document]
    finally:
        document.close()


@lru_cache(maxsize=4)
def words_of(pdf):
    """Return the text of all pages without their feet, and without spaces."""
    return "".join(squeezed(_PAGE.sub("", page)) for page in pages_of(pdf))


def missing(lines, pdf):
    """Return the lines that are not on a sheet, word for word."""
    printed = words_of(pdf)
    return [line for line in lines if squeezed(line) not in printed]


def images_of(pdf, scale=1.5):
    """Draw every page as a picture of three colours."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [page.render(scale=scale).to_pil().convert("RGB") for page in document]
    finally:
        document.close()


def is_grey(picture):
    """Whether nothing in a picture has a colour."""
    red, green, blue = picture.split()
    return red.tobytes() == green.tobytes() == blue.tobytes()


def boxes_of(pdf):
    """Return for each page its size, and the boxes of what is written on it."""
    document = pypdfium2.PdfDocument(pdf)
    found = []
    for page in document:
        text = page.get_textpage()
        boxes = [
            text.get_charbox(at)
            for at in range(text.count_chars())
            if text.get_text_range(at, 1).strip()
        ]
        found.append((page.get_size(), boxes))
    return found
