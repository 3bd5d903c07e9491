"""How single values are spelled: ids, hashes, people, times, taps, decimals, words.

Every spelling is undone exactly, or refused. What stands for a person or a time inside
an exam is short because the exam names its people and its start once.
"""

import re
from dataclasses import dataclass, field
from decimal import Decimal
from enum import Enum
from itertools import accumulate, pairwise
from typing import Any

from exam_app.domain.moments import Moment
from exam_app.record.errors import CannotBeWrittenError, NotARecordError
from exam_app.record.plain_form import read_decimal
from exam_app.record.schema import WORD_ORDER, Form

# The last day that can be shown at any offset.
LAST_MOMENT = 253_402_214_400_000
_LARGEST_OFFSET = 1_439
_HEX = re.compile(r"[0-9a-f]*", re.ASCII)
_ORIGIN = re.compile(r"(region:.*:)([0-9a-f]{32})", re.ASCII | re.DOTALL)
_LENGTHS = {Form.ID: 16, Form.HASH: 32}


@dataclass(slots=True)
class Surroundings:
    """What an exam says once, and what a reader did not know.

    Attributes:
        started: The exam's start; ``None`` outside an exam.
        starter: ``person_id`` of the one who started it.
        people: ``person_id`` of each person it names, in its order.
        unknown: Fields that are not in the table, by path; filled while reading.
    """

    started: Moment | None = None
    starter: str = ""
    people: tuple[str, ...] = ()
    unknown: dict[str, object] = field(default_factory=dict)


def write_form(form: Form, value: Any, around: Surroundings) -> object:  # noqa: ANN401
    """Return a value in a special form.

    Raises:
        CannotBeWrittenError: It does not fit the form.
    """
    if form is Form.PERSON and value in around.people:
        return around.people.index(value)
    if form is Form.ABSOLUTE:
        return [_checked_time(value).utc_ms, value.offset_min]
    if form is Form.STEPS:
        steps = [later - earlier for earlier, later in pairwise(value)]
        return [*value[:1], *steps]
    if form is Form.ORIGIN:
        match = _ORIGIN.fullmatch(value)
        return [match[1], bytes.fromhex(match[2])] if match else value
    return _from_hex(value, _LENGTHS.get(form, 16))


def read_form(form: Form, value: Any, around: Surroundings) -> object:  # noqa: ANN401
    """Return what a special form stands for.

    Raises:
        NotARecordError: It is not in that form.
    """
    if form is Form.PERSON and type(value) is int:
        if not 0 <= value < len(around.people):
            raise NotARecordError("it names a person who is not listed")
        return around.people[value]
    if form is Form.ABSOLUTE:
        return _time_of(value, Moment(0))
    if form is Form.STEPS:
        return tuple(accumulate(_integers(value)))
    if form is Form.ORIGIN:
        return _read_origin(value)
    length = _LENGTHS.get(form, 16)
    if not isinstance(value, bytes) or len(value) != length:
        raise NotARecordError(f"an id or hash is not {length} bytes")
    return value.hex()


def write_moment(moment: Moment, around: Surroundings) -> object:
    """Return a time as milliseconds after the start, with its offset if another."""
    start = around.started or Moment(0)
    after = _checked_time(moment).utc_ms - start.utc_ms
    is_same_place = moment.offset_min == start.offset_min
    return after if is_same_place else [after, moment.offset_min]


def read_moment(value: Any, around: Surroundings) -> Moment:  # noqa: ANN401
    """Return the time that stands so long after the start."""
    start = around.started or Moment(0)
    return _time_of([value, start.offset_min] if type(value) is int else value, start)


def write_scalar(value: Any) -> object:  # noqa: ANN401
    """Return a text, number or word in its ordinary spelling."""
    if isinstance(value, Enum):
        return WORD_ORDER[type(value)].index(value)
    if isinstance(value, Decimal):
        text = str(value)
        try:
            read_decimal(text)
        except ValueError as error:
            raise CannotBeWrittenError("an impossible number") from error
        return text
    return value


def read_scalar(kind: type, value: Any) -> object:  # noqa: ANN401
    """Return the text, number or word that a spelling stands for."""
    if issubclass(kind, Enum):
        words = WORD_ORDER[kind]
        if type(value) is not int or not 0 <= value < len(words):
            raise NotARecordError(f"no word of {kind.__name__}")
        return words[value]
    if kind is Decimal:
        try:
            return read_decimal(value)
        except (ValueError, TypeError) as error:
            raise NotARecordError("an impossible number") from error
    if type(value) is not kind:
        raise NotARecordError(f"no {kind.__name__} where one belongs")
    return value


def _checked_time(moment: Moment) -> Moment:
    if (
        not 0 <= moment.utc_ms <= LAST_MOMENT
        or abs(moment.offset_min) > _LARGEST_OFFSET
    ):
        raise CannotBeWrittenError("an impossible time")
    return moment


def _time_of(value: object, start: Moment) -> Moment:
    after, offset = _integers(value, length=2)
    try:
        return _checked_time(Moment(start.utc_ms + after, offset))
    except CannotBeWrittenError as error:
        raise NotARecordError(error.reason) from error


def _integers(value: object, length: int | None = None) -> list[int]:
    is_list = isinstance(value, list) and length in {None, len(value)}
    if not is_list or not isinstance(value, list):
        raise NotARecordError("a list of integers is missing")
    if any(type(part) is not int for part in value):
        raise NotARecordError("a list of integers holds something else")
    return value


def _from_hex(text: str, length: int) -> bytes:
    if len(text) != length * 2 or not _HEX.fullmatch(text):
        raise CannotBeWrittenError(f"an id or hash is not {length} bytes in hex")
    return bytes.fromhex(text)


def _read_origin(value: object) -> str:
    if isinstance(value, str):
        return value
    match value:
        case [str(prefix), bytes(identity)] if len(identity) == 16:
            return prefix + identity.hex()
    raise NotARecordError("an urgent sign has no origin")
