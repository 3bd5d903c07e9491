"""The converter between domain values and plain JSON-able values, and its limits.

Strict where cattrs is kind: a number is no text, a text is no list, one is not true.
Decimals travel as text, since a JSON number becomes a float somewhere on its way.
"""

import operator
import re
from collections.abc import Callable
from dataclasses import is_dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any, TypeVar, get_args, get_origin

from cattrs import Converter, transform_error
from cattrs.gen import make_dict_structure_fn

from exam_app.domain.measure.counting import CountAlong, Evidence, TapTimes
from exam_app.record.errors import DraftDamagedError

DEEPEST = 32
MOST_VALUES = 200_000
LARGEST_INTEGER = 2**63 - 1
_T = TypeVar("_T")
_DECIMAL = re.compile(r"-?\d{1,40}(\.\d{1,40})?(E[+-]?\d{1,3})?", re.ASCII)
EVIDENCE_KINDS = {"count": CountAlong, "taps": TapTimes}


def read_decimal(text: str) -> Decimal:
    """Return the finite decimal a text holds.

    Raises:
        ValueError: The text is no decimal number, or far too long for one.
    """
    if not _DECIMAL.fullmatch(text):
        msg = "no decimal number"
        raise ValueError(msg)
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


def structure(plain: object, kind: type[_T]) -> _T:
    """Build a domain value from its plain form.

    Raises:
        DraftDamagedError: Carries every fault with its path.
    """
    check_plain(plain)
    try:
        return _CONVERTER.structure(plain, kind)
    except Exception as error:
        raise DraftDamagedError(tuple(transform_error(error))) from error


def unstructure(value: object) -> dict[str, Any]:
    """Return the plain form of a dataclass; fields at their default are left out."""
    plain: dict[str, Any] = _CONVERTER.unstructure(value)
    return plain


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
            msg = f"no {kind.__name__}"
            raise TypeError(msg)
        return value

    return check


def _structure_decimal(value: object, _: object) -> Decimal:
    if not isinstance(value, str):
        msg = "a decimal number is kept as text"
        raise TypeError(msg)
    return read_decimal(value)


def _structure_text(value: object, kind: type[str]) -> str:
    """Return the text, or the member it names: every enum here is one of texts."""
    if type(value) is not str:
        msg = "no text"
        raise TypeError(msg)
    return value if kind is str else kind(value)


def _fields_hook(kind: Any, converter: Converter) -> Callable[[Any, Any], Any]:  # noqa: ANN401
    structure_fields = make_dict_structure_fn(kind, converter)

    def structure_dataclass(value: object, _: object) -> object:
        if not isinstance(value, dict):
            msg = "named fields are needed"
            raise TypeError(msg)
        return structure_fields(value, kind)

    return structure_dataclass


def _tuple_hook(kind: Any, converter: Converter) -> Callable[[Any, Any], Any]:  # noqa: ANN401
    as_list: Any = list.__class_getitem__(get_args(kind)[0])
    structure_list = converter.get_structure_hook(as_list)

    def structure_tuple(value: object, _: object) -> object:
        if not isinstance(value, list):
            msg = "a list is needed"
            raise TypeError(msg)
        return tuple(structure_list(value, as_list))

    return structure_tuple


def _evidence_hook(kind: Any, converter: Converter) -> Callable[[Any, Any], Any]:  # noqa: ANN401
    is_optional = type(None) in get_args(kind)

    def structure_evidence(value: object, _: object) -> object:
        if value is None and is_optional:
            return None
        if not isinstance(value, dict) or value.get("kind") not in EVIDENCE_KINDS:
            msg = "a count or taps are needed"
            raise TypeError(msg)
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
