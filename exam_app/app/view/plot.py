"""Where the marks, lines and ranges of a value over time stand, in pixels.

A shape says what a mark is: a full circle a value, an open one an estimate, a square a
value outside the ranges compared with it. Each value stands over its own ranges, from
half way to the value before to half way to the next: age, place and state may change.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from enum import StrEnum
from itertools import pairwise

from exam_app.domain.animal.history import PastValue
from exam_app.domain.measure.conversion import plain_number
from exam_app.domain.protocol.limits import Limits

_MOST_TICKS = 4
_STEPS = (Decimal(1), Decimal(2), Decimal(5), Decimal(10))
_LETTER = 0.62
_GAP = 6
HeightOf = Callable[[Decimal], float]


class MarkKind(StrEnum):
    """What a mark stands for; each has its own shape."""

    VALUE = "value"
    ESTIMATE = "estimate"
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True)
class PlotMark:
    """One value, at its middle."""

    x: float
    y: float
    kind: MarkKind


@dataclass(frozen=True, slots=True)
class PlotRange:
    """One published range under the values that were compared with it.

    Attributes:
        edges: Its ends that were printed, as heights; an open one has none.
    """

    left: float
    right: float
    top: float
    bottom: float
    edges: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Plot:
    """A drawing of one series.

    Attributes:
        frame: Left, top, right and bottom of what is drawn on.
        marks: Oldest first; a line joins them.
        heights: Numbers beside the frame, with where they stand.
        dates: Below it, first and last, with where they stand.
    """

    width: float
    height: float
    font: float
    frame: tuple[float, float, float, float]
    marks: tuple[PlotMark, ...]
    ranges: tuple[PlotRange, ...]
    heights: tuple[tuple[float, str], ...]
    dates: tuple[tuple[float, str], ...]

    @property
    def kinds(self) -> tuple[MarkKind, ...]:
        """The kinds of marks on it, each once."""
        return tuple(dict.fromkeys(mark.kind for mark in self.marks))


def plot_of(
    values: Sequence[PastValue], width: float, height: float, font: float
) -> Plot | None:
    """Lay a series out.

    Args:
        values: Oldest first; those that are no numbers are left out.
        width: Of the whole drawing, in pixels.
        height: The same.
        font: Size of its texts.

    Returns:
        ``None`` where there are not two numbers of two moments.
    """
    numbers = [value for value in values if value.number is not None]
    if len({value.at.utc_ms for value in numbers}) < 2:
        return None
    low, high, step = _scale(numbers)
    ticks = [low + step * n for n in range(int((high - low) / step) + 1)]
    words = [plain_number(_plain(tick)) for tick in ticks]
    left = max(map(len, words)) * _LETTER * font + _GAP
    frame = (left, font / 2 + 2, width - _GAP, height - font - 2 * _GAP)
    first, last = numbers[0].at.utc_ms, numbers[-1].at.utc_ms
    across = frame[2] - frame[0] - 2 * _GAP

    def x_of(utc_ms: float) -> float:
        return frame[0] + _GAP + across * (utc_ms - first) / (last - first)

    def y_of(number: Decimal) -> float:
        share = float((number - low) / (high - low))
        return frame[3] - share * (frame[3] - frame[1])

    marks = tuple(
        PlotMark(x_of(value.at.utc_ms), y_of(value.number), _kind(value))
        for value in numbers
        if value.number is not None
    )
    heights = tuple((y_of(tick), word) for tick, word in zip(ticks, words, strict=True))
    ends = (numbers[0], numbers[-1])
    # With large text on a phone two whole dates would lie over each other.
    has_room = 2 * len("2026-11-29") * _LETTER * font < across
    form = "%Y-%m-%d" if has_room else "%Y-%m"
    dates = tuple((x_of(v.at.utc_ms), v.at.local().strftime(form)) for v in ends)
    spans = _spans([mark.x for mark in marks], frame)
    ranges = _ranges(numbers, spans, (frame[1], frame[3]), y_of)
    return Plot(width, height, font, frame, marks, ranges, heights, dates)


def _kind(value: PastValue) -> MarkKind:
    if value.is_outside:
        return MarkKind.OUTSIDE
    return MarkKind.ESTIMATE if value.is_estimate else MarkKind.VALUE


def _plain(number: Decimal) -> Decimal:
    """Return it with no zeros behind, and never with an exponent."""
    whole = number.to_integral_value()
    return whole if number == whole else number.normalize()


def _scale(values: Sequence[PastValue]) -> tuple[Decimal, Decimal, Decimal]:
    """Return both ends of the scale and its step, which hold every value and range."""
    every = [end for value in values for end in _ends(value)]
    low, high = min(every), max(every)
    if low == high:
        low, high = low - 1, high + 1
    rough = (high - low) / _MOST_TICKS
    size = Decimal(10) ** rough.adjusted()
    step = next(size * one for one in _STEPS if size * one >= rough)
    if any(value.scale_id for value in values):
        # There is nothing between two grades.
        step = max(step, Decimal(1))
    start = (low / step).to_integral_value(ROUND_FLOOR) * step
    end = (high / step).to_integral_value(ROUND_CEILING) * step
    return start, end, step


def _ends(value: PastValue) -> Iterable[Decimal]:
    if value.number is not None:
        yield value.number
    for limits in value.ranges:
        yield from (end for end in (limits.low, limits.high) if end is not None)


def _spans(
    places: Sequence[float], frame: tuple[float, ...]
) -> list[tuple[float, float]]:
    """Return from where to where each value's own ranges are drawn."""
    middles = [(one + other) / 2 for one, other in pairwise(places)]
    edges = [frame[0], *middles, frame[2]]
    return list(pairwise(edges))


def _ranges(
    values: Sequence[PastValue],
    spans: Sequence[tuple[float, float]],
    ends: tuple[float, float],
    y_of: HeightOf,
) -> tuple[PlotRange, ...]:
    """Return the ranges; one that holds for neighbours is drawn once."""
    open_: dict[Limits, tuple[float, float]] = {}
    found: list[PlotRange] = []
    for value, (left, right) in zip(values, spans, strict=True):
        now = dict.fromkeys(value.ranges)
        for limits in [one for one in open_ if one not in now]:
            found.append(_range(limits, open_.pop(limits), ends, y_of))
        for limits in now:
            open_[limits] = (open_.get(limits, (left, right))[0], right)
    found += [_range(limits, span, ends, y_of) for limits, span in open_.items()]
    return tuple(found)


def _range(
    limits: Limits,
    span: tuple[float, float],
    ends: tuple[float, float],
    y_of: HeightOf,
) -> PlotRange:
    top = ends[0] if limits.high is None else y_of(limits.high)
    bottom = ends[1] if limits.low is None else y_of(limits.low)
    printed = ((top, limits.high), (bottom, limits.low))
    edges = tuple(place for place, end in printed if end is not None)
    return PlotRange(*span, top, bottom, edges)
