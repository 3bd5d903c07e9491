"""The first version's reading of fields, against which the present one is held.

It carries the path of every field along and builds each value by its own ``__init__``;
slower, and plain to follow. Only ``tests/record/test_record_fields.py`` uses it.
"""

import re
from dataclasses import is_dataclass
from decimal import Decimal
from enum import Enum
from itertools import accumulate
from typing import get_args, get_origin

from exam_app.domain.errors import MarkError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Attribution
from exam_app.domain.measure.counting import CountAlong, TapTimes
from exam_app.domain.measure.units import Reading
from exam_app.domain.moments import Moment
from exam_app.record.errors import NotARecordError
from exam_app.record.plain_form import is_evidence, without_none
from exam_app.record.schema import FIELD_KEYS, WORD_ORDER, Form, slots_of
from exam_app.record.spelled_values import Surroundings

LAST_MOMENT, LARGEST_OFFSET = 253_402_214_400_000, 1_439
DECIMAL = re.compile(r"-?\d{1,40}(\.\d{1,40})?(E[+-]?\d{1,3})?", re.ASCII)


def read_fields(kind, written, around, path=""):
    if kind is Exam and isinstance(written, dict):
        fill_surroundings(written, around)
    if not isinstance(written, dict):
        raise NotARecordError(f"{path or kind.__name__}: no fields")
    by_key = {slot.key: slot for slot in slots_of(kind)}
    found = {}
    for key, value in written.items():
        slot = by_key.get(key)
        if slot is None or type(key) is not int:
            around.unknown[f"{path}/{key}"] = value
            continue
        at = f"{path}/{slot.name}"
        found[slot.name] = read_value(slot.kind, slot.form, value, around, at)
    add_implied(kind, found, around)
    for slot in slots_of(kind):
        if slot.name not in found and slot.is_required:
            raise NotARecordError(f"{path}/{slot.name} is missing")
        if slot.name not in found and slot.is_none_at_absence:
            found[slot.name] = None
    return made_of(kind, found, path)


def made_of(kind, found, path):
    try:
        return kind(**found)
    except MarkError as error:
        raise NotARecordError(f"{path}: {error}") from error


def add_implied(kind, found, around):
    if kind is Attribution and "observed" in found:
        found.setdefault("examined_by", around.starter)
        found.setdefault("entered_by", found["examined_by"])
        found.setdefault("entered", found["observed"])
    if kind is Reading and "typed" in found and "value" not in found:
        if not DECIMAL.fullmatch(found["typed"]):
            raise NotARecordError("a reading holds no number")
        found["value"] = Decimal(found["typed"])


def fill_surroundings(written, around):
    by_name = {slot.name: slot for slot in slots_of(Exam)}
    for name in ("started", "started_by", "people"):
        slot = by_name[name]
        if slot.key not in written and slot.is_required:
            raise NotARecordError(f"/{name} is missing")
        value = written.get(slot.key, [])
        alone = Surroundings(vocabulary=around.vocabulary)
        read = read_value(slot.kind, slot.form, value, alone, f"/{name}")
        if name == "started":
            around.started = read
        elif name == "started_by":
            around.starter = read
        else:
            around.people = tuple(person.person_id for person in read)


def read_value(kind, form, value, around, path):
    plain = without_none(kind)
    if form is not None:
        return FORMS[form](value, around)
    if plain is Moment:
        return read_moment(value, around)
    if is_evidence(kind):
        if not isinstance(value, dict):
            raise NotARecordError(f"{path}: no fields")
        is_taps = FIELD_KEYS[TapTimes]["offsets_ms"] in value
        plain = TapTimes if is_taps else CountAlong
    if is_dataclass(plain):
        return read_fields(plain, value, around, path)
    if get_origin(plain) is None:
        return read_scalar(plain, value, around)
    return read_several(get_args(plain), value, around, path)


def read_several(arguments, value, around, path):
    if len(arguments) == 1 or arguments[1] is ...:
        return read_list(arguments[0], value, around, path)
    return read_map(arguments[1], value, around, path)


def read_list(kind, value, around, path):
    if not isinstance(value, list):
        raise NotARecordError(f"{path}: no list")
    parts = enumerate(value)
    return tuple(read_value(kind, None, p, around, f"{path}/{i}") for i, p in parts)


