"""Animals as they are kept: the animal's own fields, and its owner beside them."""

from collections.abc import Iterable
from typing import ClassVar

from exam_app.app.exam_start import open_findings
from exam_app.app.queries.kept_records import read_kept
from exam_app.app.session import Session
from exam_app.domain.animal.chips import normalise_chip
from exam_app.domain.animal.signalment import Animal, Owner
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import EarlierFinding
from exam_app.record.plain_form import from_plain, to_plain
from exam_app.store.repositories.rows import KnownAnimal

OWNER = "owner"
_LOOKED_BACK = 6


class AnimalNotHereError(ExamError):
    """An address names an animal that this device does not know."""

    advice: ClassVar[str] = (
        "This device does not know that animal. Nothing was changed. "
        "Look for it in the list, or add it."
    )


def fetch(session: Session, animal_id: str) -> tuple[Animal, Owner]:
    """Return an animal and its owner.

    Raises:
        AnimalNotHereError: There is none of that id.
    """
    plain = session.vault.animals.get(animal_id)
    if plain is None:
        raise AnimalNotHereError
    kept = plain.pop(OWNER, None)
    return from_plain(Animal, plain), from_plain(Owner, kept) if kept else Owner()


def others_with_chip(session: Session, typed: str, but: Animal) -> list[KnownAnimal]:
    """Return the other animals here whose chip number may be the one typed."""
    number = normalise_chip(typed)
    found = session.vault.animals.search(number) if number else []
    return [animal for animal in found if animal.animal_id != but.animal_id]


async def keep(session: Session, animal: Animal, owner: Owner) -> None:
    """Store an animal with its owner; returns after the commit."""

    def put() -> None:
        before = session.vault.animals.get(animal.animal_id)
        plain = to_plain(animal, before=before)
        kept_owner = before.get(OWNER) if before else None
        plain[OWNER] = to_plain(owner, before=kept_owner)
        session.vault.animals.put(plain)

    await session.save(put)


def earlier_findings(session: Session, animal_id: str) -> tuple[EarlierFinding, ...]:
    """Return what the animal's records left to be looked at, those of others too.

    The newest exam counts, and of older ones what no later exam was asked about: a
    record that a day pack brought may be older than one that was made here.
    """
    rows = session.vault.closed.for_animal(animal_id)[:_LOOKED_BACK]
    read = (read_kept(session.vault, row.exam_id) for row in rows)
    kept = [record for record in read if record is not None]
    kept.sort(key=lambda record: record.exam.started.utc_ms, reverse=True)
    return unasked([(r.exam, open_findings(r.exam, r.loaded.protocol)) for r in kept])


def unasked(
    newest_first: Iterable[tuple[Exam, tuple[EarlierFinding, ...]]],
) -> tuple[EarlierFinding, ...]:
    """Return the open findings of exams that no newer one was asked about."""
    asked: set[str] = set()
    found: list[EarlierFinding] = []
    for exam, left in newest_first:
        found += [finding for finding in left if finding.finding_id not in asked]
        asked |= {finding.finding_id for finding in (*left, *exam.earlier)}
    return tuple(found)
