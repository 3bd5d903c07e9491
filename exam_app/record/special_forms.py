"""The special forms of the table: each a pair of functions that undo each other."""

import re
from collections.abc import Callable
from itertools import accumulate, pairwise
from typing import Any

from exam_app.domain.moments import Moment
from exam_app.record.errors import NotARecordError
from exam_app.record.schema import Form
from exam_app.record.spelled_values import (
    Surroundings,
    checked_time,
    from_hex,
    integers,
    read_text,
    time_of,
    to_hex,
)

_ID_LENGTH, _HASH_LENGTH = 16, 32
_ORIGIN = re.compile(r"(region:.*:)([0-9a-f]{32})", re.ASCII | re.DOTALL)


def write_form(form: Form, value: Any, around: Surroundings) -> object:  # noqa: ANN401
    """Return a value in a special form.

    Raises:
        CannotBeWrittenError: It does not fit the form.
    """
    return _FORMS[form][0](value, around)


def read_form(form: Form, value: Any, around: Surroundings) -> object:  # noqa: ANN401
    """Return what a special form stands for.

    Raises:
        NotARecordError: It is not in that form.
    """
    return _FORMS[form][1](value, around)


def _write_id(value: str, _: Surroundings) -> bytes:
    return from_hex(value, _ID_LENGTH)


def _read_id(value: object, _: Surroundings) -> str:
    return to_hex(value, _ID_LENGTH)


def _write_hash(value: str, _: Surroundings) -> bytes:
    return from_hex(value, _HASH_LENGTH)


def _read_hash(value: object, _: Surroundings) -> str:
    return to_hex(value, _HASH_LENGTH)


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


def _write_absolute(value: Moment, _: Surroundings) -> object:
    return [checked_time(value).utc_ms, value.offset_min]


def _read_absolute(value: object, _: Surroundings) -> Moment:
    return time_of(value, Moment(0))


def _write_steps(value: tuple[int, ...], _: Surroundings) -> object:
    return [*value[:1], *(later - earlier for earlier, later in pairwise(value))]


def _read_steps(value: object, _: Surroundings) -> tuple[int, ...]:
    return tuple(accumulate(integers(value)))


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
    Form.ID: (_write_id, _read_id),
    Form.HASH: (_write_hash, _read_hash),
    Form.PERSON: (_write_person, _read_person),
    Form.ABSOLUTE: (_write_absolute, _read_absolute),
    Form.STEPS: (_write_steps, _read_steps),
    Form.SENTENCE: (_write_sentence, _read_sentence),
    Form.PARTS: (_write_parts, _read_parts),
    Form.ORIGIN: (_write_origin, _read_origin),
}
