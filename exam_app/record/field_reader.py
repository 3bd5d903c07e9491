"""From integers, texts, bytes, lists and maps back to domain values.

What reads a class is put together once, from the types of its fields and the table in
``schema``, so that a field costs one look-up and one call. Where in a record it reads
is kept as a stack of names (``Surroundings.at``) and spelled out only for a fault and
for a field that is not in the table: those are set aside with their path and never
hinder reading.
"""

from collections.abc import Callable
from dataclasses import is_dataclass
from functools import cache
from itertools import accumulate
from typing import Any, get_args, get_origin

from exam_app.domain.errors import MarkError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.region_states import Conclusion, RegionEntry
from exam_app.domain.measure.counting import CountAlong, TapTimes
from exam_app.domain.measure.units import Reading
from exam_app.domain.moments import Moment
from exam_app.record.errors import NotARecordError
from exam_app.record.plain_form import is_evidence, read_decimal, without_none
from exam_app.record.schema import (
    BOUNDS,
    FIELD_KEYS,
    WORD_ORDER,
    FieldMap,
    Form,
    slots_of,
)
from exam_app.record.spelled_values import (
    HASH_LENGTH,
    ID_LENGTH,
    Surroundings,
    integers,
    read_moment,
    read_text,
    reader_of_whole,
    scalar_reader,
    time_of,
    to_hex,
)
from exam_app.record.unfrozen import unfrozen_twin

Reader = Callable[[Any, Surroundings], Any]


def read_fields(kind: Any, written: object, around: Surroundings) -> Any:  # noqa: ANN401
    """Return the dataclass a map holds.

    Args:
        written: As ``cbor_form.decode`` gives it.
        around: Collects unknown fields, by path; for an exam it is filled first.

    Raises:
        NotARecordError: A field is missing or has another shape.
    """
    if kind is Exam and isinstance(written, dict):
        _fill_surroundings(written, around)
    return _reader_of_class(kind)(written, around)


def _choose_reader(kind: Any) -> Reader:  # noqa: ANN401
    return _USUAL_READERS.get(kind) or _fields_reader(kind)


_reader_of_class: Callable[[Any], Reader] = cache(_choose_reader)


def _leave(_made: object, _around: Surroundings) -> None:
    """Check nothing, for a class that checks nothing itself."""


def _checker(kind: Any) -> Callable[[Any, Surroundings], None]:  # noqa: ANN401
    """Return what makes a fault of the record of what a class refuses itself."""
    check = getattr(kind, "__post_init__", None)
    if check is None:
        return _leave

    def checked(made: object, around: Surroundings) -> None:
        try:
            check(made)
        except MarkError as error:
            raise NotARecordError(f"{around.path()}: {error}") from error

    return checked


def _fields_reader(kind: Any) -> Reader:  # noqa: ANN401
    """Return what reads a class: its types are looked at once, not at every field."""
    slots = slots_of(kind)
    by_key = {s.key: (s.name, *_reader_of(s.kind, s.form)) for s in slots}
    twin = unfrozen_twin(kind, [s.name for s in slots if s.is_none_at_absence])
    implied, add_implied = _IMPLIED.get(kind, ((), None))
    check = _checker(kind)
    required = {s.key: s.name for s in slots if s.is_required and s.name not in implied}

    def read(written: object, around: Surroundings) -> object:
        if not isinstance(written, dict):
            raise NotARecordError(f"{around.path() or kind.__name__}: no fields")
        made = twin()
        for key, value in written.items():
            # A key is an integer or a text, so that none but its own number equals one.
            slot = by_key.get(key)
            if slot is None:
                around.unknown[f"{around.path()}/{key}"] = value
                continue
            name, read_part, has_parts = slot
            if has_parts:
                around.at.append(name)
                setattr(made, name, read_part(value, around))
                around.at.pop()
            else:
                setattr(made, name, read_part(value, around))
        if add_implied is not None:
            add_implied(made, written, around)
        if required and not required.keys() <= written.keys():
            # Also of what would follow from a field that is missing.
            unset = (s.name for s in slots if s.is_required)
            name = next(name for name in unset if not hasattr(made, name))
            raise NotARecordError(f"{around.path()}/{name} is missing")
        made.__class__ = kind
        check(made, around)
        return made

    return read


