"""Merge what two sides say of one animal, field by field.

Only what both changed differently is a clash; the value here stands and the other is
kept for a person. Nothing said is never a change that empties a field, unless the
other side says what it emptied.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

OPEN = "open"
OWNER = "owner"
CHIP = "chip"
AGE = "age"
# They say one thing together, so that no half of an age is ever merged.
_AGE_FIELDS = (
    "age_days",
    "age_on",
    "age_basis",
    "birth_date",
    "age_number",
    "age_unit",
)
CHANGED_FROM = "changed_from"
RECORD_KEYS = "record_keys"
_BESIDE = {CHANGED_FROM, RECORD_KEYS}
_NEVER_MERGED = {"animal_id", "version", "is_demo", *_BESIDE}


@dataclass(frozen=True, slots=True)
class Clash:
    """One field that both sides changed.

    Attributes:
        field: As ``flat`` names it.
        key: Names the clash among those kept; the others too are of a kept one.
        device_id: Of the other side.
        when_ms: When it was found, UTC milliseconds.
        state: ``open``, ``keep ours``, ``take theirs`` or ``erased``.
    """

    field: str
    ours: Any
    theirs: Any
    key: str = ""
    animal_id: str = ""
    device_id: str = ""
    when_ms: int = 0
    state: str = OPEN
    decided_by: str | None = None
    decided_ms: int | None = None


@dataclass(frozen=True, slots=True)
class Merged:
    """The animal as it stands after merging, and what a person must decide."""

    animal: dict[str, Any]
    clashes: tuple[Clash, ...]


def flat(animal: Mapping[str, Any]) -> dict[str, Any]:
    """Return an animal's fields by name, its owner's as ``owner.NAME``.

    What is said of its age is one field, ``age``.
    """
    apart = {OWNER, *_NEVER_MERGED, *_AGE_FIELDS}
    fields = {k: v for k, v in animal.items() if k not in apart}
    age = {k: animal[k] for k in _AGE_FIELDS if animal.get(k) not in (None, "")}
    owner = animal.get(OWNER) or {}
    named = {f"{OWNER}.{k}": v for k, v in owner.items() if k != "version"}
    return {**fields, **({AGE: age} if age else {}), **named}


def with_value(animal: Mapping[str, Any], name: str, value: Any) -> dict[str, Any]:  # noqa: ANN401
    """Return the animal with one flat field changed; an empty value removes it."""
    group, dot, rest = name.partition(".")
    if dot and group == OWNER:
        owner = _with(animal.get(OWNER) or {"version": 1}, rest, value)
        return {**animal, OWNER: owner}
    if name == AGE:
        other = {k: v for k, v in animal.items() if k not in _AGE_FIELDS}
        return {**other, **(value or {})}
    return _with(animal, name, value)


def merge(
    ours: Mapping[str, Any],
    theirs: Mapping[str, Any],
    known: tuple[Mapping[str, Any], ...],
) -> Merged:
    """Merge another side's animal into the one kept here.

    Args:
        ours: The animal as kept here, with its owner; empty when there is none.
        theirs: As the other side sent it; ``changed_from`` gives, by flat name, what
            a field was there before somebody changed it.
        known: Flat fields that the other side had before, as seen from it or sent
            to it; a value equal to one of them is no change of theirs.
    """
    if not ours:
        fields = {k: v for k, v in theirs.items() if k not in _BESIDE}
        return Merged(fields, ())
    said_before = theirs.get(CHANGED_FROM) or {}
    mine, other, animal = flat(ours), flat(theirs), dict(ours)
    clashes = []
    for name in [*other, *(n for n in said_before if n not in other)]:
        our, their = mine.get(name), other.get(name)
        before = (said_before[name],) if name in said_before else _values(known, name)
        if _same(our, their) or (name not in said_before and _is_in(their, before)):
            continue
        if _is_empty(our) or _is_in(our, before):
            animal = with_value(animal, name, their)
        elif not _is_empty(their) or name in said_before:
            clashes.append(Clash(name, our, their))
    return Merged(animal, tuple(clashes))


def changes_since(
    animal: Mapping[str, Any], before: Mapping[str, Any]
) -> dict[str, Any]:
    """Return by flat name what each field that changed was before; empty is ""."""
    now = flat(animal)
    names = dict.fromkeys([*before, *now])
    changed = (n for n in names if not _same(now.get(n), before.get(n)))
    return {n: "" if _is_empty(before.get(n)) else before[n] for n in changed}


def marks_of(animal: Mapping[str, Any]) -> dict[tuple[str, ...], str]:
    """Return what another animal may share only if it may be this one, and the reason.

    Case and spaces do not count; an animal without chip, owner or name has no mark.
    """
    fields = flat(animal)
    species, chip = str(fields.get("species") or ""), _key(fields, "chip")
    name, owner = _key(fields, "name"), _key(fields, f"{OWNER}.name")
    found: dict[tuple[str, ...], str] = {}
    if chip:
        found[species, chip] = CHIP
    if name and owner:
        found[species, name, owner] = "owner and name"
    return found


def _values(known: tuple[Mapping[str, Any], ...], name: str) -> tuple[Any, ...]:
    return tuple(values.get(name) for values in known)


def _key(fields: Mapping[str, Any], name: str) -> str:
    return "".join(str(fields.get(name) or "").casefold().split())


def _same(one: Any, two: Any) -> bool:  # noqa: ANN401
    return one == two or (_is_empty(one) and _is_empty(two))


def _is_in(value: Any, values: tuple[Any, ...]) -> bool:  # noqa: ANN401
    return any(_same(value, other) for other in values)


def _is_empty(value: Any) -> bool:  # noqa: ANN401
    return value in (None, "", [], {})


def _with(fields: Mapping[str, Any], name: str, value: Any) -> dict[str, Any]:  # noqa: ANN401
    if value is None:
        return {k: v for k, v in fields.items() if k != name}
    return {**fields, name: value}
