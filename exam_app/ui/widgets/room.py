"""How much room words have: the width of the window and the size of its text.

A word that is broken in two can be misread, so whatever stands in a row says how wide
it has to be, and goes to a row of its own where that is too much.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import flet as ft

from exam_app.ui.shell.theme import BODY_WIDTH, WIDE_FROM

# Width of a letter, of the font's size: of bold labels, with some to spare.
_LETTER = 0.57
SPACE = 6
_FRAME_OF_ZONE = 12
# Margin, frame and padding of a sheet, at both sides.
_FRAME_OF_SHEET, _SHEET = 52, 640
# Share of a wide window in which an exam is answered, beside its list.
_ZONE_SHARE = 0.37


@dataclass(slots=True)
class Room:
    """What is known of the one window that is unlocked.

    Attributes:
        width: In pixels.
        text_scale: Of the chosen text size; 1 is the normal one.
    """

    width: float = WIDE_FROM
    text_scale: float = 1.0

    @property
    def is_large_text(self) -> bool:
        """Whether text is larger than normal, and rows take more than theirs."""
        return self.text_scale > 1

    @property
    def zone(self) -> float:
        """Width of the place in which a part or a vital is answered."""
        if self.width < WIDE_FROM:
            return self.width - _FRAME_OF_ZONE
        return self.width * _ZONE_SHARE

    @property
    def body(self) -> float:
        """Width of a screen of the exam that is not laid out in panes."""
        return min(self.width, BODY_WIDTH) - _FRAME_OF_ZONE

    @property
    def sheet(self) -> float:
        """Width between the sides of a sheet."""
        return min(self.width, _SHEET) - _FRAME_OF_SHEET


ROOM = Room()


@dataclass(frozen=True, slots=True)
class Needs:
    """How much width a button's words need, in pixels; it is the button's ``data``.

    Attributes:
        word: The longest word, which is not to be broken.
        line: All words in one line.
        beside: What stands beside them: a sign, and the padding of both sides.
    """

    word: float
    line: float
    beside: float

    @property
    def least(self) -> float:
        """How wide the button has to be."""
        return self.word + self.beside


def needs_of(words: str, size: float, beside: float) -> Needs:
    """Return what a button of these words needs.

    Args:
        words: As shown.
        size: Of the font, at normal text.
        beside: As of ``Needs``.
    """
    return Needs(width_of(words, size), line_width(words, size), beside)


def width_of(words: str, size: float) -> float:
    """Return the width that the longest word of a label needs at least.

    Args:
        words: Wrapped between its words and at its hyphens.
        size: Of the font, at normal text.
    """
    longest = max(map(len, words.replace("-", "- ").split()), default=0)
    return longest * _LETTER * size * ROOM.text_scale


def line_width(words: str, size: float) -> float:
    """Return the width of a label in one line.

    Args:
        words: As shown.
        size: Of the font, at normal text.
    """
    return len(words) * _LETTER * size * ROOM.text_scale


def least_width(control: ft.Control) -> float:
    """Return how wide a button has to be; what says nothing of itself takes none."""
    return control.data.least if isinstance(control.data, Needs) else 0.0


def fitting_columns(cells: Iterable[ft.Control], columns: int, width: float) -> int:
    """Return in how many equal columns no word of the cells is cut."""
    widest = max(map(least_width, cells), default=0.0)
    while columns > 1 and (width - SPACE * (columns - 1)) / columns < widest:
        columns -= 1
    return columns


def rows_that_fit(
    buttons: Sequence[ft.Control], width: float
) -> list[list[ft.Control]]:
    """Put buttons into rows in their order, as few as have room for every word.

    Buttons that expand share a row as told, and by their words where that is too
    little for one of them.
    """
    rows: list[list[ft.Control]] = []
    for button in buttons:
        if rows and _needed([*rows[-1], button]) <= width:
            rows[-1].append(button)
        else:
            rows.append([button])
    for row in rows:
        _share(row, width)
    return rows


def drawn_in_rows(buttons: Sequence[ft.Control], width: float) -> list[ft.Control]:
    """Draw buttons in as few rows as have room for every word."""
    return [ft.Row(row, spacing=SPACE) for row in rows_that_fit(buttons, width)]


def sharing_width(buttons: Sequence[ft.Control], width: float) -> list[ft.Control]:
    """Draw buttons in such rows, over the whole width; a share of its own is kept."""
    for one in buttons:
        one.expand = one.expand or 1
    return drawn_in_rows(buttons, width)


def _needed(row: Sequence[ft.Control]) -> float:
    return sum(map(least_width, row)) + SPACE * len([*pairwise(row)])


def _share(row: Sequence[ft.Control], width: float) -> None:
    if not any(one.expand for one in row) and len(row) > 1:
        for one in row:
            one.expand = 1
    shared = [one for one in row if one.expand]
    fixed = [one for one in row if not one.expand]
    left = width - _needed(fixed) - SPACE * len(shared)
    weights = sum(int(one.expand or 0) for one in shared)
    if any(left * int(one.expand or 0) / weights < least_width(one) for one in shared):
        for one in shared:
            one.expand = max(1, round(least_width(one)))
