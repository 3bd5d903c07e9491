"""Questions of identity as a person reads them: may be the same, and clashes.

Nothing is joined or overwritten by itself. Both sides are shown with what speaks for
them; what differs is marked, since that is what has to be looked at.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from dataclasses import fields as dataclass_fields
from typing import Any

from exam_app.domain.animal.ages import noted_age
from exam_app.domain.animal.signalment import AgeBasis, Animal
from exam_app.exchange.identity import Join
from exam_app.exchange.merge import Clash
from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.store.repositories.rows import ClosedExam

Fields = Mapping[str, Any]

FIELD_LABELS = {
    "name": to_translate("Name"),
    "species": to_translate("Species"),
    "breed": to_translate("Breed"),
    "sex": to_translate("Sex"),
    "age": to_translate("Age"),
    "colour": to_translate("Colour"),
    "chip": to_translate("Chip"),
    "tag": to_translate("Tag"),
    "place": to_translate("Place"),
    "behaviour": to_translate("Behaviour"),
    "dangers": to_translate("What can hurt the examiner"),
    "absent": to_translate("Parts not present"),
    "owner.name": to_translate("Owner"),
    "owner.phone": to_translate("Owner's phone"),
    "owner.address": to_translate("Owner's address"),
}
REASONS = {
    "chip": to_translate("Both carry the same chip number."),
    "owner and name": to_translate("Owner and name are the same. That can be chance."),
}
NOTHING = to_translate("nothing noted")
# Fields whose values are words of a list; those of the others are somebody's own.
_LISTED = ("species", "sex")


@dataclass(frozen=True, slots=True)
class Side:
    """One of two animals.

    Attributes:
        lines: Label, value, and whether the other side says something else.
        seen: Where its records come from.
    """

    name: str
    lines: tuple[tuple[str, str, bool], ...]
    seen: str


@dataclass(frozen=True, slots=True)
class JoinQuestion:
    """Two animals that may be one."""

    key: str
    because: str
    sides: tuple[Side, Side]


@dataclass(frozen=True, slots=True)
class ClashQuestion:
    """One field that two sides changed differently."""

    key: str
    animal: str
    label: str
    ours: str
    theirs: str
    came: str


def join_question(
    proposal: Join, first: Fields, second: Fields, seen: tuple[str, str]
) -> JoinQuestion:
    """Lay two animals side by side.

    Args:
        first: Flat fields of the one.
        second: Flat fields of the other.
        seen: Where the records of each come from.
    """
    names = [
        n for n in FIELD_LABELS if not (_is_empty(first, n) and _is_empty(second, n))
    ]
    return JoinQuestion(
        proposal.key,
        tr(REASONS[proposal.reason]) if proposal.reason in REASONS else proposal.reason,
        (
            _side(first, second, names, seen[0]),
            _side(second, first, names, seen[1]),
        ),
    )


def _side(own: Fields, other: Fields, names: Sequence[str], seen: str) -> Side:
    lines = tuple(
        (tr(FIELD_LABELS[n]), shown_value(own.get(n), n), own.get(n) != other.get(n))
        for n in names
    )
    return Side(str(own.get("name") or tr("Unnamed")), lines, seen)


def seen_words(rows: Sequence[ClosedExam], names: Mapping[str, str]) -> str:
    """Say how many records an animal has here, since when, from which devices."""
    if not rows:
        return tr("no record here yet")
    devices = [names.get(row.device_id, tr("this computer")) for row in rows]
    days = sorted(row.started[:10] for row in rows)
    span = days[0]
    if days[0] != days[-1]:
        span = tr("{first} to {last}", first=days[0], last=days[-1])
    return tr_plural(
        "{count} record, {days}, from {devices}",
        "{count} records, {days}, from {devices}",
        len(rows),
        days=span,
        devices=", ".join(dict.fromkeys(devices)),
    )


def clash_question(clash: Clash, animal: str, device: str) -> ClashQuestion:
    """Lay two values of one field side by side."""
    return ClashQuestion(
        clash.key,
        animal or tr("Unnamed animal"),
        tr(FIELD_LABELS[clash.field]) if clash.field in FIELD_LABELS else clash.field,
        shown_value(clash.ours, clash.field),
        shown_value(clash.theirs, clash.field),
        tr("from {device}", device=device) if device else tr("from a device"),
    )


def shown_value(value: Any, field: str = "") -> str:  # noqa: ANN401
    """Write a field's value; an empty one in words.

    Args:
        field: Of which one it is, as ``FIELD_LABELS`` names it.
    """
    if _is_nothing(value):
        return tr(NOTHING)
    if isinstance(value, Mapping):
        return noted_age(_with_age(value))
    if isinstance(value, list | tuple):
        return ", ".join(str(item) for item in value)
    return tr(str(value)) if field in _LISTED else str(value)


def _is_nothing(value: Any) -> bool:  # noqa: ANN401
    if value in (None, "", [], {}):
        return True
    return isinstance(value, Mapping) and not noted_age(_with_age(value))


def _with_age(said: Fields) -> Animal:
    """Return an animal of which only the age is known."""
    known = {f.name for f in dataclass_fields(Animal)} & said.keys()
    fields: dict[str, Any] = {"animal_id": "", "name": "", "species": ""}
    fields |= {name: said[name] for name in known}
    fields["age_basis"] = AgeBasis(said.get("age_basis", AgeBasis.UNKNOWN.value))
    return Animal(**fields)


def _is_empty(fields: Fields, name: str) -> bool:
    return _is_nothing(fields.get(name))
