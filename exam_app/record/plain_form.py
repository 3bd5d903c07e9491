"""The plain, JSON-able form of drafts, animals, people and owners, and its limits.

The store keeps these dicts; a field at its default is left out. A dict of a newer
version is refused. Fields this version does not know survive when the stored form is
given to the call that replaces it::

    drafts.put(exam_id, to_plain(exam, before=drafts.get(exam_id)))

They stay with the part they were found in: a part is found again by its own id, or,
having none, only if nothing known about it has changed. So a field never moves to
another part.

Strict where cattrs is kind: a number is no text, a text is no list, one is not true.
Decimals travel as text, since a JSON number becomes a float somewhere on its way.
"""

import operator
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cache
from types import UnionType
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from cattrs import Converter, transform_error
from cattrs.gen import make_dict_structure_fn

from exam_app.domain.measure.counting import CountAlong, Evidence, TapTimes
from exam_app.record.errors import DraftDamagedError, RecordTooNewError

DRAFT_VERSION = 1
Plain = dict[str, Any]
DEEPEST = 32
MOST_VALUES = 200_000
LARGEST_INTEGER = 2**63 - 1
_T = TypeVar("_T")
_DECIMAL = re.compile(r"-?\d{1,40}(\.\d{1,40})?(E[+-]?\d{1,3})?", re.ASCII)
EVIDENCE_KINDS = {"count": CountAlong, "taps": TapTimes}
_IDENTITIES = (
    "person_id",
    "finding_id",
    "entry_id",
    "clause_id",
    "scale_id",
    "sha256",
)


def to_plain(value: object, before: Mapping[str, Any] | None = None) -> Plain:
    """Return the plain form of an exam, an animal, a person or an owner.

    Unknown fields of ``before``, the stored form that this one replaces, are kept.
    """
    plain: Any = _CONVERTER.unstructure(value)
    if before is not None:
        plain = _carry_fields(type(value), plain, dict(before))
    return {**plain, "version": DRAFT_VERSION}


def from_plain(kind: type[_T], plain: object) -> _T:
    """Return the exam, animal, person or owner that a plain form holds.

    Raises:
        RecordTooNewError: A newer version wrote it.
        DraftDamagedError: It is not the plain form of this; carries every fault.
    """
    if not isinstance(plain, Mapping):
        raise DraftDamagedError(("no fields at all",))
    version = plain.get("version")
    if type(version) is not int or version < 1:
        raise DraftDamagedError(("it says no version",))
    if version > DRAFT_VERSION:
        raise RecordTooNewError(f"version {version}")
    fields_of = dict(plain)
    check_plain(fields_of)
    try:
        return _CONVERTER.structure(fields_of, kind)
    except Exception as error:
        raise DraftDamagedError(tuple(transform_error(error))) from error


def read_decimal(text: str) -> Decimal:
    """Return the finite decimal a text holds.

    Raises:
        ValueError: The text is no decimal number, or far too long for one.
    """
    if not _DECIMAL.fullmatch(text):
        raise ValueError("no decimal number")
    return Decimal(text)


def check_plain(plain: object) -> None:
    """Refuse anything that is not JSON without floats, or is too deep or too much.

    Raises:
        DraftDamagedError: Names the first such fault.
    """
    waiting: list[tuple[object, int]] = [(plain, 0)]
    seen = 0
    while waiting:
        value, depth = waiting.pop()
        seen += 1
        if depth > DEEPEST or seen > MOST_VALUES:
            raise DraftDamagedError(("nested too deeply or too large",))
        if isinstance(value, dict):
            if not all(isinstance(key, str) for key in value):
                raise DraftDamagedError(("a field name is no text",))
            waiting += [(part, depth + 1) for part in value.values()]
        elif isinstance(value, list):
            waiting += [(part, depth + 1) for part in value]
        elif not _is_scalar(value):
            raise DraftDamagedError((f"{type(value).__name__} is not kept",))


def _is_scalar(value: object) -> bool:
    if isinstance(value, int):
        return -LARGEST_INTEGER - 1 <= value <= LARGEST_INTEGER
    return value is None or isinstance(value, str)


def _is_tuple(kind: Any) -> bool:  # noqa: ANN401
    origin: object = get_origin(kind)
    return origin is tuple


def is_evidence(kind: object) -> bool:
    """Say whether a type is a count or a run of taps, or none of both."""
    members = set(get_args(kind)) - {type(None)}
    return members == set(EVIDENCE_KINDS.values())


def _strictly(kind: type) -> Callable[[object, object], object]:
    def check(value: object, _: object) -> object:
        if type(value) is not kind:
            raise TypeError(f"no {kind.__name__}")
        return value

    return check


def _structure_decimal(value: object, _: object) -> Decimal:
    if not isinstance(value, str):
        raise TypeError("a decimal number is kept as text")
    return read_decimal(value)


def _structure_text(value: object, kind: type[str]) -> str:
    """Return the text, or the member it names: every enum here is one of texts."""
    if type(value) is not str:
        raise TypeError("no text")
    return value if kind is str else kind(value)


def _fields_hook(kind: Any, converter: Converter) -> Callable[[Any, Any], Any]:  # noqa: ANN401
    structure_fields = make_dict_structure_fn(kind, converter)

    def structure_dataclass(value: object, _: object) -> object:
        if not isinstance(value, dict):
            raise TypeError("named fields are needed")
        return structure_fields(value, kind)

    return structure_dataclass


