"""The shelter's animals and their exams, as kennel cards need them."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from exam_app.domain.exam import Exam
from exam_app.domain.kennel_card import Line, is_by_veterinarian, kennel_card
from exam_app.domain.protocol import Scope
from exam_app.domain.vitals import Setting
from exam_app.record.draft_codec import exam_from_plain
from exam_app.ui.kept_records import read_kept

if TYPE_CHECKING:
    from exam_app.store.vault import Vault

_LOOKED_THROUGH = 500


@dataclass(frozen=True, slots=True)
class Card:
    """One kennel card.

    Attributes:
        name: The animal's name.
        lines: See ``kennel_card``.
        is_demo: Whether the animal is invented.
        newest_id: ``exam_id`` of the newest exam it was written from.
    """

    name: str
    lines: tuple[Line, ...]
    is_demo: bool
    newest_id: str


def shelter_rows(vault: "Vault") -> list[Mapping[str, Any]]:
    """Return the newest row of each animal taken in or examined in a shelter."""
    rows = [*vault.drafts.open(), *vault.closed.latest(_LOOKED_THROUGH)]
    housed = {row.get("animal_id") for row in rows if is_shelter(row)}
    newest: dict[Any, Mapping[str, Any]] = {}
    for row in rows:
        if row.get("animal_id") in housed:
            newest.setdefault(row["animal_id"], row)
    return list(newest.values())


def is_shelter(row: Mapping[str, Any]) -> bool:
    """Return whether a row of a list tells of an animal in a shelter."""
    is_intake = row.get("scope") == Scope.INTAKE.value
    return is_intake or row.get("setting") == Setting.SHELTER.value


def card_of(vault: "Vault", animal_id: str) -> Card | None:
    """Write the card of an animal from every exam of it; None when there is none.

    Raises:
        RecordError: A signed record does not verify or cannot be read.
    """
    exams = exams_of(vault, animal_id)
    if not exams:
        return None
    newest, *earlier = exams
    was_seen = any(is_by_veterinarian(exam) for exam in exams if exam.is_closed)
    lines = kennel_card(newest, was_seen_by_veterinarian=was_seen, earlier=earlier)
    animal = newest.animal
    return Card(animal.name, lines, animal.is_demo, newest.exam_id)


def exams_of(vault: "Vault", animal_id: str) -> list[Exam]:
    """Return an animal's exams, newest first: open ones, then closed ones."""
    drafts = [
        exam_from_plain(plain)
        for row in vault.drafts.open()
        if row.get("animal_id") == animal_id
        and (plain := vault.drafts.get(row["exam_id"])) is not None
    ]
    rows = vault.closed.for_animal(animal_id)
    kept = [read_kept(vault, row["exam_id"]) for row in rows]
    return [*drafts, *(record.exam for record in kept if record is not None)]
