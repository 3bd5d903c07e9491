"""Line drawings on a sheet: an animal with its marks, a weight over time, a code."""

from collections.abc import Iterable, Sequence
from itertools import groupby, pairwise
from typing import Any

import pydyf
from qrcode.constants import ERROR_CORRECT_M
from qrcode.main import QRCode

from exam_app.app.view.mark_presenter import ShownMark
from exam_app.app.view.plot import MarkKind, Plot, PlotMark
from exam_app.domain.animal.body_drawing import WIDTH, BodyView, Curve, Point
from exam_app.paper.sheet import Sheet

MARK_SIZE = 12.0
_NUMBER_SIZE = 7.5
_CAPTION_SIZE = 6.5
_QUIET_ZONE = 4


def draw_view(
    sheet: Sheet,
    view: BodyView,
    corner: Point,
    width: float,
    placed: Sequence[ShownMark] = (),
) -> float:
    """Draw a view of an animal with its marks.

    A mark of this exam is a black disc with its number, one of an earlier record a
    square on its corner with a broken line, as on the screen.

    Args:
        sheet: Where it is drawn.
        view: The whole animal, or a closer drawing.
        corner: Its upper left one.
        width: In points.
        placed: The marks that stand on this view.

    Returns:
        Its height.
    """
    left, top = corner
    scale = width / WIDTH
    with sheet.drawing() as page:
        page.set_matrix(scale, 0, 0, scale, left, top)
        if view.is_closer:
            _closer(page, view, scale)
        else:
            _whole(page, view, scale)
    for words, place in view.captions:
        x, y = view.at_pixels(place, width)
        half = sheet.text_width(words, _CAPTION_SIZE) / 2
        x = min(width - half, max(half, x))
        sheet.write(words, left + x - half, top + y + 2, _CAPTION_SIZE)
    for one in placed:
        x, y = view.at_pixels(one.mark.point(view), width)
        _mark(sheet, one, left + x, top + y)
    return view.height * scale


def draw_plot(sheet: Sheet, plot: Plot, corner: Point) -> float:
    """Draw a value over time, and return its height.

    A full dot is a value, a ring an estimate, a square one outside all published
    ranges compared.
    """
    left, top = corner
    with sheet.drawing() as page:
        page.set_matrix(1, 0, 0, 1, left, top)
        page.set_line_width(0.5)
        x, y, right, low = plot.frame
        page.rectangle(x, y, right - x, low - y)
        page.stroke()
        for one, two in pairwise(plot.marks):
            page.move_to(one.x, one.y)
            page.line_to(two.x, two.y)
        page.stroke()
        for mark in plot.marks:
            _plot_mark(page, mark)
    size = plot.font
    for at, word in plot.heights:
        place = left + plot.frame[0] - 3 - sheet.text_width(word, size)
        sheet.write(word, place, top + at + size / 3, size)
    for at, word in plot.dates:
        half = sheet.text_width(word, size) / 2
        place = min(plot.width - 2 * half, max(0, at - half))
        sheet.write(word, left + place, top + plot.height - 2, size)
    return plot.height


def draw_code(sheet: Sheet, text: str, corner: Point, width: float) -> None:
    """Draw a QR code with its quiet zone, as black fields.

    References:
        ISO/IEC 18004: four modules of white around it.
    """
    code: Any = QRCode(error_correction=ERROR_CORRECT_M, border=0)
    code.add_data(text)
    code.make(fit=True)
    rows: list[list[bool]] = code.modules
    step = width / (len(rows) + 2 * _QUIET_ZONE)
    with sheet.drawing() as page:
        page.set_matrix(step, 0, 0, step, corner[0], corner[1])
        for down, row in enumerate(rows):
            at = _QUIET_ZONE
            for is_dark, run in groupby(row):
                count = len([*run])
                if is_dark:
                    page.rectangle(at, down + _QUIET_ZONE, count, 1)
                at += count
        page.fill()


