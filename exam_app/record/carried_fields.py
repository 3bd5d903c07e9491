"""Unknown fields of a stored form are carried into the form that replaces it.

A newer version may have written fields this one does not know. They stay with the
part they were found in: a part is found again by its own id, or, having none, only if
nothing known about it has changed. So a field never moves to another part.
"""

from collections.abc import Iterable, Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from types import UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from exam_app.record.plain_form import EVIDENCE_KINDS, is_evidence

_IDENTITIES = (
    "person_id",
    "finding_id",
    "entry_id",
    "clause_id",
    "scale_id",
    "sha256",
)


def carry_unknown(kind: Any, now: object, before: object) -> object:  # noqa: ANN401
    """Return the new plain form with what the one before it held beyond our fields.

    Args:
        kind: The type both forms are of.
        now: The new plain form; not changed.
        before: The stored plain form; nothing in it is trusted.
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
