"""Read protocol values into their shapes and write them back as canonical text.

Rules kept here: a text stays a text and a number a number, nothing is coerced; no
float passes, decimals are text in the content; an unknown key is a fault; content
is one JSON text with sorted keys, so that equal protocols have equal hashes.
"""

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import Any, ClassVar, Self, TypeVar

from cattrs import BaseValidationError, Converter, transform_error
from cattrs.errors import ForbiddenExtraKeysError
from cattrs.gen import make_dict_structure_fn, make_dict_unstructure_fn, override

from exam_app.domain.errors import ExamError
from exam_app.domain.measure.counting import CountKind
from exam_app.domain.measure.known_units import Unit
from exam_app.domain.measure.units import Measure
from exam_app.domain.protocol.intervals import ReferenceInterval
from exam_app.domain.protocol.protocol import (
    Caution,
    Clause,
    LifeStage,
    Region,
    Scope,
    Source,
    SpeciesProtocol,
    Term,
    Vital,
    VitalKind,
)
from exam_app.domain.protocol.scales import Scale
from exam_app.domain.protocol.urgent_signs import UrgentSign
from exam_app.domain.protocol.weight_rules import TapeMeasure, WeightRule


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a protocol file.

    Attributes:
        file: Name of the file.
        key: Where in the file, as ``regions(eyes).terms(discharge).label``.
        reason: What is wrong, in plain words.
    """

    file: str
    key: str
    reason: str

    def __str__(self) -> str:
        """Return the fault as one line."""
        return f"{self.file}: {self.key}: {self.reason}"


class ProtocolFileError(ExamError):
    """A protocol file cannot be used; ``problems`` holds every fault found."""

    advice: ClassVar[str] = (
        "The protocol file has faults and is not used; exams already begun are safe. "
        "Correct each fault listed, then load the file again."
    )

    def __init__(self, path: str, problems: tuple[Fault, ...]) -> None:
        """Keep the file's name in ``path`` and all its faults in ``problems``."""
        super().__init__("\n".join(str(problem) for problem in problems))
        self.path = path
        self.problems = problems

    @classmethod
    def of(cls, path: str, key: str, reason: str) -> Self:
        """Return the refusal of a file for one fault."""
        return cls(path, (Fault(path, key, reason),))


class ProtocolTooNewError(ProtocolFileError):
    """The content was written by a later version of this program."""

    advice: ClassVar[str] = (
        "This protocol was written by a later version of the program. "
        "Update the program, then open it again; nothing was changed."
    )


# 2 declares what vitals and parts are; 3 which finds are wounds, and the heading that
# an urgent sign is listed under; 4 other ways to say a thing. A content is written in
# the first format that holds what it says: it stays readable and keeps its hash.
FORMAT = 4
_WITHOUT_SAID = 3
# A protocol is six levels deep. Ten thousand end the whole program in a browser,
# where what is parsed stands on a small stack that nothing guards.
_DEEPEST = 32
_STRING_OR_BRACKET = re.compile(r'"(?:[^"\\]|\\.)*"|[\[\]{}]', re.DOTALL)
Raw = dict[str, Any]

_T = TypeVar("_T")

# What a file calls ``id``. Innermost first: a class is generated with the hooks of its
# parts in place.
_ID_FIELDS: dict[type, str] = {
    Scale: "scale_id",
    Unit: "unit_id",
    Measure: "measure_id",
    Source: "source_id",
    Clause: "clause_id",
    Term: "term_id",
    Region: "region_id",
    Vital: "vital_id",
    ReferenceInterval: "interval_id",
    UrgentSign: "sign_id",
    Caution: "caution_id",
    LifeStage: "stage_id",
    TapeMeasure: "measure_id",
    WeightRule: "rule_id",
}


def _exactly(kind: type) -> Any:  # noqa: ANN401 - a hook of cattrs
    def structure(value: object, _: object) -> object:
        if type(value) is not kind:
            msg = f"expected {kind.__name__}, found {type(value).__name__}"
            raise TypeError(msg)
        return value

    return structure


def _decimal(value: object, _: object) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, (str, int, Decimal)):
        msg = f"expected a number, found {type(value).__name__}"
        raise TypeError(msg)
    try:
        number = Decimal(value)
    except InvalidOperation:
        msg = f"{value!r} is no number"
        raise ValueError(msg) from None
    if not number.is_finite():
        msg = f"{value} is no number to compare with"
        raise ValueError(msg)
    return number


def _word_of(value: object, kind: type[StrEnum]) -> StrEnum:
    known = [member.value for member in kind]
    if value not in known:
        msg = f"{value!r} is none of {', '.join(known)}"
        raise ValueError(msg)
    return kind(value)


def _make_converter() -> Converter:
    converter = Converter(forbid_extra_keys=True, omit_if_default=True)
    for kind in (str, int, bool):
        converter.register_structure_hook(kind, _exactly(kind))
    for words in (Scope, VitalKind, CountKind):
        converter.register_structure_hook(words, _word_of)
    converter.register_structure_hook(Decimal, _decimal)
    converter.register_unstructure_hook(Decimal, lambda number: format(number, "f"))
    for shape, id_field in _ID_FIELDS.items():
        named: Any = {id_field: override(rename="id")}
        structure: Any = make_dict_structure_fn(shape, converter, **named)
        converter.register_structure_hook(shape, structure)
        named["_cattrs_omit_if_default"] = True
        unstructure: Any = make_dict_unstructure_fn(shape, converter, **named)
        converter.register_unstructure_hook(shape, unstructure)
    return converter


_CONVERTER = _make_converter()


