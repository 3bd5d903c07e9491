"""One closed exam as JSON that any program reads, and the schema of that JSON.

Every field of the exam stands under its own name, at its default too, so that what was
not said is seen not to be said. Beside the fields stand the same statements in words:
each part with its state, what was left undone, the written record. Numbers are texts
with their digits as typed, since a JSON number becomes a float on its way; times are
those of ISO 8601 with their offset. The schema follows from the types of the fields.

Private notes are written only when asked for by name. Owner details stand beside a
record, never in it, and so are in no such file.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from decimal import Decimal
from enum import Enum
from types import UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from exam_app.domain.exam.closing import gaps
from exam_app.domain.exam.exam import Correction, Exam, keys_in_scope, words_for
from exam_app.domain.exam.photographs import settled_photos
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.review import region_label, vital_label
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol, split_key
from exam_app.domain.wording.exam_wording import describe_finding, describe_vital
from exam_app.domain.wording.region_wording import rest_words
from exam_app.domain.wording.written_record import Section, write_record
from exam_app.language.catalogue import in_english

Json = dict[str, Any]
FORMAT, VERSION = "exam-record-json", 1
SCHEMA_NAME = "record.schema.json"
_DIALECT = "https://json-schema.org/draft/2020-12/schema"
_ABOUT = (
    "A view of a signed record, for other programs. The signed bytes, whose SHA-256 is "
    "record_sha256, are the record."
)
_TIME = r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}[+-]\d\d:\d\d$"
_NUMBER = r"^-?[0-9]+(\.[0-9]+)?(E[+-]?[0-9]+)?$"
_HASH = {"type": "string", "pattern": "^[0-9a-f]{64}$"}


@dataclass(frozen=True, slots=True)
class PartInWords:
    """What a record says of one part.

    Attributes:
        key: Its region key.
        side: ``left`` or ``right`` where the key says one, else empty.
        is_gap: Whether something of it was left undone.
        findings: In words, each with side, place and size, in the order found.
        rest: What was said of the part apart from what was found there.
    """

    key: str
    label: str
    side: str
    state: RegionState
    is_gap: bool
    reason: str
    findings: tuple[str, ...]
    rest: str
    remark: str


@dataclass(frozen=True, slots=True)
class VitalInWords:
    """What a record says of one vital: its words, and its flag as shown."""

    vital_id: str
    label: str
    words: str
    flag: str


@in_english()
def record_json(
    exam: Exam,
    protocol: SpeciesProtocol,
    exam_hash: str,
    key_id: bytes,
    *,
    for_veterinarian: bool = False,
    notes: Sequence[Section] = (),
    corrections: Sequence[Correction] = (),
) -> bytes:
    """Return a closed exam as JSON in UTF-8.

    Args:
        protocol: The protocol the exam names by hash.
        exam_hash: SHA-256 of the signed bytes, in hexadecimal.
        key_id: Of the key that signed them, 16 bytes.
        for_veterinarian: Whether private notes are written too.
        notes: Signed notes beside the record: who signed it, then the words.
        corrections: What those notes say should read otherwise.
    """
    written = write_record(
        exam, protocol, for_veterinarian=for_veterinarian, beside=corrections
    )
    private = exam.private_notes if for_veterinarian else ()
    shown = replace(exam, private_notes=private, photos=settled_photos(exam))
    whole = {
        "format": FORMAT,
        "version": VERSION,
        "about": _ABOUT,
        "is_demo": exam.is_demo,
        "record_sha256": exam_hash,
        "signed_by_key": key_id.hex(),
        "protocol": protocol.label,
        "title": written.title,
        "headline": list(written.headline),
        "exam": plain(shown),
        "vitals_in_words": plain(_vitals(exam, protocol)),
        "parts_in_words": plain(_parts(exam, protocol)),
        "gaps": list(gaps(exam, protocol)),
        "written": plain(written.sections),
        "notes_beside": plain(tuple(notes)),
        "corrections_beside": plain(tuple(corrections)),
    }
    return (json.dumps(whole, ensure_ascii=False, indent=1) + "\n").encode(
        "utf-8", "replace"
    )


def _parts(exam: Exam, protocol: SpeciesProtocol) -> tuple[PartInWords, ...]:
    asked = keys_in_scope(exam, protocol)
    every = dict.fromkeys((*asked, *exam.regions))
    return tuple(_part(exam, protocol, key) for key in every)


def _part(exam: Exam, protocol: SpeciesProtocol, key: str) -> PartInWords:
    entry, side = exam.entry(key), split_key(key)[1]
    return PartInWords(
        key,
        region_label(protocol, key, words_for(exam)),
        side or "",
        entry.state,
        entry.is_gap,
        entry.reason,
        tuple(describe_finding(one, protocol) for one in entry.findings),
        rest_words(exam, protocol, key),
        entry.remark,
    )


def _vitals(exam: Exam, protocol: SpeciesProtocol) -> tuple[VitalInWords, ...]:
    said = []
    for vital_id, entry in exam.vitals.items():
        vital = protocol.vital(vital_id)
        if vital is not None and entry.is_answered:
            label = vital_label(vital, words_for(exam))
            words = describe_vital(entry, vital, protocol, exam)
            flag = entry.flag.sentence if entry.flag else ""
            said.append(VitalInWords(vital_id, label, words, flag))
    return tuple(said)


def plain(value: object) -> Any:  # noqa: ANN401 - any JSON
    """Return a value of the domain as JSON holds it, every field by its name."""
    if isinstance(value, Moment):
        return value.local().isoformat(timespec="milliseconds")
    if isinstance(value, Enum | Decimal):
        return value.value if isinstance(value, Enum) else str(value)
    if is_dataclass(value):
        value = {field.name: getattr(value, field.name) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(part) for key, part in value.items()}
    if isinstance(value, tuple | list):
        return [plain(part) for part in value]
    return value


def record_schema() -> Json:
    """Return the JSON Schema of ``record_json``, by the types of the exam's fields."""
    made: dict[str, Json] = {}
    texts = {"type": "array", "items": {"type": "string"}}
    properties = {
        "format": {"const": FORMAT},
        "version": {"const": VERSION},
        "about": {"type": "string"},
        "is_demo": {"type": "boolean"},
        "record_sha256": _HASH,
        "signed_by_key": {"type": "string", "pattern": "^[0-9a-f]{32}$"},
        "protocol": {"type": "string"},
        "title": {"type": "string"},
        "headline": texts,
        "exam": _schema_of(Exam, made),
        "vitals_in_words": _schema_of(tuple[VitalInWords, ...], made),
        "parts_in_words": _schema_of(tuple[PartInWords, ...], made),
        "gaps": texts,
        "written": _schema_of(tuple[Section, ...], made),
        "notes_beside": _schema_of(tuple[Section, ...], made),
        "corrections_beside": _schema_of(tuple[Correction, ...], made),
    }
    return {
        "$schema": _DIALECT,
        "title": "One closed exam",
        "description": _ABOUT,
        **_object(properties),
        "$defs": made,
    }


