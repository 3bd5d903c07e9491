"""Animals as they are kept: the animal's own fields, and its owner beside them."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from exam_app.app.queries.history import read_history
from exam_app.app.session import Session
from exam_app.domain.animal.chips import normalise_chip
from exam_app.domain.animal.history import ExamPast
from exam_app.domain.animal.signalment import Animal, Owner
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.findings import EarlierFinding
from exam_app.language.catalogue import to_translate
from exam_app.record.plain_form import from_plain, to_plain
from exam_app.store.repositories.rows import KnownAnimal

OWNER = "owner"


class AnimalNotHereError(ExamError):
    """An address names an animal that this device does not know."""

    advice: ClassVar[str] = to_translate(
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


@dataclass(frozen=True, slots=True)
class LastTime:
    """What the animal's records say to whoever examines it next.

    Attributes:
        findings: What was left to be looked at, those of others too.
        weight: The last weight in words, with its day; empty when none is known.
        has_history: Whether there are records at all.
        marks: The highest number that a mark in them has; 0 for none.
    """

    findings: tuple[EarlierFinding, ...] = ()
    weight: str = ""
    has_history: bool = False
    marks: int = 0


def last_time(session: Session, animal_id: str) -> LastTime:
    """Return what the animal's records left to be looked at, and its last weight.

    The newest exam counts, and of older ones of any age what no later exam was asked
    about: a record that a day pack brought may be older than one that was made here.
    """
    read = read_history(session.vault, animal_id, most=None)
    history = read.history
    left = [(past, past.left) for past in reversed(history.exams)]
    weights = [one.values[-1] for one in history.series if one.is_body_weight]
    last = max(weights, key=lambda value: value.at, default=None)
    weight = f"{last.shown}, {last.at.local():%Y-%m-%d}" if last else ""
    marks = max((past.marks for past in history.exams), default=0)
    return LastTime(unasked(left), weight, bool(read.rows), marks)


def unasked(
    newest_first: Iterable[tuple[ExamPast, tuple[EarlierFinding, ...]]],
) -> tuple[EarlierFinding, ...]:
    """Return the open findings of exams that no newer one was asked about."""
    asked: set[str] = set()
    found: list[EarlierFinding] = []
    for exam, left in newest_first:
        found += [finding for finding in left if finding.finding_id not in asked]
        asked |= {finding.finding_id for finding in (*left, *exam.earlier)}
    return tuple(found)
