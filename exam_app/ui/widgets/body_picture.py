"""One view of an animal, drawn; a part's state stands in hatching and a sign.

Open parts are plain, answered ones lightly hatched, those with a finding hatched both
ways with an exclamation mark: nothing is said by colour alone. A mark is a disc with
its number; one of an earlier record a square on its corner with a thin broken line; one
that is only proposed a ring.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import chain
from math import ceil

import flet as ft
import flet.canvas as cv

from exam_app.app.view.body_presenter import Mark
from exam_app.app.view.mark_presenter import ShownMark
from exam_app.domain.animal.body_drawing import (
    WIDTH,
    Area,
    BodyView,
    Curve,
    Point,
    hatching,
)
from exam_app.domain.animal.body_marks import BodyMark
from exam_app.language.catalogue import tr
from exam_app.ui.shell.theme import CONTROL_HEIGHT

_GROUND, _INK = ft.Colors.SURFACE, ft.Colors.ON_SURFACE
_WIDE_GAP, _NARROW_GAP = 11, 6
_QUIET = ft.Colors.ON_SURFACE_VARIANT
_SIGN_SIZE = 20
_CAPTION_SIZE, _LETTER = 12, 0.55
MARK_SIZE = 24
_CROSS = 18
# What a sheet's own frame and margin take of the window.
_FRAME = 56
# Beyond the edge, so that the mask leaves no line of what it covers.
_EDGE = 8


def width_within(
    across: float, down: float, views: Sequence[BodyView], limits: tuple[int, int]
) -> int:
    """Return how wide views are drawn that stand below each other, unscrolled.

    Args:
        across: The window's width, in pixels as the width returned.
        down: Height that is left for them.
        views: From above to below.
        limits: The narrowest and the widest.
    """
    room = down * WIDTH / sum(view.height for view in views)
    narrowest, widest = limits
    return int(max(narrowest, min(widest, across - _FRAME, room)))


def body_picture(
    view: BodyView,
    width: float,
    marks: Mapping[str, Mark],
    touched: Callable[[str], None],
    taken: Callable[[str], None],
    placed: Sequence[ShownMark] = (),
) -> ft.Control:
    """Draw a view and say which part a finger means.

    Args:
        view: What is drawn.
        width: In pixels; the height follows.
        marks: The state of each part and side; one that is missing takes no tap.
        touched: Called with the part and side under the finger, or with nothing.
        taken: Called with it when the finger is lifted there.
        placed: Marks of findings on this view.
    """
    meant = ""

    def down(event: ft.TapEvent[ft.GestureDetector]) -> None:
        nonlocal meant
        at = event.local_position
        place = view.from_pixels((at.x, at.y), width) if at else (-WIDTH, -WIDTH)
        meant = view.hit(place, CONTROL_HEIGHT * WIDTH / width, marks.keys())
        touched(meant)

    def tapped() -> None:
        if meant:
            taken(meant)

    shapes = (*_shapes(view, width, marks), *_marks(view, width, placed))
    drawn = _canvas(view, width, shapes)
    return ft.GestureDetector(
        content=drawn,
        on_tap_down=down,
        on_tap=tapped,
        exclude_from_semantics=True,
        mouse_cursor=ft.MouseCursor.CLICK,
    )


def marked_picture(
    view: BodyView,
    width: float,
    placed: Sequence[ShownMark],
    proposed: BodyMark | None = None,
    cross: Point | None = None,
) -> cv.Canvas:
    """Draw a view with the marks on it, its parts without their states.

    Args:
        view: What is drawn.
        width: In pixels; the height follows.
        placed: Marks of findings on this view.
        proposed: A place that was tapped and is not recorded.
        cross: A place that is gone to by keys; it has a frame around the drawing too.
    """
    if view.is_closer:
        shapes = [*_closer_shapes(view, width)]
    else:
        plain = dict.fromkeys((area.key for area in view.areas), Mark.OPEN)
        shapes = [*_shapes(view, width, plain)]
    shapes += _marks(view, width, placed)
    if proposed is not None and view.name in proposed.drawings:
        shapes += _proposed(proposed, *view.at_pixels(proposed.point(view), width))
    if cross is not None:
        shapes += _cross(view, width, *view.at_pixels(cross, width))
    return _canvas(view, width, shapes)


def _canvas(view: BodyView, width: float, shapes: Iterable[cv.Shape]) -> cv.Canvas:
    # Whole pixels: on half of one, the clip lets lines through below the mask.
    height = ceil(view.height * width / WIDTH)
    return cv.Canvas(shapes=[*shapes], width=width, height=height)


def _marks(
    view: BodyView, width: float, placed: Sequence[ShownMark]
) -> Iterator[cv.Shape]:
    for one in placed:
        x, y = view.at_pixels(one.mark.point(view), width)
        yield from (_earlier if one.is_earlier else _own)(one.mark, x, y)


def _own(mark: BodyMark, x: float, y: float) -> Iterator[cv.Shape]:
    yield cv.Circle(x, y, MARK_SIZE / 2 + 2, paint=ft.Paint(color=_GROUND))
    yield cv.Circle(x, y, MARK_SIZE / 2, paint=ft.Paint(color=_INK))
    yield _number(mark, x, y, _GROUND, ft.FontWeight.W_700)


def _earlier(mark: BodyMark, x: float, y: float) -> Iterator[cv.Shape]:
    reach = MARK_SIZE * 0.72
    corners = ((x, y - reach), (x + reach, y), (x, y + reach), (x - reach, y))
    edge: list[cv.Path.PathElement] = [cv.Path.MoveTo(*corners[0])]
    edge += [cv.Path.LineTo(*corner) for corner in corners[1:]]
    edge.append(cv.Path.Close())
    yield _path(edge, ft.Paint(color=_GROUND, style=_FILL))
    broken = _pen(1.2, _QUIET)
    broken.stroke_dash_pattern = [4, 3]
    yield _path(edge, broken)
    yield _number(mark, x, y, _QUIET, ft.FontWeight.W_400)


def _proposed(mark: BodyMark, x: float, y: float) -> Iterator[cv.Shape]:
    yield cv.Circle(x, y, MARK_SIZE / 2 + 3, paint=ft.Paint(color=_GROUND))
    yield cv.Circle(x, y, MARK_SIZE / 2 + 2, paint=_pen(3))
    yield _number(mark, x, y, _INK, ft.FontWeight.W_700)


def _number(
    mark: BodyMark, x: float, y: float, colour: ft.ColorValue, weight: ft.FontWeight
) -> cv.Text:
    size = MARK_SIZE * (0.62 if mark.number < 100 else 0.4)
    style = ft.TextStyle(size=size, weight=weight, color=colour)
    return cv.Text(x, y, str(mark.number), style=style, alignment=ft.Alignment.CENTER)


def _shapes(
    view: BodyView, width: float, marks: Mapping[str, Mark]
) -> Iterator[cv.Shape]:
    scale = width / WIDTH
    asked = [area for area in view.areas if area.key in marks]
    for area in asked:
        if not area.is_whole:
            yield from _area(area, scale, marks[area.key])
    yield _path(_mask(view, scale), ft.Paint(color=_GROUND, style=_FILL))
    yield _path(_elements(view.outline, scale), _pen(2.5))
    for line in view.lines:
        yield _path(_elements(line, scale), _pen(1.2))
    for area in asked:
        if area.is_whole:
            yield from _area(area, scale, marks[area.key])
    for area in asked:
        if marks[area.key] is Mark.FINDING:
            yield from _sign(*view.at_pixels(area.label, width))


def _closer_shapes(view: BodyView, width: float) -> Iterator[cv.Shape]:
    scale = width / WIDTH
    for line in view.lines:
        yield _path(_elements(line, scale), _pen(1.2))
    inside = (spot for spot in view.spots if not spot.is_whole)
    yield from _spots(inside, scale)
    yield _path(_elements(view.outline, scale), _pen(2.5))
    yield from _spots((spot for spot in view.spots if spot.is_whole), scale)
    style = ft.TextStyle(size=_CAPTION_SIZE, color=_QUIET)
    for said, place in view.captions:
        words = tr(said)
        x, y = view.at_pixels(place, width)
        # On a narrow drawing whole, and nearer to what it stands beside.
        half = len(words) * _CAPTION_SIZE * _LETTER / 2
        x = min(width - half, max(half, x))
        yield cv.Text(x, y, words, style=style, alignment=ft.Alignment.CENTER)


def _spots(spots: Iterable[Area], scale: float) -> Iterator[cv.Shape]:
    for shape in (shape for spot in spots for shape in spot.shapes):
        elements = _elements(shape, scale)
        yield _path(elements, ft.Paint(color=_GROUND, style=_FILL))
        yield _path(elements, _pen(1.5))


def _cross(view: BodyView, width: float, x: float, y: float) -> Iterator[cv.Shape]:
    """Draw four arms around a place, and the frame that says where the keys are."""
    near, far = _CROSS / 4, _CROSS
    for thickness, colour in ((6, _GROUND), (3, ft.Colors.PRIMARY)):
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            ends = (x + dx * near, y + dy * near, x + dx * far, y + dy * far)
            yield cv.Line(*ends, paint=_pen(thickness, colour))
    frame = _pen(2, ft.Colors.PRIMARY)
    yield cv.Rect(1, 1, width - 2, view.height * width / WIDTH - 2, paint=frame)


_FILL = ft.PaintingStyle.FILL


def _pen(thickness: float, colour: ft.ColorValue = _INK) -> ft.Paint:
    return ft.Paint(
        color=colour,
        stroke_width=thickness,
        style=ft.PaintingStyle.STROKE,
        stroke_join=ft.StrokeJoin.ROUND,
    )


def _path(elements: list[cv.Path.PathElement], paint: ft.Paint) -> cv.Path:
    return cv.Path(elements=elements, paint=paint)


def _elements(curve: Curve, scale: float) -> list[cv.Path.PathElement]:
    x, y = curve.points[0]
    found: list[cv.Path.PathElement] = [cv.Path.MoveTo(x * scale, y * scale)]
    for points in curve.spans:
        found.append(cv.Path.CubicTo(*(v * scale for v in chain(*points))))
    if curve.is_closed:
        found.append(cv.Path.Close())
    return found


def _mask(view: BodyView, scale: float) -> list[cv.Path.PathElement]:
    """Return the whole view but for the animal: the two run against each other."""
    curve = view.outline if view.outline.turns < 0 else view.outline.reversed()
    far, low = WIDTH * scale + _EDGE, view.height * scale + _EDGE
    around: list[cv.Path.PathElement] = [cv.Path.MoveTo(-_EDGE, -_EDGE)]
    around += [cv.Path.LineTo(far, -_EDGE), cv.Path.LineTo(far, low)]
    around += [cv.Path.LineTo(-_EDGE, low), cv.Path.Close()]
    return around + _elements(curve, scale)


def _area(area: Area, scale: float, mark: Mark) -> Iterator[cv.Shape]:
    for shape in area.shapes:
        elements = _elements(shape, scale)
        yield _path(elements, ft.Paint(color=_GROUND, style=_FILL))
        if mark is Mark.ANSWERED:
            yield _hatched(shape, scale, _WIDE_GAP, ft.Colors.PRIMARY, falls=False)
        elif mark is Mark.FINDING:
            for falls in (False, True):
                yield _hatched(shape, scale, _NARROW_GAP, ft.Colors.ERROR, falls=falls)
        is_edge = area.is_whole
        yield _path(elements, _pen(2.5 if is_edge else 1, _INK if is_edge else _LINE))


_LINE = ft.Colors.OUTLINE


def _hatched(
    shape: Curve, scale: float, gap: float, colour: ft.ColorValue, *, falls: bool
) -> cv.Points:
    ends = chain.from_iterable(hatching(shape, gap / scale, falls=falls))
    return cv.Points(
        points=[ft.Offset(x * scale, y * scale) for x, y in ends],
        point_mode=cv.PointMode.LINES,
        paint=_pen(1.2, colour),
    )


def _sign(x: float, y: float) -> Iterator[cv.Shape]:
    yield cv.Circle(x, y, _SIGN_SIZE / 2, paint=ft.Paint(color=ft.Colors.ERROR))
    style = ft.TextStyle(
        size=_SIGN_SIZE * 0.8, weight=ft.FontWeight.W_700, color=ft.Colors.ON_ERROR
    )
    yield cv.Text(x, y, "!", style=style, alignment=ft.Alignment.CENTER)