def structure(kind: type[_T], raw: object) -> _T:
    """Return the shape that a table of a file describes.

    Raises:
        BaseValidationError: A key is missing, unknown or of the wrong kind.
    """
    return _CONVERTER.structure(raw, kind)


def structure_protocol(name: str, raw: Mapping[str, Any]) -> SpeciesProtocol:
    """Return the protocol that a completed table describes.

    Args:
        name: File name for the faults.
        raw: The table, shared parts merged in.

    Raises:
        ProtocolFileError: A key is missing, unknown or of the wrong kind; every such
            fault is listed.
    """
    try:
        return structure(SpeciesProtocol, raw)
    except BaseValidationError as error:
        lines = transform_error(error, path="", format_exception=_reason)
        problems = tuple(_fault(name, line, raw) for line in lines)
        raise ProtocolFileError(name, problems) from error


def write_content(protocol: SpeciesProtocol) -> bytes:
    """Return the protocol as one canonical JSON text in UTF-8."""
    table = _CONVERTER.unstructure(protocol)
    written = FORMAT if next(ways_said(table), None) else _WITHOUT_SAID
    raw = {"format": written, **table}
    text = json.dumps(
        raw, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False
    )
    return text.encode()


def read_content(name: str, content: bytes) -> Raw:
    """Return the table of a canonical content.

    Raises:
        ProtocolFileError: The bytes are no JSON table, or nested without sense.
        ProtocolTooNewError: They are of a later format.
    """
    try:
        text = content.decode()
        if _depth_of(text) > _DEEPEST:
            told = f"more than {_DEEPEST} levels deep"
            raise ProtocolFileError.of(name, "(whole text)", told)
        raw = json.loads(text, parse_float=Decimal)
    except ValueError as error:
        told = "no JSON text in UTF-8"
        raise ProtocolFileError.of(name, "(whole text)", told) from error
    if not isinstance(raw, dict):
        raise ProtocolFileError.of(name, "(whole text)", "expected a table")
    return in_this_format(name, raw, raw.pop("format", None))


def in_this_format(name: str, raw: Raw, written: object) -> Raw:
    """Return a table of this or an earlier format as this one writes it.

    Args:
        name: File name for the faults.
        raw: The table without its number; changed in place.
        written: The number of the format it was written in.

    Raises:
        ProtocolFileError: The number is none.
        ProtocolTooNewError: It is of a later format.
    """
    if type(written) is not int or written < 1:
        raise ProtocolFileError.of(name, "format", "missing or no number")
    if written < FORMAT and next(ways_said(raw), None):
        told = f"“said” needs format = {FORMAT}"
        raise ProtocolFileError.of(name, "format", told)
    if written > FORMAT:
        told = f"{written} is later than {FORMAT}"
        raise ProtocolTooNewError.of(name, "format", told)
    if written == 1:
        for entry in (*tables(raw.get("vitals")), *tables(raw.get("regions"))):
            _say_what_names_said(entry)
    return raw


def ways_said(table: object) -> Iterator[str]:
    """Yield every other way to say a thing that a table holds, at any depth."""
    if isinstance(table, Mapping):
        for key, value in table.items():
            if key == "said" and isinstance(value, (list, tuple)):
                yield from (str(way) for way in value)
            else:
                yield from ways_said(value)
    elif isinstance(table, (list, tuple)):
        for one in table:
            yield from ways_said(one)


def tables(value: object) -> list[Raw]:
    """Return the tables of a list that may be none."""
    if not isinstance(value, list):
        return []
    return [entry for entry in value if isinstance(entry, dict)]


def _say_what_names_said(entry: Raw) -> None:
    """Declare what format 1 read from the id and unit of a vital or a part."""
    named, measure = str(entry.get("id", "")), entry.get("measure")
    unit = measure.get("unit") if isinstance(measure, dict) else ""
    kind = entry.get("kind")
    if kind == VitalKind.CHOICE and named.endswith("_signs"):
        entry["several"] = True
    if kind == VitalKind.RATE and unit == "beat/min" and "pulse" in named:
        entry["counts"] = CountKind.PULSE.value
    if kind == VitalKind.MEASURE and unit == "kg":
        entry["is_body_weight"] = True
    if kind is None and named == "distance":
        entry["untouched"] = True


def _depth_of(text: str) -> int:
    """Give how deep brackets stand in one another, those in strings aside."""
    depth = deepest = 0
    for found in _STRING_OR_BRACKET.finditer(text):
        mark = found[0]
        depth += (mark in "[{") - (mark in "]}")
        deepest = max(deepest, depth)
    return deepest


def _reason(error: BaseException, _: type | None) -> str:
    if isinstance(error, KeyError):
        return "missing"
    if isinstance(error, ForbiddenExtraKeysError):
        return f"unknown key {', '.join(sorted(error.extra_fields))}"
    return str(error) or type(error).__name__


def _fault(name: str, line: str, raw: Mapping[str, Any]) -> Fault:
    reason, _, path = line.rpartition(" @ ")
    return Fault(name, _with_ids(path.lstrip("."), raw) or "(whole file)", reason)


_STEP = re.compile(r"([A-Za-z_]+)|\[(\d+)\]")


def _with_ids(path: str, raw: object) -> str:
    """Turn ``regions[2].label`` into ``regions(eyes).label``."""
    shown = ""
    place: object = raw
    for word, index in _STEP.findall(path):
        if word:
            place = place.get(word) if isinstance(place, Mapping) else None
            shown += f".{word}" if shown else word
            continue
        number = int(index)
        is_inside = isinstance(place, list) and number < len(place)
        place = place[number] if is_inside and isinstance(place, list) else None
        named = place.get("id") if isinstance(place, Mapping) else None
        shown += f"({named or number + 1})"
    return shown
