"""The shelter's animals and their exams, as kennel cards need them."""

from collections.abc import Iterable
from dataclasses import dataclass

from exam_app.app.exam_words import closed_line, draft_line
from exam_app.app.queries.bite_concerns import those_with_concern
from exam_app.app.queries.kept_records import read_kept
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.kennel_card import Line, is_by_veterinarian, kennel_card
from exam_app.record.plain_form import from_plain
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from exam_app.store.vault.vault import Vault

_LOOKED_THROUGH = 500


@dataclass(frozen=True, slots=True)
class KennelRow:
    """One animal in the list of cards.

    Attributes:
        words: Its newest exam, open or closed.
        has_concern: Whether any exam of it tells of a bite.
    """

    animal_id: str
    name: str
    words: str
    has_concern: bool


@dataclass(frozen=True, slots=True)
class Card:
    """One kennel card.

    Attributes:
        name: The animal's name.
        lines: See ``kennel_card``.
        is_demo: Whether the animal is invented.
    """

    name: str
    lines: tuple[Line, ...]
    is_demo: bool


def shelter_rows(vault: Vault) -> list[KennelRow]:
    """Return a row for each animal taken in or examined in a shelter."""
    drafts, closed = vault.drafts.open(), vault.closed.latest(_LOOKED_THROUGH)
    housed = housed_animals(drafts, closed)
    with_concern = those_with_concern(vault, housed)
    named = [(row.animal_id, row.name, draft_line(row)) for row in drafts]
    named += [(r.animal_id, r.name, closed_line(r)) for r in closed]
    newest: dict[str, KennelRow] = {}
    for key, name, words in named:
        if key in housed:
            newest.setdefault(key, KennelRow(key, name, words, key in with_concern))
    return list(newest.values())


def housed_animals(
    drafts: Iterable[OpenExam], closed: Iterable[ClosedExam]
) -> frozenset[str]:
    """Return the ids of the animals taken in or examined in a shelter."""
    said: list[tuple[str, object, object]]
    said = [(row.animal_id, row.scope, row.setting) for row in drafts]
    said += [(row.animal_id, row.scope, row.setting) for row in closed]
    return frozenset(
        animal_id
        for animal_id, scope, setting in said
        if scope == Scope.INTAKE.value or setting == Setting.SHELTER.value
    )


def card_of(vault: Vault, animal_id: str) -> Card | None:
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
    return Card(animal.name, lines, animal.is_demo)


def exams_of(vault: Vault, animal_id: str) -> list[Exam]:
    """Return an animal's exams, newest first: open ones, then closed ones."""
    drafts = [
        from_plain(Exam, plain)
        for row in vault.drafts.of_animal(animal_id)
        if (plain := vault.drafts.get(row.exam_id)) is not None
    ]
    rows = vault.closed.for_animal(animal_id)
    kept = [read_kept(vault, row.exam_id) for row in rows]
    return [*drafts, *(record.exam for record in kept if record is not None)]