def _object(properties: Json) -> Json:
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


_SIMPLE: dict[object, Json] = {
    str: {"type": "string"},
    int: {"type": "integer"},
    bool: {"type": "boolean"},
    type(None): {"type": "null"},
    Decimal: {"type": "string", "pattern": _NUMBER},
    Moment: {"type": "string", "pattern": _TIME},
}


def _schema_of(kind: Any, made: dict[str, Json]) -> Json:  # noqa: ANN401
    """Return the schema of a type; that of a dataclass is made once and pointed to."""
    if kind in _SIMPLE:
        return _SIMPLE[kind]
    origin, arguments = get_origin(kind), get_args(kind)
    if origin in (Union, UnionType):
        return {"anyOf": [_schema_of(one, made) for one in arguments]}
    if origin is tuple:
        return {"type": "array", "items": _schema_of(arguments[0], made)}
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return {
            "type": "object",
            "additionalProperties": _schema_of(arguments[1], made),
        }
    if issubclass(kind, Enum):
        return {"enum": [member.value for member in kind]}
    if kind.__name__ not in made:
        # Set before its fields are looked at: a type may hold its own kind.
        made[kind.__name__] = {}
        hints = get_type_hints(kind)
        of_fields = {f.name: _schema_of(hints[f.name], made) for f in fields(kind)}
        made[kind.__name__] = _object(of_fields)
    return {"$ref": f"#/$defs/{kind.__name__}"}


def schema_json() -> bytes:
    """Return the schema as a file's content."""
    return (json.dumps(record_schema(), ensure_ascii=False, indent=1) + "\n").encode()
