"""From domain values to integers, texts, bytes, lists and maps.

One walk over the types of the fields, led by the table in ``schema``. A field at its
default, or none, is left out; so is what is said elsewhere: an attribution leaves out
who and when where nothing else is meant, a reading its value where it is the typed
text. ``field_reader`` undoes all of it.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import is_dataclass
from itertools import pairwise
from typing import Any, get_args

from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Attribution
from exam_app.domain.measure.units import Reading
from exam_app.domain.moments import Moment
from exam_app.record.plain_form import without_none
from exam_app.record.schema import BOUNDS, FieldMap, Form, slots_of
from exam_app.record.spelled_values import (
    HASH_LENGTH,
    ID_LENGTH,
    Surroundings,
    checked_time,
    from_hex,
    write_moment,
    write_scalar,
    write_text,
    writer_of_whole,
)
from exam_app.record.vocabulary import Vocabulary

_ORIGIN = re.compile(r"(region:.*:)([0-9a-f]{32})", re.ASCII | re.DOTALL)


def _write_person(value: str, around: Surroundings) -> object:
    if value in around.people:
        return around.people.index(value)
    return from_hex(value, ID_LENGTH)


def _write_sentence(value: tuple[str, ...], around: Surroundings) -> object:
    words = around.vocabulary
    return words.write_sentence(around.key, value) if words else list(value)


def _write_parts(value: str, around: Surroundings) -> object:
    return around.vocabulary.write_parts(value) if around.vocabulary else value


def _write_origin(value: str, _: Surroundings) -> object:
    found = _ORIGIN.fullmatch(value)
    return [found[1], bytes.fromhex(found[2])] if found else value


_FORMS: dict[Form, Callable[..., object]] = {
    Form.ID: lambda value, _: from_hex(value, ID_LENGTH),
    Form.HASH: lambda value, _: from_hex(value, HASH_LENGTH),
    Form.PERSON: _write_person,
    Form.ABSOLUTE: lambda moment, _: [checked_time(moment).utc_ms, moment.offset_min],
    Form.STEPS: lambda steps, _: [*steps[:1], *(b - a for a, b in pairwise(steps))],
    Form.SENTENCE: _write_sentence,
    Form.PARTS: _write_parts,
    Form.ORIGIN: _write_origin,
    **{form: writer_of_whole(*ends) for form, ends in BOUNDS.items()},
}


def write_exam(exam: Exam, vocabulary: Vocabulary | None) -> FieldMap:
    """Return the map of an exam, its words as numbers of the vocabulary.

    Raises:
        CannotBeWrittenError: Something in it has no spelling.
    """
    people = tuple(person.person_id for person in exam.people)
    around = Surroundings(exam.started, exam.started_by, people, vocabulary)
    return write_fields(exam, around)


def write_fields(value: Any, around: Surroundings) -> FieldMap:  # noqa: ANN401
    """Return the map of a dataclass.

    Raises:
        CannotBeWrittenError: Something in it has no spelling.
    """
    left_out = _implied(value, around)
    written: FieldMap = {}
    kind: Any = type(value)
    for slot in slots_of(kind):
        part = getattr(value, slot.name)
        if part is None or part == slot.default or slot.name in left_out:
            continue
        written[slot.key] = _write(slot.kind, slot.form, part, around)
    return written


def _write(kind: Any, form: Form | None, value: Any, around: Surroundings) -> object:  # noqa: ANN401
    if form is not None:
        return _FORMS[form](value, around)
    if isinstance(value, Moment):
        return write_moment(value, around)
    if is_dataclass(value):
        return write_fields(value, around)
    arguments = get_args(without_none(kind))
    if isinstance(value, tuple):
        return [_write(arguments[0], None, part, around) for part in value]
    if isinstance(value, Mapping):
        return _write_named(arguments[1], value, around)
    return write_scalar(value, around)


def _write_named(kind: Any, parts: Mapping[str, Any], around: Surroundings) -> FieldMap:  # noqa: ANN401
    written: FieldMap = {}
    for name, part in parts.items():
        around.key = name
        written[write_text(name, around)] = _write(kind, None, part, around)
    return written


def _implied(value: object, around: Surroundings) -> frozenset[str]:
    """Name the fields that a reader fills in by itself."""
    if isinstance(value, Attribution):
        checks = {
            "examined_by": value.examined_by == around.starter,
            "entered_by": value.entered_by == value.examined_by,
            "entered": value.entered == value.observed,
        }
        return frozenset(name for name, is_implied in checks.items() if is_implied)
    if isinstance(value, Reading) and str(value.value) == value.typed:
        return frozenset({"value"})
    return frozenset()