def _tuple_hook(kind: Any, converter: Converter) -> Callable[[Any, Any], Any]:  # noqa: ANN401
    as_list: Any = list.__class_getitem__(get_args(kind)[0])
    structure_list = converter.get_structure_hook(as_list)

    def structure_tuple(value: object, _: object) -> object:
        if not isinstance(value, list):
            raise TypeError("a list is needed")
        return tuple(structure_list(value, as_list))

    return structure_tuple


def _evidence_hook(kind: Any, converter: Converter) -> Callable[[Any, Any], Any]:  # noqa: ANN401
    is_optional = type(None) in get_args(kind)

    def structure_evidence(value: object, _: object) -> object:
        if value is None and is_optional:
            return None
        if not isinstance(value, dict) or value.get("kind") not in EVIDENCE_KINDS:
            raise TypeError("a count or taps are needed")
        return converter.structure(value, EVIDENCE_KINDS[value["kind"]])

    return structure_evidence


def _unstructure_evidence(evidence: Evidence | None) -> dict[str, Any] | None:
    if evidence is None:
        return None
    name = "count" if isinstance(evidence, CountAlong) else "taps"
    return {"kind": name, **_CONVERTER.unstructure(evidence)}


def _build_converter() -> Converter:
    converter = Converter(omit_if_default=True, detailed_validation=True)
    converter.register_structure_hook(str, _structure_text)
    converter.register_structure_hook(int, _strictly(int))
    converter.register_structure_hook(bool, _strictly(bool))
    converter.register_structure_hook_factory(is_dataclass, _fields_hook)
    converter.register_structure_hook(Decimal, _structure_decimal)
    converter.register_unstructure_hook(Decimal, str)
    converter.register_unstructure_hook(StrEnum, operator.attrgetter("value"))
    converter.register_structure_hook_factory(_is_tuple, _tuple_hook)
    converter.register_unstructure_hook_factory(_is_tuple, _untuple_hook)
    converter.register_structure_hook_factory(is_evidence, _evidence_hook)
    converter.register_unstructure_hook_func(is_evidence, _unstructure_evidence)
    return converter


def _untuple_hook(kind: Any, converter: Converter) -> Callable[[Any], Any]:  # noqa: ANN401
    unstructure_part = converter.get_unstructure_hook(get_args(kind)[0])

    def as_list(value: tuple[object, ...]) -> list[object]:
        return [unstructure_part(part) for part in value]

    return as_list


_CONVERTER = _build_converter()


def carry_unknown(kind: Any, now: object, before: object) -> object:  # noqa: ANN401
    """Return the new plain form with what the one before it held beyond our fields.

    Both are of one ``kind``; nothing in the stored form is trusted.
    """
    kind = without_none(kind)
    if is_evidence(kind) and isinstance(now, dict):
        kind = EVIDENCE_KINDS[now["kind"]]
    if is_dataclass(kind):
        return _carry_fields(kind, now, before)
    origin, arguments = get_origin(kind), get_args(kind)
    if origin is tuple:
        return _carry_items(arguments[0], now, before)
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return _carry_values(arguments[1], now, before)
    return now


def _carry_fields(kind: Any, now: object, before: object) -> object:  # noqa: ANN401
    if not isinstance(now, dict) or not isinstance(before, dict):
        return now
    hints = field_types(kind)
    kept = {
        name: carry_unknown(hints[name], value, before.get(name))
        if name in hints
        else value
        for name, value in now.items()
    }
    unknown = before.keys() - hints.keys() - now.keys()
    return kept | {name: before[name] for name in before if name in unknown}


def _carry_values(kind: Any, now: object, before: object) -> object:  # noqa: ANN401
    if not isinstance(now, dict) or not isinstance(before, dict):
        return now
    return {
        key: carry_unknown(kind, value, before.get(key)) for key, value in now.items()
    }


def _carry_items(kind: Any, now: object, before: object) -> object:  # noqa: ANN401
    if not isinstance(now, list) or not isinstance(before, list):
        return now
    if not is_dataclass(without_none(kind)):
        return now
    return [carry_unknown(kind, part, _counterpart(kind, part, before)) for part in now]


def _counterpart(kind: Any, part: object, before: Iterable[object]) -> object:  # noqa: ANN401
    """Return the stored part that is the same thing, or ``None``."""
    identity = next((name for name in _IDENTITIES if name in field_types(kind)), None)
    for other in before:
        if not isinstance(part, dict) or not isinstance(other, dict):
            continue
        if identity is not None:
            is_same = part.get(identity) == other.get(identity)
        else:
            is_same = part == {name: other[name] for name in other if name in part}
        if is_same:
            return other
    return None


@cache
def field_types(kind: Any) -> dict[str, Any]:  # noqa: ANN401
    """Return the type of every field of a dataclass, in the order of its fields."""
    hints = get_type_hints(kind)
    return {field.name: hints[field.name] for field in fields(kind)}


def without_none(kind: Any) -> Any:  # noqa: ANN401
    """Return ``X`` for ``X | None``, and anything else as it is."""
    if get_origin(kind) in {Union, UnionType}:
        members = [part for part in get_args(kind) if part is not type(None)]
        return members[0] if len(members) == 1 else kind
    return kind
