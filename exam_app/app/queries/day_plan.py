"""Which animals are planned for today, and where they stand.

A plan is a convenience of this device and no part of any record; yesterday's plan is
over by itself, and what was not examined is then told once, not carried on silently.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from exam_app.app.session import Session
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.repositories.rows import ClosedExam, KnownAnimal, OpenExam

SETTING = "day_plan"
_TO_DO = to_translate("to do")
NO_PLACE = to_translate("No place given")


@dataclass(frozen=True, slots=True)
class Stop:
    """One animal of the plan.

    Attributes:
        state: ``to do``, ``open`` or ``closed``.
        exam_id: Of its open or closed exam of today; empty when it is to do.
    """

    animal_id: str
    name: str
    species: str
    state: str
    exam_id: str = ""


def by_place(
    planned: Iterable[str],
    animals: Mapping[str, KnownAnimal],
    drafts: Iterable[OpenExam],
    closed_today: Iterable[ClosedExam],
) -> tuple[tuple[str, tuple[Stop, ...]], ...]:
    """Group the planned animals by place, each place in the order first planned.

    Args:
        planned: Animal ids in the order planned.
        animals: Known animals by id; an id that is not among them is left out.
        drafts: The open exams.
        closed_today: Rows of exams closed today.
    """
    stands = {row.animal_id: ("closed", row.exam_id) for row in closed_today}
    stands |= {row.animal_id: ("open", row.exam_id) for row in drafts}
    places: dict[str, list[Stop]] = {}
    for animal_id in dict.fromkeys(planned):
        animal = animals.get(animal_id)
        if animal is not None:
            state = stands.get(animal_id, (_TO_DO, ""))
            stop = Stop(animal_id, animal.name, animal.species, *state)
            places.setdefault(animal.place or tr(NO_PLACE), []).append(stop)
    return tuple((place, tuple(stops)) for place, stops in places.items())


def left_words(places: Iterable[tuple[str, tuple[Stop, ...]]]) -> str:
    """Say how many of the planned animals are still to do; empty without a plan."""
    stops = [stop for _, found in places for stop in found]
    if not stops:
        return ""
    left = sum(stop.state != "closed" for stop in stops)
    return tr("{left} of {count} planned still to close", left=left, count=len(stops))


def planned(session: Session) -> tuple[str, ...]:
    """Return today's plan, in the order planned."""
    kept = session.vault.settings.get(SETTING) or {}
    return tuple(kept.get("animal_ids", ())) if kept.get("day") == _today() else ()


async def add(session: Session, animal_ids: Sequence[str]) -> None:
    """Put animals at the end of today's plan; one that is there stays where it is."""
    await _keep(session, tuple(dict.fromkeys((*planned(session), *animal_ids))))


async def drop(session: Session, animal_id: str) -> None:
    """Take an animal off today's plan; the animal itself stays."""
    await _keep(
        session, tuple(known for known in planned(session) if known != animal_id)
    )


def places_today(session: Session) -> tuple[tuple[str, tuple[Stop, ...]], ...]:
    """Return today's plan by place, with where each animal stands."""
    ids = planned(session)
    animals = {key: session.vault.animals.shown(key) for key in ids}
    known = {key: animal for key, animal in animals.items() if animal is not None}
    rows = (row for key in known for row in session.vault.closed.for_animal(key))
    today = [row for row in rows if row.closed[:10] == _today()]
    return by_place(ids, known, session.vault.drafts.open(), today)


async def _keep(session: Session, animal_ids: tuple[str, ...]) -> None:
    plan = {"day": _today(), "animal_ids": list(animal_ids)}
    await session.save(lambda: session.vault.settings.put(SETTING, plan))


def _today() -> str:
    return f"{datetime.now().astimezone():%Y-%m-%d}"