def _read_attribution(written: Any, around: Surroundings) -> object:  # noqa: ANN401
    """Read who and when; a time alone, which nearly all of them are, at once."""
    time = written.get(_OBSERVED) if type(written) is dict else None
    if type(time) is not int or len(written) != 1:
        return _ANY_ATTRIBUTION(written, around)
    made = _UNFROZEN_ATTRIBUTION()
    made.examined_by = made.entered_by = around.starter
    made.observed = made.entered = read_moment(time, around)
    made.__class__ = Attribution
    return made


def _read_entry(written: Any, around: Surroundings) -> object:  # noqa: ANN401
    """Read the answer of a part; claims and a time, which nearly all are, at once."""
    words = around.vocabulary
    if words is None or type(written) is not dict or len(written) != 3:
        return _ANY_ENTRY(written, around)
    claims, who = written.get(_CLAIMED), written.get(_BY_WHOM)
    if type(claims) is not int or type(who) is not dict:
        return _ANY_ENTRY(written, around)
    if written.get(_CONCLUDED) is not _ASSERTED:
        return _ANY_ENTRY(written, around)
    made = _UNFROZEN_ENTRY()
    made.conclusion = Conclusion.ASSERTED
    made.asserted = words.read_sentence(around.key, claims)
    around.at.append("attribution")
    made.attribution = _read_attribution(who, around)
    around.at.pop()
    made.__class__ = RegionEntry
    return made


def _reader_of(kind: Any, form: Form | None) -> tuple[Reader, bool]:  # noqa: ANN401
    """Return what reads a value, and whether it has parts with paths of their own."""
    plain = without_none(kind)
    if form is not None:
        return _FORMS[form], False
    if plain is Moment:
        return read_moment, False
    if is_evidence(kind):
        return _read_evidence, True
    if is_dataclass(plain):
        return _reader_of_class(plain), True
    if get_origin(plain) is None:
        return scalar_reader(plain), False
    is_list = get_origin(plain) is tuple
    return (_list_reader if is_list else _map_reader)(get_args(plain)), True


def _read_evidence(value: object, around: Surroundings) -> object:
    if not isinstance(value, dict):
        raise NotARecordError(f"{around.path()}: no fields")
    is_taps = FIELD_KEYS[TapTimes]["offsets_ms"] in value
    return _reader_of_class(TapTimes if is_taps else CountAlong)(value, around)


def _list_reader(arguments: tuple[Any, ...]) -> Reader:
    read_part, has_parts = _reader_of(arguments[0], None)

    def read(value: object, around: Surroundings) -> object:
        if not isinstance(value, list):
            raise NotARecordError(f"{around.path()}: no list")
        if not has_parts:
            return tuple([read_part(part, around) for part in value])
        parts = []
        around.at.append("")
        for place, part in enumerate(value):
            around.at[-1] = place
            parts.append(read_part(part, around))
        around.at.pop()
        return tuple(parts)

    return read


def _map_reader(arguments: tuple[Any, ...]) -> Reader:
    read_part, _ = _reader_of(arguments[1], None)

    def read(value: object, around: Surroundings) -> object:
        if not isinstance(value, dict):
            raise NotARecordError(f"{around.path()}: no map")
        parts: dict[str, object] = {}
        around.at.append("")
        for key, part in value.items():
            name = around.key = around.at[-1] = read_text(key, around)
            if name in parts:
                around.at.pop()
                raise NotARecordError(f"{around.path()}: {name} stands twice")
            parts[name] = read_part(part, around)
        around.at.pop()
        return parts

    return read


def _fill_surroundings(written: FieldMap, around: Surroundings) -> None:
    """Read the start and the people first: everything else refers to them."""
    found = {}
    for slot, read in _FIRST_OF_EXAM:
        if slot.key not in written and slot.is_required:
            raise NotARecordError(f"/{slot.name} is missing")
        # What is unknown in there is noted when the field itself is read.
        alone = Surroundings(vocabulary=around.vocabulary, at=[slot.name])
        found[slot.name] = read(written.get(slot.key, []), alone)
    around.started, around.starter = found["started"], found["started_by"]
    around.people = tuple(person.person_id for person in found["people"])


