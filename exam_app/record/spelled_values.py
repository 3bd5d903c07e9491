"""How single values are spelled: ids, hashes, people, times, taps, decimals, words.

Every spelling is undone exactly, or refused. What stands for a person or a time inside
an exam is short because the exam names its people and its start once.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from enum import Enum
from functools import partial
from typing import Any

from exam_app.domain.moments import Moment
from exam_app.record.errors import CannotBeWrittenError, NotARecordError
from exam_app.record.plain_form import read_decimal
from exam_app.record.schema import WORD_ORDER
from exam_app.record.unfrozen import unfrozen_twin
from exam_app.record.vocabulary import Vocabulary

ID_LENGTH, HASH_LENGTH = 16, 32
# The last day that can be shown at any offset.
LAST_MOMENT = 253_402_214_400_000
_LARGEST_OFFSET = 1_439
_HEX = re.compile(r"[0-9a-f]*", re.ASCII)
_UNFROZEN_MOMENT = unfrozen_twin(Moment)


@dataclass(slots=True)
class Surroundings:
    """What an exam says once, and what a reader did not know.

    Attributes:
        started: The exam's start; ``None`` outside an exam.
        starter: ``person_id`` of the one who started it.
        people: ``person_id`` of each person it names, in its order.
        vocabulary: Words written as numbers; ``None`` spells every word out.
        key: The region or vital being written or read.
        unknown: Fields that are not in the table, by path; filled while reading.
        at: Names and places from the outermost value to the one that is being read.
    """

    started: Moment | None = None
    starter: str = ""
    people: tuple[str, ...] = ()
    vocabulary: Vocabulary | None = None
    key: str = ""
    unknown: dict[str, object] = field(default_factory=dict)
    at: list[str | int] = field(default_factory=list)

    def path(self) -> str:
        """Return where in the record is being read; empty for the outermost value."""
        return "".join(f"/{name}" for name in self.at)


def write_text(text: str, around: Surroundings) -> int | str:
    """Return a text as its number in the vocabulary, if it has one."""
    return around.vocabulary.write_text(text) if around.vocabulary else text


def read_text(value: object, around: Surroundings) -> str:
    """Return a text, also one written as a number."""
    if type(value) is str:
        return value
    words = around.vocabulary
    if type(value) is int and words:
        # One call less for what stands a hundred times in a record.
        texts = words.texts
        return texts[value] if 0 <= value < len(texts) else words.read_text(value)
    raise NotARecordError("no text where one belongs")


def write_moment(moment: Moment, around: Surroundings) -> object:
    """Return a time as milliseconds after the start, with its offset if another."""
    start = around.started or Moment(0)
    after = checked_time(moment).utc_ms - start.utc_ms
    is_same_place = moment.offset_min == start.offset_min
    return after if is_same_place else [after, moment.offset_min]


def read_moment(value: Any, around: Surroundings) -> Moment:  # noqa: ANN401
    """Return the time that stands so long after the start."""
    start = around.started or Moment(0)
    if type(value) is int and 0 <= start.utc_ms + value <= LAST_MOMENT:
        made = _UNFROZEN_MOMENT()
        made.utc_ms, made.offset_min = start.utc_ms + value, start.offset_min
        made.__class__ = Moment
        return made  # type: ignore[no-any-return]
    return time_of([value, start.offset_min] if type(value) is int else value, start)


def write_scalar(value: Any, around: Surroundings) -> object:  # noqa: ANN401
    """Return a text, number or word in its ordinary spelling."""
    if isinstance(value, Enum):
        return WORD_ORDER[type(value)].index(value)
    if isinstance(value, str):
        return write_text(value, around)
    if isinstance(value, Decimal):
        text = str(value)
        try:
            read_decimal(text)
        except ValueError as error:
            raise CannotBeWrittenError("an impossible number") from error
        return text
    return value


def scalar_reader(kind: type) -> Callable[[Any, Surroundings], object]:
    """Return what gives the text, number or word that a spelling stands for."""
    if kind is str:
        return read_text
    if issubclass(kind, Enum):
        return _word_reader(WORD_ORDER[kind])
    if kind is Decimal:
        return _read_number
    return partial(_read_as_it_is, kind)


def _word_reader(words: tuple[Enum, ...]) -> Callable[[Any, Surroundings], Enum]:
    count = len(words)

    def read(value: object, _: Surroundings) -> Enum:
        if type(value) is int and 0 <= value < count:
            return words[value]
        raise NotARecordError(f"no word of {type(words[0]).__name__}")

    return read


def _read_number(value: Any, _: Surroundings) -> Decimal:  # noqa: ANN401
    try:
        return read_decimal(value)
    except (ValueError, TypeError) as error:
        raise NotARecordError("an impossible number") from error


def _read_as_it_is(kind: type, value: object, _: Surroundings) -> object:
    if type(value) is not kind:
        raise NotARecordError(f"no {kind.__name__} where one belongs")
    return value


def checked_time(moment: Moment) -> Moment:
    """Return a time that can be shown anywhere.

    Raises:
        CannotBeWrittenError: It lies outside.
    """
    if (
        not 0 <= moment.utc_ms <= LAST_MOMENT
        or abs(moment.offset_min) > _LARGEST_OFFSET
    ):
        raise CannotBeWrittenError("an impossible time")
    return moment


def time_of(value: object, start: Moment) -> Moment:
    """Return the time of milliseconds after a start, and an offset."""
    after, offset = integers(value, length=2)
    try:
        return checked_time(Moment(start.utc_ms + after, offset))
    except CannotBeWrittenError as error:
        raise NotARecordError(error.reason) from error


def integers(value: object, length: int | None = None) -> list[int]:
    """Return a list of integers, of a length if one is given."""
    is_list = isinstance(value, list) and length in {None, len(value)}
    if not is_list or not isinstance(value, list):
        raise NotARecordError("a list of integers is missing")
    if any(type(part) is not int for part in value):
        raise NotARecordError("a list of integers holds something else")
    return value


def writer_of_whole(least: int, most: int) -> Callable[[Any, Surroundings], int]:
    """Return what writes a whole number within bounds, both included."""

    def write(value: Any, _: Surroundings) -> int:  # noqa: ANN401
        if type(value) is not int or not least <= value <= most:
            raise CannotBeWrittenError(f"no whole number from {least} to {most}")
        return value

    return write


def reader_of_whole(least: int, most: int) -> Callable[[Any, Surroundings], int]:
    """Return what reads a whole number within bounds, both included."""

    def read(value: Any, _: Surroundings) -> int:  # noqa: ANN401
        if type(value) is not int or not least <= value <= most:
            raise NotARecordError(f"no whole number from {least} to {most}")
        return value

    return read


def from_hex(text: str, length: int) -> bytes:
    """Return the bytes of so many bytes in lower-case hex."""
    if len(text) != length * 2 or not _HEX.fullmatch(text):
        raise CannotBeWrittenError(f"an id or hash is not {length} bytes in hex")
    return bytes.fromhex(text)


def to_hex(value: object, length: int) -> str:
    """Return bytes of that length in hex."""
    if not isinstance(value, bytes) or len(value) != length:
        raise NotARecordError(f"an id or hash is not {length} bytes")
    return value.hex()
