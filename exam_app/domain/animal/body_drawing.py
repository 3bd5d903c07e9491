"""The drawing of an animal: its views, the areas of its parts, and what a tap hits.

Lengths are thousandths of a view's width, both ways: x runs from 0 to 1000 from left to
right, y from 0 to the view's height downwards. Whatever is kept at a place on the
drawing is kept in these, so it holds for a screen of any size.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from math import hypot

WIDTH = 1000
# Why the skin has no area of its own.
ALL_OVER = "all over"
Point = tuple[float, float]
Segment = tuple[Point, Point]
# A curve is followed in so many straight steps from one point to the next.
_STEPS = 6


@dataclass(frozen=True)
class Curve:
    """A line through points: round at each, but for those that are corners.

    Attributes:
        points: At least two; at least three where the curve is closed.
        corners: Places in ``points`` of those that are corners.
        is_closed: Whether the last point is joined to the first.
    """

    points: tuple[Point, ...]
    corners: frozenset[int] = frozenset()
    is_closed: bool = True

    @cached_property
    def spans(self) -> tuple[tuple[Point, Point, Point], ...]:
        """Return a cubic Bezier piece for each step: two control points and the end."""
        count = len(self.points)
        last = count if self.is_closed else count - 1
        return tuple(self._span(at, (at + 1) % count) for at in range(last))

    def _span(self, at: int, to: int) -> tuple[Point, Point, Point]:
        (x, y), (to_x, to_y) = self.points[at], self.points[to]
        third = hypot(to_x - x, to_y - y) / 3
        out_x, out_y = self._direction(at, (to_x - x, to_y - y))
        in_x, in_y = self._direction(to, (to_x - x, to_y - y))
        return (
            (x + out_x * third, y + out_y * third),
            (to_x - in_x * third, to_y - in_y * third),
            (to_x, to_y),
        )

    def _direction(self, at: int, along: Point) -> Point:
        """Return where the line goes at a point, as a vector of length one."""
        count = len(self.points)
        is_end = not self.is_closed and at in (0, count - 1)
        if not is_end and at not in self.corners:
            before, after = self.points[at - 1], self.points[(at + 1) % count]
            along = (after[0] - before[0], after[1] - before[1])
        length = hypot(*along) or 1
        return along[0] / length, along[1] / length

    @cached_property
    def steps(self) -> tuple[Point, ...]:
        """Return the line as short straight steps, from its first point on."""
        found, here = [self.points[0]], self.points[0]
        for one, two, end in self.spans:
            for step in range(1, _STEPS + 1):
                found.append(_on_span(here, one, two, end, step / _STEPS))
            here = end
        return tuple(found)

    def contains(self, point: Point) -> bool:
        """Whether a point lies inside this closed line."""
        x, y = point
        is_inside = False
        for (ax, ay), (bx, by) in pairwise(self.steps):
            if (ay > y) != (by > y) and x < ax + (bx - ax) * (y - ay) / (by - ay):
                is_inside = not is_inside
        return is_inside

    def distance(self, point: Point) -> float:
        """Return how far a point lies from the line itself."""
        return min(_distance(point, one) for one in pairwise(self.steps))

    @cached_property
    def size(self) -> Point:
        """Return the width and the height that the line takes."""
        across, down = zip(*self.steps, strict=True)
        return max(across) - min(across), max(down) - min(down)

    @property
    def turns(self) -> float:
        """Return twice the area inside, negative where the line runs the other way."""
        steps = self.steps
        return sum(ax * by - bx * ay for (ax, ay), (bx, by) in pairwise(steps))

    def reversed(self) -> "Curve":
        """Return the same line run through the other way."""
        last = len(self.points) - 1
        corners = frozenset(last - at for at in self.corners)
        return Curve(self.points[::-1], corners, self.is_closed)

    def mirrored(self) -> "Curve":
        """Return the line as a mirror shows it."""
        points = tuple((WIDTH - x, y) for x, y in self.points)
        return Curve(points, self.corners, self.is_closed)


@dataclass(frozen=True)
class Area:
    """Where a part, or one side of it, is on a view.

    Attributes:
        key: The part and its side, as ``eyes.left``.
        shapes: One closed line, or several where the part is seen in pieces.
        label: A place that shows the part and nothing of another.
        is_far: Whether it is a limb of the other side, seen behind the near one.
        is_whole: Whether it is drawn as it is, beyond the body's outline too.
    """

    key: str
    shapes: tuple[Curve, ...]
    label: Point
    is_far: bool = False
    is_whole: bool = False

    def contains(self, point: Point) -> bool:
        """Whether a point lies in it."""
        return any(shape.contains(point) for shape in self.shapes)

    def distance(self, point: Point) -> float:
        """Return how far a point lies outside; nothing inside."""
        if self.contains(point):
            return 0
        return min(shape.distance(point) for shape in self.shapes)

    @cached_property
    def short_side(self) -> float:
        """Return the smaller of the width and the height of its largest piece."""
        return max(min(shape.size) for shape in self.shapes)


@dataclass(frozen=True)
class BodyView:
    """One drawing of an animal.

    Attributes:
        name: ``left``, ``right``, ``top``, ``under``, or ``left_head`` and
            ``right_head``, which are closer; of a closer drawing of a part as
            ``body_marks.closer_name`` says it.
        height: In thousandths of its width.
        outline: Closed line around the animal; only areas that are whole go beyond.
        lines: Further lines that belong to no part.
        areas: From the lowest to the one that lies over all others.
        words: Of a closer drawing, as ``outer side of the left fore foot``.
        spots: What a closer drawing shows, as a pad or a tooth: drawn, and named
            while a place is chosen; its ``key`` is its name.
        bands: Names from above to below, each with the height down to which it
            holds where there is no spot.
        captions: Words beside the drawing, as ``outer``, and where they stand.
    """

    name: str
    height: int
    outline: Curve
    lines: tuple[Curve, ...] = ()
    areas: tuple[Area, ...] = field(default=())
    words: str = ""
    spots: tuple[Area, ...] = ()
    bands: tuple[tuple[str, float], ...] = ()
    captions: tuple[tuple[str, Point], ...] = ()

    @property
    def is_closer(self) -> bool:
        """Whether it shows one part of the animal and not all of it."""
        return bool(self.words)

    def spot_at(self, point: Point) -> str:
        """Name what a closer drawing shows at a place; empty where it has no name."""
        on_it = (one.key for one in reversed(self.spots) if one.contains(point))
        along = (name for name, low in self.bands if point[1] <= low)
        inside = along if self.outline.contains(point) else iter(())
        return next(on_it, next(inside, ""))

    def area(self, key: str) -> Area | None:
        """Return the area of a part and side, if this view shows it."""
        return next((area for area in self.areas if area.key == key), None)

    def at_pixels(self, point: Point, width: float) -> Point:
        """Return where a place of the drawing stands when it is ``width`` wide."""
        return point[0] * width / WIDTH, point[1] * width / WIDTH

    def from_pixels(self, pixel: Point, width: float) -> Point:
        """Return the place of the drawing at a pixel: the other way round."""
        return pixel[0] * WIDTH / width, pixel[1] * WIDTH / width

    def hit(self, point: Point, finger: float, keys: Collection[str]) -> str:
        """Return the part and side that a finger means, or nothing.

        A part that is smaller than the finger takes the taps around it too, up to
        the finger's size; of two such the nearer. Otherwise the part under the tap
        is meant, and just outside the animal the nearest one. An area that reaches
        beyond the outline takes no tap further from it than half a finger.

        Args:
            point: The middle of the tap.
            finger: Its width, in thousandths of the view.
            keys: What this exam can answer; anything else lies under nothing.
        """
        is_near = self.outline.contains(point) or (
            self.outline.distance(point) <= finger / 2
        )
        asked = [
            area
            for area in self.areas
            if area.key in keys and (is_near or area.is_whole)
        ]
        on_it = self._topmost(point, asked)
        if on_it is not None and on_it.short_side < finger:
            return on_it.key
        around = [
            (area.distance(point), area)
            for area in asked
            if area.short_side < finger and not area.is_far
        ]
        grown = [
            (away, area.key)
            for away, area in around
            if away <= (finger - area.short_side) / 2
        ]
        if grown:
            return min(grown)[1]
        if on_it is not None:
            return on_it.key
        near = [(area.distance(point), area.key) for area in asked]
        close = [(away, key) for away, key in near if away <= finger / 2]
        return min(close, default=(0, ""))[1]

    def parts_at(
        self, point: Point, finger: float, keys: Collection[str]
    ) -> tuple[str, ...]:
        """Return every part and side that lies under a tap, the one meant first.

        A limb of the other side that is seen behind is none: its own view shows it.

        Args:
            point: The middle of the tap.
            finger: Its width, in thousandths of the view.
            keys: What this exam can answer.
        """
        near = {area.key for area in self.areas if not area.is_far} & {*keys}
        meant = self.hit(point, finger, near)
        if not meant:
            return ()
        is_inside = self.outline.contains(point)
        below = (
            area.key
            for area in reversed(self.areas)
            if area.key in near
            and (is_inside or area.is_whole)
            and area.contains(point)
        )
        return tuple(dict.fromkeys((meant, *below)))

    def is_on(self, point: Point, finger: float) -> bool:
        """Whether a place is on the animal, or a quarter of a finger beside it at most.

        What is drawn beyond the outline, as an ear, belongs to the animal.
        """
        if self.outline.contains(point) or self.outline.distance(point) <= finger / 4:
            return True
        whole = (area for area in self.areas if area.is_whole)
        spots = (spot for spot in self.spots if spot.is_whole)
        return any(one.contains(point) for one in (*whole, *spots))

    def _topmost(self, point: Point, asked: list[Area]) -> Area | None:
        is_inside = self.outline.contains(point)
        shown = (area for area in reversed(asked) if is_inside or area.is_whole)
        return next((area for area in shown if area.contains(point)), None)


@dataclass(frozen=True, slots=True)
class Body:
    """The drawings of one species.

    Attributes:
        views: By name; see ``BodyView``.
        not_drawn: Parts that no view shows, each with the reason.
        closer: The closer drawings by name.
        closer_of: Their names by the part and side that they show, as ``mouth``.
    """

    species: str
    views: dict[str, BodyView]
    not_drawn: dict[str, str]
    closer: dict[str, BodyView] = field(default_factory=dict)
    closer_of: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def drawing(self, name: str) -> BodyView | None:
        """Return a view of the whole body, or a closer one, if there is one."""
        return self.views.get(name) or self.closer.get(name)

    @property
    def everywhere(self) -> tuple[str, ...]:
        """Return the parts that no area shows since they are all over the animal."""
        return tuple(part for part, why in self.not_drawn.items() if why == ALL_OVER)


def hatching(curve: Curve, gap: float, *, falls: bool) -> Iterator[Segment]:
    """Yield slanting lines inside a closed curve, ``gap`` apart along each axis.

    Args:
        falls: Whether they run down from left to right, and not up.
    """
    lean = 1 if falls else -1
    sums = [y - lean * x for x, y in curve.steps]
    level = (min(sums) // gap + 1) * gap
    while level < max(sums):
        crossed = sorted(_crossings(curve, level, lean))
        for one, two in zip(crossed[::2], crossed[1::2], strict=False):
            yield (one, level + lean * one), (two, level + lean * two)
        level += gap


def _crossings(curve: Curve, level: float, lean: int) -> Iterator[float]:
    for (ax, ay), (bx, by) in pairwise(curve.steps):
        here, there = ay - lean * ax - level, by - lean * bx - level
        if (here > 0) != (there > 0):
            yield ax + (bx - ax) * here / (here - there)


def _on_span(here: Point, one: Point, two: Point, end: Point, share: float) -> Point:
    left = 1 - share
    weights = (left**3, 3 * left**2 * share, 3 * left * share**2, share**3)
    points = (here, one, two, end)
    x = sum(weight * point[0] for weight, point in zip(weights, points, strict=True))
    y = sum(weight * point[1] for weight, point in zip(weights, points, strict=True))
    return x, y


def _distance(point: Point, segment: Segment) -> float:
    (ax, ay), (bx, by) = segment
    dx, dy = bx - ax, by - ay
    length = dx * dx + dy * dy
    share = ((point[0] - ax) * dx + (point[1] - ay) * dy) / length if length else 0
    share = min(1, max(0, share))
    return hypot(point[0] - ax - share * dx, point[1] - ay - share * dy)
