"""From domain values to integers, texts, bytes, lists and maps, and back.

One walk over the types of the fields, led by the table in ``schema``. A field at its
default, or none, is left out; so is what is said elsewhere: an attribution leaves out
who and when where nothing else is meant, a reading its value where it is the typed
text. Fields that are not in the table are set aside with their path and never hinder
reading.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, fields, is_dataclass
from functools import cache
from itertools import accumulate, pairwise
from typing import Any, get_args, get_origin

from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Attribution
from exam_app.domain.measure.counting import CountAlong, TapTimes
from exam_app.domain.measure.units import Reading
from exam_app.domain.moments import Moment
from exam_app.record.errors import NotARecordError
from exam_app.record.plain_form import (
    field_types,
    is_evidence,
    read_decimal,
    without_none,
)
from exam_app.record.schema import FIELD_KEYS, FORMS, Form
from exam_app.record.spelled_values import (
    Surroundings,
    checked_time,
    from_hex,
    integers,
    read_moment,
    read_scalar,
    read_text,
    time_of,
    to_hex,
    write_moment,
    write_scalar,
    write_text,
)
from exam_app.record.vocabulary import Vocabulary

_ID_LENGTH, _HASH_LENGTH = 16, 32
_ORIGIN = re.compile(r"(region:.*:)([0-9a-f]{32})", re.ASCII | re.DOTALL)


def _hex_form(length: int) -> tuple[Callable[..., object], Callable[..., object]]:
    return (
        lambda value, _: from_hex(value, length),
        lambda value, _: to_hex(value, length),
    )


def _write_person(value: str, around: Surroundings) -> object:
    if value in around.people:
        return around.people.index(value)
    return from_hex(value, _ID_LENGTH)


def _read_person(value: object, around: Surroundings) -> str:
    if type(value) is not int:
        return to_hex(value, _ID_LENGTH)
    if not 0 <= value < len(around.people):
        raise NotARecordError("it names a person who is not listed")
    return around.people[value]


def _write_sentence(value: tuple[str, ...], around: Surroundings) -> object:
    words = around.vocabulary
    return words.write_sentence(around.key, value) if words else list(value)


def _read_sentence(value: object, around: Surroundings) -> tuple[str, ...]:
    if type(value) is int and around.vocabulary:
        return around.vocabulary.read_sentence(around.key, value)
    if not isinstance(value, list):
        raise NotARecordError("a sentence is no list of texts")
    return tuple(read_text(text, around) for text in value)


def _write_parts(value: str, around: Surroundings) -> object:
    return around.vocabulary.write_parts(value) if around.vocabulary else value


def _read_parts(value: object, around: Surroundings) -> str:
    parts = value if isinstance(value, list) else [value]
    return "".join(read_text(part, around) for part in parts)


def _write_origin(value: str, _: Surroundings) -> object:
    found = _ORIGIN.fullmatch(value)
    return [found[1], bytes.fromhex(found[2])] if found else value


def _read_origin(value: object, _: Surroundings) -> str:
    match value:
        case str():
            return value
        case [str(prefix), bytes(identity)] if len(identity) == _ID_LENGTH:
            return prefix + identity.hex()
    raise NotARecordError("an urgent sign has no origin")


_FORMS: dict[Form, tuple[Callable[..., object], Callable[..., object]]] = {
    Form.ID: _hex_form(_ID_LENGTH),
    Form.HASH: _hex_form(_HASH_LENGTH),
    Form.PERSON: (_write_person, _read_person),
    Form.ABSOLUTE: (
        lambda moment, _: [checked_time(moment).utc_ms, moment.offset_min],
        lambda value, _: time_of(value, Moment(0)),
    ),
    Form.STEPS: (
        lambda steps, _: [*steps[:1], *(b - a for a, b in pairwise(steps))],
        lambda value, _: tuple(accumulate(integers(value))),
    ),
    Form.SENTENCE: (_write_sentence, _read_sentence),
    Form.PARTS: (_write_parts, _read_parts),
    Form.ORIGIN: (_write_origin, _read_origin),
}


FieldMap = dict[Any, Any]


@dataclass(frozen=True, slots=True)
class _Slot:
    """One field of a class as the table sees it."""

    name: str
    key: int
    kind: Any
    form: Form | None
    default: object
    is_required: bool


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


def read_fields(
    kind: Any,  # noqa: ANN401
    written: object,
    around: Surroundings,
    path: str = "",
) -> Any:  # noqa: ANN401
    """Return the dataclass a map holds.

    Args:
        around: Collects unknown fields, by path; for an exam it is filled first.
        path: Where in the record this stands.

    Raises:
        NotARecordError: A field is missing or has another shape.
    """
    if not isinstance(written, dict):
        raise NotARecordError(f"{path or kind.__name__}: no fields")
    if kind is Exam:
        _fill_surroundings(written, around)
    slots = {slot.key: slot for slot in slots_of(kind)}
    found: dict[str, object] = {}
    for key, value in written.items():
        slot = slots.get(key) if type(key) is int else None
        if slot is None:
            around.unknown[f"{path}/{key}"] = value
            continue
        place = f"{path}/{slot.name}"
        found[slot.name] = _read(slot.kind, slot.form, value, around, place)
    _add_implied(kind, found, around)
    for slot in slots.values():
        if slot.is_required and slot.name not in found:
            raise NotARecordError(f"{path}/{slot.name} is missing")
        if slot.default is None:
            found.setdefault(slot.name, None)
    return kind(**found)


@cache
def slots_of(kind: Any) -> tuple[_Slot, ...]:  # noqa: ANN401
    """Return every field of a class with its key, type, form and default."""
    return tuple(_slot(kind, field) for field in fields(kind))


def _slot(kind: Any, field: Any) -> _Slot:  # noqa: ANN401
    default = field.default
    if field.default_factory is not MISSING:
        default = field.default_factory()
    hint = field_types(kind)[field.name]
    is_required = default is MISSING and type(None) not in get_args(hint)
    if default is MISSING and not is_required:
        default = None
    form = FORMS.get((kind, field.name))
    key = FIELD_KEYS[kind][field.name]
    return _Slot(field.name, key, hint, form, default, is_required)


def _write(kind: Any, form: Form | None, value: Any, around: Surroundings) -> object:  # noqa: ANN401
    if form is not None:
        return _FORMS[form][0](value, around)
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


def _read(
    kind: Any,  # noqa: ANN401
    form: Form | None,
    value: Any,  # noqa: ANN401
    around: Surroundings,
    path: str,
) -> object:
    if form is not None:
        return _FORMS[form][1](value, around)
    if is_evidence(kind):
        kind = _evidence_kind(value, path)
    kind = without_none(kind)
    if kind is Moment:
        return read_moment(value, around)
    if is_dataclass(kind):
        return read_fields(kind, value, around, path)
    if get_origin(kind) is None:
        return read_scalar(kind, value, around)
    return _read_several(kind, value, around, path)


def _read_several(kind: Any, value: Any, around: Surroundings, path: str) -> object:  # noqa: ANN401
    arguments = get_args(kind)
    if get_origin(kind) is tuple:
        if not isinstance(value, list):
            raise NotARecordError(f"{path}: no list")
        return tuple(
            _read(arguments[0], None, part, around, f"{path}/{place}")
            for place, part in enumerate(value)
        )
    if not isinstance(value, dict):
        raise NotARecordError(f"{path}: no map")
    parts: dict[str, object] = {}
    for key, part in value.items():
        name = around.key = read_text(key, around)
        if name in parts:
            raise NotARecordError(f"{path}: {name} stands twice")
        parts[name] = _read(arguments[1], None, part, around, f"{path}/{name}")
    return parts


def _evidence_kind(value: object, path: str) -> type[Any]:
    if not isinstance(value, dict):
        raise NotARecordError(f"{path}: no fields")
    is_taps = FIELD_KEYS[TapTimes]["offsets_ms"] in value
    return TapTimes if is_taps else CountAlong


def _fill_surroundings(written: FieldMap, around: Surroundings) -> None:
    """Read the start and the people first: everything else refers to them."""
    by_name = {slot.name: slot for slot in slots_of(Exam)}
    for name in ("started", "started_by", "people"):
        slot = by_name[name]
        if slot.key not in written and slot.is_required:
            raise NotARecordError(f"/{name} is missing")
        value = written.get(slot.key, [])
        # What is unknown in there is noted when the field itself is read.
        alone = Surroundings(vocabulary=around.vocabulary)
        read: Any = _read(slot.kind, slot.form, value, alone, f"/{name}")
        if name == "started":
            around.started = read
        elif name == "started_by":
            around.starter = read
        else:
            around.people = tuple(person.person_id for person in read)


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


def _add_implied(kind: type, found: dict[str, Any], around: Surroundings) -> None:
    if kind is Attribution and "observed" in found:
        found.setdefault("examined_by", around.starter)
        found.setdefault("entered_by", found["examined_by"])
        found.setdefault("entered", found["observed"])
    if kind is Reading and "typed" in found and "value" not in found:
        try:
            found["value"] = read_decimal(found["typed"])
        except ValueError as error:
            raise NotARecordError("a reading holds no number") from error