def _read_person(value: object, around: Surroundings) -> str:
    if type(value) is not int:
        return to_hex(value, ID_LENGTH)
    if not 0 <= value < len(around.people):
        raise NotARecordError("it names a person who is not listed")
    return around.people[value]


def _read_sentence(value: object, around: Surroundings) -> tuple[str, ...]:
    if type(value) is int and around.vocabulary:
        return around.vocabulary.read_sentence(around.key, value)
    if not isinstance(value, list):
        raise NotARecordError("a sentence is no list of texts")
    return tuple(read_text(text, around) for text in value)


def _read_parts(value: object, around: Surroundings) -> str:
    parts = value if isinstance(value, list) else [value]
    return "".join([read_text(part, around) for part in parts])


def _read_origin(value: object, _: Surroundings) -> str:
    match value:
        case str():
            return value
        case [str(prefix), bytes(identity)] if len(identity) == ID_LENGTH:
            return prefix + identity.hex()
    raise NotARecordError("an urgent sign has no origin")


_FORMS: dict[Form, Reader] = {
    Form.ID: lambda value, _: to_hex(value, ID_LENGTH),
    Form.HASH: lambda value, _: to_hex(value, HASH_LENGTH),
    Form.PERSON: _read_person,
    Form.ABSOLUTE: lambda value, _: time_of(value, Moment(0)),
    Form.STEPS: lambda value, _: tuple(accumulate(integers(value))),
    Form.SENTENCE: _read_sentence,
    Form.PARTS: _read_parts,
    Form.ORIGIN: _read_origin,
    **{form: reader_of_whole(*ends) for form, ends in BOUNDS.items()},
}


def _add_who_and_when(made: Any, written: FieldMap, around: Surroundings) -> None:  # noqa: ANN401
    if _OBSERVED in written:
        if _EXAMINED_BY not in written:
            made.examined_by = around.starter
        if _ENTERED_BY not in written:
            made.entered_by = made.examined_by
        if _ENTERED not in written:
            made.entered = made.observed


def _add_value(made: Any, written: FieldMap, _: Surroundings) -> None:  # noqa: ANN401
    if _TYPED in written and _VALUE not in written:
        try:
            made.value = read_decimal(made.typed)
        except ValueError as error:
            raise NotARecordError("a reading holds no number") from error


_EXAMINED_BY = FIELD_KEYS[Attribution]["examined_by"]
_ENTERED_BY = FIELD_KEYS[Attribution]["entered_by"]
_OBSERVED = FIELD_KEYS[Attribution]["observed"]
_ENTERED = FIELD_KEYS[Attribution]["entered"]
_TYPED, _VALUE = FIELD_KEYS[Reading]["typed"], FIELD_KEYS[Reading]["value"]
# What may be left out because it follows from the others, and what fills it in.
_IMPLIED: dict[Any, tuple[tuple[str, ...], Callable[..., None]]] = {
    Attribution: (("examined_by", "entered_by", "entered"), _add_who_and_when),
    Reading: (("value",), _add_value),
}
_UNFROZEN_ATTRIBUTION = unfrozen_twin(Attribution)
_ANY_ATTRIBUTION = _fields_reader(Attribution)
_CONCLUDED = FIELD_KEYS[RegionEntry]["conclusion"]
_CLAIMED = FIELD_KEYS[RegionEntry]["asserted"]
_BY_WHOM = FIELD_KEYS[RegionEntry]["attribution"]
_ASSERTED = WORD_ORDER[Conclusion].index(Conclusion.ASSERTED)
_UNFROZEN_ENTRY = unfrozen_twin(RegionEntry)
_USUAL_READERS: dict[Any, Reader] = {
    Attribution: _read_attribution,
    RegionEntry: _read_entry,
}
_ANY_ENTRY = _fields_reader(RegionEntry)
_FIRST_OF_EXAM = [
    (slot, _reader_of(slot.kind, slot.form)[0])
    for slot in slots_of(Exam)
    if slot.name in {"started", "started_by", "people"}
]