def _whole(page: pydyf.Stream, view: BodyView, scale: float) -> None:
    thin, thick = 0.5 / scale, 1.1 / scale
    page.push_state()
    _path(page, view.outline)
    page.clip()
    page.end()
    inner = (area for area in view.areas if not area.is_whole)
    _shapes(page, (s for area in inner for s in area.shapes), thin)
    page.pop_state()
    page.set_line_width(thick)
    _path(page, view.outline)
    page.stroke()
    page.set_line_width(thin)
    for line in view.lines:
        _path(page, line)
        page.stroke()
    outer = (area for area in view.areas if area.is_whole)
    _shapes(page, (s for area in outer for s in area.shapes), thick)


def _closer(page: pydyf.Stream, view: BodyView, scale: float) -> None:
    thin, thick = 0.5 / scale, 1.1 / scale
    page.set_line_width(thin)
    for line in view.lines:
        _path(page, line)
        page.stroke()
    _shapes(page, (s for o in view.spots if not o.is_whole for s in o.shapes), thin)
    page.set_line_width(thick)
    _path(page, view.outline)
    page.stroke()
    _shapes(page, (s for o in view.spots if o.is_whole for s in o.shapes), thin)


def _shapes(page: pydyf.Stream, shapes: Iterable[Curve], thick: float) -> None:
    page.set_line_width(thick)
    page.set_color_rgb(1, 1, 1)
    for shape in shapes:
        _path(page, shape)
        page.fill_and_stroke()
    page.set_color_rgb(0, 0, 0)


def _path(page: pydyf.Stream, curve: Curve) -> None:
    x, y = curve.points[0]
    page.move_to(x, y)
    for (ax, ay), (bx, by), (x, y) in curve.spans:
        page.curve_to(*(round(value, 1) for value in (ax, ay, bx, by, x, y)))
    if curve.is_closed:
        page.close()


def _mark(sheet: Sheet, one: ShownMark, x: float, y: float) -> None:
    with sheet.drawing() as page:
        if one.is_earlier:
            reach = MARK_SIZE * 0.7
            page.set_color_rgb(1, 1, 1)
            page.set_line_width(0.7)
            page.set_dash([2, 1.5], 0)
            page.move_to(x, y - reach)
            for dx, dy in ((reach, 0), (0, reach), (-reach, 0)):
                page.line_to(x + dx, y + dy)
            page.close()
            page.fill_and_stroke()
        else:
            _disc(page, x, y, MARK_SIZE / 2 + 1, 1)
            _disc(page, x, y, MARK_SIZE / 2, 0)
    number = str(one.mark.number)
    size = _NUMBER_SIZE * (1 if len(number) < 3 else 0.65)
    place = x - sheet.text_width(number, size) / 2
    if one.is_earlier:
        sheet.write(number, place, y + size * 0.36, size)
        return
    with sheet.in_white():
        sheet.write(number, place, y + size * 0.36, size)


def _plot_mark(page: pydyf.Stream, mark: PlotMark) -> None:
    if mark.kind is MarkKind.OUTSIDE:
        page.rectangle(mark.x - 2.5, mark.y - 2.5, 5, 5)
        page.fill()
        return
    _disc(page, mark.x, mark.y, 2.6, 0)
    if mark.kind is MarkKind.ESTIMATE:
        _disc(page, mark.x, mark.y, 1.7, 1)


def _disc(page: pydyf.Stream, x: float, y: float, reach: float, grey: int) -> None:
    """Fill a circle of four curves, which is round to 0.03 % of its size."""
    page.set_color_rgb(grey, grey, grey)
    bend = reach * 0.5523
    page.move_to(x + reach, y)
    page.curve_to(x + reach, y + bend, x + bend, y + reach, x, y + reach)
    page.curve_to(x - bend, y + reach, x - reach, y + bend, x - reach, y)
    page.curve_to(x - reach, y - bend, x - bend, y - reach, x, y - reach)
    page.curve_to(x + bend, y - reach, x + reach, y - bend, x + reach, y)
    page.fill()
    page.set_color_rgb(0, 0, 0)
