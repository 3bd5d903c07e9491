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
from exam_app.record.schema import BOUNDS, FIELD_KEYS, FORMS, Form
from exam_app.record.spelled_values import (
    Surroundings,
    checked_time,
    from_hex,
    integers,
    read_moment,
    read_text,
    scalar_reader,
    time_of,
    to_hex,
    whole_between,
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
    **{form: whole_between(*ends) for form, ends in BOUNDS.items()},
}


FieldMap = dict[Any, Any]
_Reader = Callable[[Any, Surroundings], Any]
_DeepReader = Callable[[Any, Surroundings, str], Any]


@dataclass(frozen=True, slots=True)
class _Slot:
    """One field of a class as the table sees it."""

    name: str
    key: int
    kind: Any
    form: Form | None
    default: object
    is_required: bool
    is_none_at_absence: bool


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
    if kind is Exam and isinstance(written, dict):
        _fill_surroundings(written, around)
    return _fields_reader(kind)(written, around, path)


def _make_fields_reader(kind: Any) -> _DeepReader:  # noqa: ANN401
    """Return what reads a class: its types are looked at once, not at every field."""
    slots = slots_of(kind)
    by_key = {s.key: (s.name, *_readers_of(s.kind, s.form)) for s in slots}
    required = {slot.name for slot in slots if slot.is_required}
    absent = {slot.name: None for slot in slots if slot.is_none_at_absence}
    add_implied = _IMPLIED.get(kind)

    def read(written: object, around: Surroundings, path: str) -> object:
        if not isinstance(written, dict):
            raise NotARecordError(f"{path or kind.__name__}: no fields")
        found: dict[str, Any] = {}
        for key, value in written.items():
            slot = by_key.get(key)
            if slot is None or type(key) is not int:
                around.unknown[f"{path}/{key}"] = value
            elif slot[1] is not None:
                found[slot[0]] = slot[1](value, around)
            else:
                found[slot[0]] = slot[2](value, around, f"{path}/{slot[0]}")
        if add_implied is not None:
            add_implied(found, around)
        if not required <= found.keys():
            name = next(s.name for s in slots if s.name in required - found.keys())
            raise NotARecordError(f"{path}/{name} is missing")
        return kind(**(absent | found if absent else found))

    return read


def _read_attribution(written: Any, around: Surroundings, path: str) -> object:  # noqa: ANN401
    """Read who and when; a time alone, which nearly all of them are, at once."""
    time = written.get(_OBSERVED) if isinstance(written, dict) else None
    if type(time) is int and len(written) == 1:
        observed = read_moment(time, around)
        return Attribution(around.starter, around.starter, observed, observed)
    return _ANY_ATTRIBUTION(written, around, path)


def _choose_fields_reader(kind: Any) -> _DeepReader:  # noqa: ANN401
    return _read_attribution if kind is Attribution else _make_fields_reader(kind)


_fields_reader: Callable[[Any], _DeepReader] = cache(_choose_fields_reader)


@cache
def slots_of(kind: Any) -> tuple[_Slot, ...]:  # noqa: ANN401
    """Return every field of a class with its key, type, form and default."""
    return tuple(_slot(kind, field) for field in fields(kind))


def _slot(kind: Any, field: Any) -> _Slot:  # noqa: ANN401
    default = field.default
    has_none = field.default is MISSING and field.default_factory is MISSING
    if field.default_factory is not MISSING:
        default = field.default_factory()
    hint = field_types(kind)[field.name]
    is_required = has_none and type(None) not in get_args(hint)
    is_none_at_absence = has_none and not is_required
    if is_none_at_absence:
        default = None
    form = FORMS.get((kind, field.name))
    key = FIELD_KEYS[kind][field.name]
    return _Slot(field.name, key, hint, form, default, is_required, is_none_at_absence)


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


def _readers_of(kind: Any, form: Form | None) -> tuple[_Reader | None, _DeepReader]:  # noqa: ANN401
    """Return what reads a value: without its path, where that will do, and with it."""
    plain = without_none(kind)
    if form is not None:
        return _with_path(_FORMS[form][1])
    if plain is Moment:
        return _with_path(read_moment)
    if is_evidence(kind):
        return None, _read_evidence
    if is_dataclass(plain):
        return None, _fields_reader(plain)
    if get_origin(plain) is None:
        return _with_path(scalar_reader(plain))
    is_list = get_origin(plain) is tuple
    return None, (_list_reader if is_list else _map_reader)(get_args(plain))


def _with_path(read: _Reader) -> tuple[_Reader, _DeepReader]:
    return read, lambda value, around, _: read(value, around)


def _read_evidence(value: object, around: Surroundings, path: str) -> object:
    return _fields_reader(_evidence_kind(value, path))(value, around, path)


def _list_reader(arguments: tuple[Any, ...]) -> _DeepReader:
    flat, deep = _readers_of(arguments[0], None)

    def read(value: object, around: Surroundings, path: str) -> object:
        if not isinstance(value, list):
            raise NotARecordError(f"{path}: no list")
        if flat is not None:
            return tuple([flat(part, around) for part in value])
        parts = [deep(part, around, f"{path}/{i}") for i, part in enumerate(value)]
        return tuple(parts)

    return read


def _map_reader(arguments: tuple[Any, ...]) -> _DeepReader:
    read_part = _readers_of(arguments[1], None)[1]

    def read(value: object, around: Surroundings, path: str) -> object:
        if not isinstance(value, dict):
            raise NotARecordError(f"{path}: no map")
        parts: dict[str, object] = {}
        for key, part in value.items():
            name = around.key = read_text(key, around)
            if name in parts:
                raise NotARecordError(f"{path}: {name} stands twice")
            parts[name] = read_part(part, around, f"{path}/{name}")
        return parts

    return read


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
        read_slot = _readers_of(slot.kind, slot.form)[1]
        read: Any = read_slot(value, alone, f"/{name}")
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


def _add_attribution(found: dict[str, Any], around: Surroundings) -> None:
    if "observed" in found:
        found.setdefault("examined_by", around.starter)
        found.setdefault("entered_by", found["examined_by"])
        found.setdefault("entered", found["observed"])


def _add_value(found: dict[str, Any], _: Surroundings) -> None:
    if "typed" in found and "value" not in found:
        try:
            found["value"] = read_decimal(found["typed"])
        except ValueError as error:
            raise NotARecordError("a reading holds no number") from error


_IMPLIED: dict[Any, Callable[[dict[str, Any], Surroundings], None]] = {
    Attribution: _add_attribution,
    Reading: _add_value,
}
_OBSERVED = FIELD_KEYS[Attribution]["observed"]
_ANY_ATTRIBUTION = _make_fields_reader(Attribution)
