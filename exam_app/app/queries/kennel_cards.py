"""The shelter's animals and their exams, as kennel cards need them."""

from collections.abc import Iterable

from exam_app.app.queries.bite_concerns import those_with_concern
from exam_app.app.queries.kept_records import read_kept
from exam_app.domain.animal.signalment import Animal
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.kennel_card import Line, is_by_veterinarian, kennel_card
from exam_app.record.plain_form import from_plain
from exam_app.store.repositories.rows import ClosedExam, OpenExam
from exam_app.store.vault.vault import Vault

_LOOKED_THROUGH = 500


def shelter_rows(vault: Vault) -> list[tuple[ClosedExam | OpenExam, bool]]:
    """Return each animal taken in or examined in a shelter by its newest exam.

    Beside it stands whether any exam of the animal tells of a bite.
    """
    drafts, closed = vault.drafts.open(), vault.closed.latest(_LOOKED_THROUGH)
    housed = housed_animals(drafts, closed)
    with_concern = those_with_concern(vault, housed)
    newest: dict[str, ClosedExam | OpenExam] = {}
    rows: list[ClosedExam | OpenExam] = [*drafts, *closed]
    for row in rows:
        newest.setdefault(row.animal_id, row)
    return [(row, key in with_concern) for key, row in newest.items() if key in housed]


def housed_animals(
    drafts: Iterable[OpenExam], closed: Iterable[ClosedExam]
) -> frozenset[str]:
    """Return the ids of the animals taken in or examined in a shelter."""
    rows: list[ClosedExam | OpenExam] = [*drafts, *closed]
    return frozenset(
        row.animal_id
        for row in rows
        if row.scope == Scope.INTAKE.value or row.setting == Setting.SHELTER.value
    )


def card_of(vault: Vault, animal_id: str) -> tuple[Animal, tuple[Line, ...]] | None:
    """Write the card of an animal from every exam of it; None when there is none.

    Returns:
        The animal as examined last, and the lines of ``kennel_card``.

    Raises:
        RecordError: A signed record does not verify or cannot be read.
    """
    exams = exams_of(vault, animal_id)
    if not exams:
        return None
    newest, *earlier = exams
    was_seen = any(is_by_veterinarian(exam) for exam in exams if exam.is_closed)
    lines = kennel_card(newest, was_seen_by_veterinarian=was_seen, earlier=earlier)
    return newest.animal, lines


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