def read_map(kind, value, around, path):
    if not isinstance(value, dict):
        raise NotARecordError(f"{path}: no map")
    parts = {}
    for key, part in value.items():
        name = around.key = read_text(key, around)
        if name in parts:
            raise NotARecordError(f"{path}: {name} stands twice")
        parts[name] = read_value(kind, None, part, around, f"{path}/{name}")
    return parts


def read_scalar(kind, value, around):
    if kind is str:
        return read_text(value, around)
    if issubclass(kind, Enum):
        words = WORD_ORDER[kind]
        if type(value) is not int or not 0 <= value < len(words):
            raise NotARecordError(f"no word of {kind.__name__}")
        return words[value]
    if kind is Decimal:
        if not isinstance(value, str) or not DECIMAL.fullmatch(value):
            raise NotARecordError("an impossible number")
        return Decimal(value)
    if type(value) is not kind:
        raise NotARecordError(f"no {kind.__name__} where one belongs")
    return value


def read_text(value, around):
    if type(value) is str:
        return value
    if type(value) is int and around.vocabulary:
        if not 0 <= value < len(around.vocabulary.texts):
            fault = "it points at a word the protocol does not have"
            raise NotARecordError(fault)
        return around.vocabulary.texts[value]
    raise NotARecordError("no text where one belongs")


def read_moment(value, around):
    start = around.started or Moment(0)
    return time_of([value, start.offset_min] if type(value) is int else value, start)


def time_of(value, start):
    after, offset = integers(value, 2)
    is_time = 0 <= start.utc_ms + after <= LAST_MOMENT
    if not is_time or abs(offset) > LARGEST_OFFSET:
        raise NotARecordError("an impossible time")
    return Moment(start.utc_ms + after, offset)


def integers(value, length=None):
    if not isinstance(value, list) or length not in {None, len(value)}:
        raise NotARecordError("a list of integers is missing")
    if any(type(part) is not int for part in value):
        raise NotARecordError("a list of integers holds something else")
    return value


def to_hex(value, length):
    if not isinstance(value, bytes) or len(value) != length:
        raise NotARecordError(f"an id or hash is not {length} bytes")
    return value.hex()


def read_person(value, around):
    if type(value) is not int:
        return to_hex(value, 16)
    if not 0 <= value < len(around.people):
        raise NotARecordError("it names a person who is not listed")
    return around.people[value]


def read_sentence(value, around):
    if type(value) is int and around.vocabulary:
        claims = around.vocabulary.claims.get(around.key.partition(".")[0], ())
        bits, wording = value >> 1, value & 1
        if bits <= 0 or bits >> len(claims):
            fault = "it makes a claim the protocol does not have"
            raise NotARecordError(fault)
        return tuple(c[wording] for place, c in enumerate(claims) if bits >> place & 1)
    if not isinstance(value, list):
        raise NotARecordError("a sentence is no list of texts")
    return tuple(read_text(text, around) for text in value)


def read_parts(value, around):
    parts = value if isinstance(value, list) else [value]
    return "".join(read_text(part, around) for part in parts)


def read_origin(value, _around):
    match value:
        case str():
            return value
        case [str(prefix), bytes(identity)] if len(identity) == 16:
            return prefix + identity.hex()
    raise NotARecordError("an urgent sign has no origin")


def whole_between(least, most):
    def read(value, _around):
        if type(value) is not int or not least <= value <= most:
            raise NotARecordError(f"no whole number from {least} to {most}")
        return value

    return read


FORMS = {
    Form.ID: lambda value, _: to_hex(value, 16),
    Form.HASH: lambda value, _: to_hex(value, 32),
    Form.PERSON: read_person,
    Form.ABSOLUTE: lambda value, _: time_of(value, Moment(0)),
    Form.STEPS: lambda value, _: tuple(accumulate(integers(value))),
    Form.SENTENCE: read_sentence,
    Form.PARTS: read_parts,
    Form.ORIGIN: read_origin,
    Form.MARK_NUMBER: whole_between(1, 9999),
    Form.MARK_COUNT: whole_between(0, 9999),
    Form.THOUSANDTHS: whole_between(0, 1000),
    Form.PIXELS: whole_between(0, 65_535),
    Form.BYTE_COUNT: whole_between(0, 2**31 - 1),
}
