"""A value over time, drawn in lines and shapes that need no colour to be told apart."""

from collections.abc import Iterator

import flet as ft
import flet.canvas as cv

from exam_app.app.view.plot import MarkKind, Plot, PlotMark, PlotRange
from exam_app.ui.widgets.identifiers import identified

_INK, _GROUND = ft.Colors.ON_SURFACE, ft.Colors.SURFACE
_LINE = ft.Colors.OUTLINE
_SHADE = 0.10
_RADIUS, _PEN = 5.0, 2.0
_FILL, _STROKE = ft.PaintingStyle.FILL, ft.PaintingStyle.STROKE


def plot_picture(identifier: str, plot: Plot, spoken: str) -> ft.Control:
    """Draw a plot; to a screen reader it is a picture with a sentence.

    Args:
        identifier: Of the picture.
        plot: What is drawn.
        spoken: What a screen reader says of it, and where the numbers stand.
    """
    canvas = cv.Canvas(shapes=list(_shapes(plot)), width=plot.width, height=plot.height)
    named = identified(identifier, canvas, label=spoken)
    named.image = True
    return named


def _shapes(plot: Plot) -> Iterator[cv.Shape]:
    left, top, right, bottom = plot.frame
    for one in plot.ranges:
        yield from _range(one)
    for height, _ in plot.heights:
        yield _line((left, height), (right, height), _pen(0.5, _LINE))
    yield _line((left, top), (left, bottom), _pen(1, _LINE))
    yield _line((left, bottom), (right, bottom), _pen(1, _LINE))
    points: list[ft.Offset | tuple[float, float]]
    points = [ft.Offset(mark.x, mark.y) for mark in plot.marks]
    mode = cv.PointMode.POLYGON
    yield cv.Points(points=points, point_mode=mode, paint=_pen(_PEN, _INK))
    # One shape for all of them: two hundred a plot took longer than reading the exams.
    dots = [at for at, m in zip(points, plot.marks, strict=True) if _is_dot(m)]
    dot = _pen(2 * _RADIUS - 2, _INK)
    dot.stroke_cap = ft.StrokeCap.ROUND
    yield cv.Points(points=dots, point_mode=cv.PointMode.POINTS, paint=dot)
    for mark in plot.marks:
        yield from _shape(mark)
    for height, words in plot.heights:
        yield _text(left - 4, height, words, plot.font, ft.Alignment.CENTER_RIGHT)
    (first, from_), *_, (last, until) = plot.dates
    below = bottom + plot.font
    yield _text(min(first, left), below, from_, plot.font, ft.Alignment.CENTER_LEFT)
    yield _text(max(last, right), below, until, plot.font, ft.Alignment.CENTER_RIGHT)


def _range(one: PlotRange) -> Iterator[cv.Shape]:
    shade = ft.Colors.with_opacity(_SHADE, _INK)
    yield cv.Rect(
        one.left,
        one.top,
        one.right - one.left,
        one.bottom - one.top,
        paint=ft.Paint(color=shade, style=_FILL),
    )
    for edge in one.edges:
        dashed = _pen(1.2, _INK)
        dashed.stroke_dash_pattern = [6, 4]
        yield _line((one.left, edge), (one.right, edge), dashed)


def _is_dot(mark: PlotMark) -> bool:
    return mark.kind is MarkKind.VALUE


def _shape(mark: PlotMark) -> Iterator[cv.Shape]:
    """Draw what is no dot: a square, or a ring."""
    x, y = mark.x, mark.y
    if mark.kind is MarkKind.OUTSIDE:
        side = 2 * _RADIUS
        yield cv.Rect(x - _RADIUS, y - _RADIUS, side, side, paint=_filled(_INK))
    elif mark.kind is MarkKind.ESTIMATE:
        yield cv.Circle(x, y, _RADIUS, paint=_filled(_GROUND))
        yield cv.Circle(x, y, _RADIUS, paint=_pen(_PEN, _INK))


def _line(
    start: tuple[float, float], end: tuple[float, float], pen: ft.Paint
) -> cv.Line:
    return cv.Line(*start, *end, paint=pen)


def _pen(thickness: float, colour: ft.ColorValue) -> ft.Paint:
    return ft.Paint(color=colour, stroke_width=thickness, style=_STROKE)


def _filled(colour: ft.ColorValue) -> ft.Paint:
    return ft.Paint(color=colour, style=_FILL)


def _text(
    x: float, y: float, words: str, size: float, alignment: ft.Alignment
) -> cv.Text:
    style = ft.TextStyle(size=size, color=_INK)
    return cv.Text(x, y, words, style=style, alignment=alignment)
