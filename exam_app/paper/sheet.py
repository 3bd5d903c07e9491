"""A sheet of paper: texts, lists, lines and pictures laid out and written as a PDF.

A thin layer over pydyf, which knows what a PDF is made of. Lengths are points (1/72
inch), places are counted from the upper left corner. What is written goes on in the
next column, then on the next page. Everything is black on white; what presses is said
in words and stands in bold or in a frame.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from enum import Enum
from functools import cached_property

import pydyf

from exam_app.domain.wording.visible_text import visible
from exam_app.paper.fonts import Font
from exam_app.paper.pdf_file import Content, Picture, pdf_of

MARGIN = 42.0
GAP = 16.0
_FOOT = 24.0
# A line is broken at plain spaces alone, and never behind a box to tick.
_WORD = re.compile(r" *(?:☐ )?[^ ]+")
# Between what stands above columns and these.
_BETWEEN = 8.0
_LEADING = 1.28
# Bold is the same outline with a line around it, in parts of its size.
_BOLD = 0.035


class PageSize(Enum):
    """Width and height of a page in points."""

    A4 = (595.28, 841.89)
    LETTER = (612.0, 792.0)


@dataclass(slots=True)
class Frame:
    """A column of a page: what is written next stands at ``at``."""

    left: float
    width: float
    top: float
    bottom: float
    at: float


class Sheet:
    """One document, written from above to below.

    Args:
        size: Of every page.
        font: Everything is written in it.
        title: The document's, which viewers show.
        foot: Stands below every page, before its number.
    """

    def __init__(self, size: PageSize, font: Font, title: str, foot: str) -> None:
        self.width, self.height = size.value
        self._font, self._title, self._foot = font, title, foot
        self._codes: dict[str, int] = {}
        self._pages: list[pydyf.Stream] = []
        self._pictures: list[Picture] = []
        self._columns = 1
        self._frames: list[Frame] = []
        self._number = 0
        self._new_page()

    @property
    def page_count(self) -> int:
        """How many pages there are so far."""
        return len(self._pages)

    @property
    def frame(self) -> Frame:
        """The column that is written in."""
        return self._frames[self._number]

    @cached_property
    def _all(self) -> tuple[float, float]:
        return MARGIN, self.width - 2 * MARGIN

    def text(
        self,
        text: str,
        size: float = 9,
        *,
        bold: bool = False,
        indent: float = 0,
        before: float = 0,
        mark: str = "",
    ) -> None:
        """Write a paragraph, which may go on in the next column.

        Args:
            text: Line breaks in it are kept.
            size: Of the letters.
            bold: Whether it stands out.
            indent: Room at its left.
            before: Room above it, but for at a column's top.
            mark: Stands in that room, beside the first line.
        """
        self._skip(before)
        step = size * _LEADING
        for number, line in enumerate(
            self._lines(self._drawable(text), size, self.frame.width - indent)
        ):
            self.require(step)
            frame = self.frame
            base = frame.at + size
            if mark and number == 0:
                self.write(mark, frame.left, base, size)
            self.write(line, frame.left + indent, base, size, bold=bold)
            frame.at += step

    def heading(self, text: str, size: float = 11) -> None:
        """Write a heading that never stands alone at a column's end."""
        self._skip(size * 0.6)
        self.require(size * _LEADING + 24)
        self.text(text, size, bold=True)
        frame = self.frame
        self.line((frame.left, frame.at + 1), (frame.left + frame.width, frame.at + 1))
        frame.at += 4

    def items(self, lines: Iterable[str], size: float = 9) -> None:
        """Write a list."""
        for line in lines:
            self.text(line, size, indent=size, mark="•")

    def box(self, lines: Sequence[str], size: float = 10) -> None:
        """Write lines in bold, in a frame that is not parted over two columns."""
        pad = 5.0
        frame = self.frame
        wrapped = [
            one
            for line in lines
            for one in self._lines(
                self._drawable(line), size * (1 + _BOLD), frame.width - 2 * pad
            )
        ]
        height = len(wrapped) * size * _LEADING + 2 * pad
        self._skip(3)
        if height > self._tallest():
            # Too much for one frame: every line of it, in bold.
            for line in lines:
                self.text(line, size, bold=True)
            return
        self.require(height)
        frame = self.frame
        self.rectangle(frame.left, frame.at, frame.width, height)
        frame.at += pad
        for line in wrapped:
            self.write(line, frame.left + pad, frame.at + size, size, bold=True)
            frame.at += size * _LEADING
        frame.at += pad + 3

    def answer_lines(self, count: int, height: float = 20) -> None:
        """Draw empty lines to write on."""
        for _ in range(count):
            self.require(height)
            frame = self.frame
            frame.at += height
            self.line((frame.left, frame.at), (frame.left + frame.width, frame.at))
        self.frame.at += 2

    def columns(self, count: int) -> None:
        """Go on in so many columns, from here down and on the next pages."""
        lowest = max(frame.at for frame in self._frames[: self._number + 1])
        self._columns = count
        self._frames = self._row(count, lowest + _BETWEEN)
        self._number = 0

    def narrow(self, width: float) -> None:
        """Leave so much of the column free at its right, until the next columns."""
        self.frame.width -= width

    def below(self, top: float) -> None:
        """Go on at this height of the page, unless more is written already."""
        self.frame.at = max(self.frame.at, top)

    def require(self, height: float) -> None:
        """Go on in the next column or page where less than this is left."""
        while self.frame.at + height > self.frame.bottom:
            if self._number + 1 < len(self._frames):
                self._number += 1
            else:
                self._new_page()
            if height > self.frame.bottom - self.frame.top:
                return

    def new_page(self) -> None:
        """Go on on a page of its own."""
        self._new_page()

    def write(
        self, text: str, x: float, base: float, size: float, *, bold: bool = False
    ) -> None:
        """Write one line at a place.

        Args:
            text: What the font lacks is written as its code.
            x: Its left end.
            base: What it stands on.
            size: Of the letters.
            bold: Whether it stands out.
        """
        shown = self._drawable(text)
        for one in dict.fromkeys(shown):
            self._codes.setdefault(one, len(self._codes) + 1)
        codes = "".join([f"{self._codes[one]:04x}" for one in shown])
        page = self._pages[-1]
        page.begin_text()
        page.set_font_size("F1", size)
        if bold:
            page.set_line_width(round(size * _BOLD, 3))
            page.set_text_rendering(2)
        page.move_text_to(round(x, 2), round(self.height - base, 2))
        page.stream.append(f"<{codes}> Tj".encode("ascii"))
        if bold:
            page.set_text_rendering(0)
        page.end_text()

    def text_width(self, text: str, size: float) -> float:
        """Return how wide a line is."""
        return self._font.width(self._drawable(text)) * size

    def wrapped(self, text: str, size: float, width: float) -> list[str]:
        """Return the lines that a text takes in a width."""
        return list(self._lines(self._drawable(text), size, width))

    def line(
        self, start: tuple[float, float], end: tuple[float, float], thick: float = 0.6
    ) -> None:
        """Draw a straight line."""
        with self.drawing() as page:
            page.set_line_width(thick)
            page.move_to(start[0], start[1])
            page.line_to(end[0], end[1])
            page.stroke()

    def rectangle(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        thick: float = 1,
        *,
        filled: bool = False,
    ) -> None:
        """Draw a frame, or a black field."""
        with self.drawing() as page:
            page.set_line_width(thick)
            page.rectangle(x, y, width, height)
            page.fill() if filled else page.stroke()

    @contextmanager
    def in_white(self) -> Iterator[None]:
        """Let what is written meanwhile be white, on black."""
        page = self._pages[-1]
        page.push_state()
        page.set_color_rgb(1, 1, 1)
        yield
        page.pop_state()

    @contextmanager
    def drawing(self) -> Iterator[pydyf.Stream]:
        """Lend the page with its places counted downwards from the upper left."""
        page = self._pages[-1]
        page.push_state()
        page.set_matrix(1, 0, 0, -1, 0, round(self.height, 2))
        yield page
        page.pop_state()

    def picture(self, picture: Picture, x: float, y: float, width: float) -> float:
        """Place a picture at its upper left corner, and return its height."""
        height = width * picture.height / max(1, picture.width)
        if picture not in self._pictures:
            self._pictures.append(picture)
        page = self._pages[-1]
        page.push_state()
        page.set_matrix(width, 0, 0, height, x, self.height - y - height)
        page.draw_x_object(f"P{self._pictures.index(picture)}")
        page.pop_state()
        return height

    def pdf(self) -> bytes:
        """Return the document; the same sheet gives the same bytes."""
        for number, page in enumerate(self._pages, 1):
            self._write_foot(page, number)
        return pdf_of(
            Content(
                visible(self._title),
                (self.width, self.height),
                tuple(self._pages),
                self._font,
                tuple(self._codes),
                tuple(self._pictures),
            )
        )

    def _new_page(self) -> None:
        page = pydyf.Stream()
        page.set_line_join(1)
        self._pages.append(page)
        self._frames = self._row(self._columns, MARGIN)
        self._number = 0

    def _row(self, count: int, top: float) -> list[Frame]:
        left, width = self._all
        each = (width - GAP * (count - 1)) / count
        bottom = self.height - MARGIN - _FOOT
        return [
            Frame(left + at * (each + GAP), each, top, bottom, top)
            for at in range(count)
        ]

    def _tallest(self) -> float:
        return self.height - 2 * MARGIN - _FOOT

    def _skip(self, height: float) -> None:
        if self.frame.at > self.frame.top:
            self.frame.at += height

    def _drawable(self, text: str) -> str:
        """Return a text with every sign seen, also one that the font lacks."""
        shown = "\n".join(visible(line) for line in text.split("\n"))
        lacking = [c for c in set(shown) if c != "\n" and not self._font.has(c)]
        return shown.translate({ord(c): f"[U+{ord(c):04X}]" for c in lacking})

    def _lines(self, text: str, size: float, width: float) -> Iterator[str]:
        room = width / size
        for part in text.split("\n"):
            yield from self._filled(part, room)

    def _filled(self, text: str, room: float) -> Iterator[str]:
        line, used = "", 0.0
        for word in _WORD.findall(text):
            long = self._font.width(word)
            if used + long <= room:
                line, used = line + word, used + long
                continue
            if line:
                yield line
            line = word.lstrip(" ")
            used = self._font.width(line)
            while used > room:
                fits = self._that_fits(line, room)
                yield line[:fits]
                line = line[fits:]
                used = self._font.width(line)
        yield line

    def _that_fits(self, word: str, room: float) -> int:
        count = len(word)
        while count > 1 and self._font.width(word[:count]) > room:
            count -= 1
        return count

    def _write_foot(self, page: pydyf.Stream, number: int) -> None:
        left, width = self._all
        said = f"page {number} of {len(self._pages)}"
        size, base = 7.5, self.height - MARGIN + 4
        now, self._pages = self._pages, [page]
        self.line((left, base - 11), (left + width, base - 11), 0.4)
        room = width - self.text_width(said, size) - GAP
        foot = next(self._lines(self._drawable(self._foot), size, room), "")
        self.write(foot, left, base, size)
        end = left + width - self.text_width(said, size)
        self.write(said, end, base, size)
        self._pages = now
