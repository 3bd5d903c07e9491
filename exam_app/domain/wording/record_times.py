"""How the times of one record are written: its offset once, or each with its own.

A record whose times were all noted at one offset from UTC says it in its title and
nowhere else. In any other, each time carries its own, or two of them would read alike.
What a record states of an item is compared with later answers and with signed
corrections, and is written as it always was: ``AS_STATED``.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from functools import cache

from exam_app.domain.exam.exam import Exam
from exam_app.domain.moments import Moment
from exam_app.language.catalogue import tr

_DAY_AND_TIME = "%Y-%m-%d %H:%M"


@dataclass(frozen=True, slots=True)
class TimeStyle:
    """Which times carry their offset.

    Attributes:
        on_dates: Those written with their date.
        on_clocks: Those of which only the time of day is written.
    """

    on_dates: bool = True
    on_clocks: bool = False

    def full(self, moment: Moment) -> str:
        """Write date and time, as ``2026-11-25 09:30`` or with `` +02:00`` behind."""
        if self.on_dates:
            return moment.date_and_time()
        return f"{moment.local():{_DAY_AND_TIME}}"

    def clock(self, moment: Moment) -> str:
        """Write the time of day, as ``09:30`` or ``09:30 +02:00``."""
        offset = f" {offset_of(moment)}" if self.on_clocks else ""
        return f"{moment.clock()}{offset}"

    def near(self, moment: Moment, other: Moment) -> str:
        """Write the time of day, with the date where that is not the other's day."""
        local = moment.local()
        if local.date() == other.local().date():
            return self.clock(moment)
        offset = f" {offset_of(moment)}" if self.on_clocks else ""
        return f"{local:{_DAY_AND_TIME}}{offset}"


AS_STATED = TimeStyle()
_ONCE = TimeStyle(on_dates=False, on_clocks=False)
_EACH = TimeStyle(on_dates=True, on_clocks=True)


def style_of(exam: Exam) -> TimeStyle:
    """Return how a record's times are written, from all that it holds."""
    return _ONCE if len({one.offset_min for one in _moments(exam)}) == 1 else _EACH


def noted_at(exam: Exam, style: TimeStyle) -> str:
    """Say for the title at which offset all times were noted; empty where not said."""
    if style.on_dates:
        return ""
    return tr(", times noted at UTC{offset}", offset=offset_of(exam.started))


def offset_of(moment: Moment) -> str:
    """Return the offset a time was noted at, as ``+02:00``."""
    return moment.date_and_time().rpartition(" ")[2]


def _moments(value: object) -> Iterator[Moment]:
    if isinstance(value, Moment):
        yield value
        return
    for one in _parts(value):
        yield from _moments(one)


def _parts(value: object) -> Iterable[object]:
    if value is None or isinstance(value, str):
        return ()
    if isinstance(value, Mapping):
        return value.values()
    if isinstance(value, tuple | list | frozenset):
        return value
    if is_dataclass(value):
        kind: type = type(value)
        return [getattr(value, name) for name in _names(kind)]
    return ()


@cache
def _names(of: type) -> tuple[str, ...]:
    return tuple(known.name for known in fields(of))
