"""The places of an exam in the order of the hand, and which one comes next.

A place is a part of the body by its region id, or a vital as ``vital:ID``.
"""

import re
from dataclasses import dataclass
from enum import StrEnum

from exam_app.app.view.region_presenter import groups, keys_of, open_keys
from exam_app.app.view.rest_presenter import rest_offers
from exam_app.domain.exam.exam import (
    Exam,
    keys_in_scope,
    required_vitals,
    vitals_in_scope,
)
from exam_app.domain.exam.marks import open_earlier
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.protocol.protocol import Region, SpeciesProtocol, split_key
from exam_app.language.catalogue import to_translate, tr

VITALS = to_translate("Vitals")
_WORD = re.compile(r"[^\W_]+")
_VITAL = "vital:"
_UNEXAMINED = RegionState.UNEXAMINED


@dataclass(frozen=True, slots=True)
class Section:
    """A heading of the list and its places, in order; ``tr`` shows the title."""

    title: str
    places: tuple[str, ...]


def place_of_vital(vital_id: str) -> str:
    """Name the place of a vital."""
    return f"{_VITAL}{vital_id}"


def vital_of(place: str) -> str:
    """Return the id of the vital at a place, or nothing for a part of the body."""
    return place.removeprefix(_VITAL) if place.startswith(_VITAL) else ""


def sections(exam: Exam, protocol: SpeciesProtocol) -> tuple[Section, ...]:
    """Return the headings in order: watched before a touch, vitals, head to tail."""
    listed = groups(exam, protocol)
    vitals = tuple(
        place_of_vital(vital.vital_id) for vital in vitals_in_scope(exam, protocol)
    )
    touched = [group for group in listed if not group.regions[0].untouched]
    found = []
    for group in listed:
        if vitals and group in touched[:1]:
            found.append(Section(VITALS, vitals))
        found.append(Section(group.title, tuple(r.region_id for r in group.regions)))
    if vitals and not touched:
        found.append(Section(VITALS, vitals))
    return tuple(found)


def places_named(exam: Exam, protocol: SpeciesProtocol, text: str) -> tuple[str, ...]:
    """Return the places whose name has words that begin as typed, in their order.

    Those come after them in whose sentence or finds the words are said.
    """
    typed = text.casefold().split()
    named, saying = [], []
    every = (place for one in sections(exam, protocol) for place in one.places)
    for place in every if typed else ():
        names, said = _words_of(protocol, place)
        if _have(names, typed):
            named.append(place)
        elif _have((*names, *said), typed):
            saying.append(place)
    return (*named, *saying)


def _words_of(
    protocol: SpeciesProtocol, place: str
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what a place is called, and what else is said there."""
    region, vital = protocol.region(place), protocol.vital(vital_of(place))
    if region is None:
        return (tr(vital.label), tr(vital.plain_label)) if vital else (), ()
    said = [clause.text for clause in region.clauses]
    said += [text for term in region.terms for text in (term.label, term.plain)]
    said += [*region.look, *region.feel]
    return (tr(region.label), tr(region.plain_label)), tuple(map(tr, said))


def _have(texts: tuple[str, ...], typed: list[str]) -> bool:
    words = _WORD.findall(" ".join(texts).casefold())
    return all(any(word.startswith(part) for word in words) for part in typed)


def asked_places(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return the parts, the vitals without which an exam cannot close, and answers."""
    needed = {vital.vital_id for vital in required_vitals(exam, protocol)}
    every = (one for part in sections(exam, protocol) for one in part.places)
    return tuple(
        place
        for place in every
        if not (name := vital_of(place))
        or name in needed
        or exam.vital(name).is_answered
    )


def _asks_of_earlier(exam: Exam, region: Region) -> bool:
    """Whether a find of an earlier record waits to be compared."""
    keys = region.answer_keys()
    return any(one.key in keys for one in open_earlier(exam))


class Status(StrEnum):
    """Where a place stands for the hand."""

    OPEN = "open"
    PARKED = "parked"
    DONE = "done"


def status(exam: Exam, protocol: SpeciesProtocol, place: str) -> Status:
    """Say whether a hand can leave a place: nothing is open there, nor the rest."""
    if vital_id := vital_of(place):
        is_answered = exam.vital(vital_id).is_answered
        return Status.DONE if is_answered else Status.OPEN
    region = protocol.region(place)
    if region is None:
        return Status.DONE
    if is_parked(exam, protocol, place):
        return Status.PARKED
    keys = keys_of(exam, protocol, region)
    is_left = (
        open_keys(exam, keys)
        or rest_offers(exam, region, keys)
        or _asks_of_earlier(exam, region)
    )
    return Status.OPEN if is_left else Status.DONE


def is_parked(exam: Exam, protocol: SpeciesProtocol, place: str) -> bool:
    """Whether what is open at a place was put off to later."""
    region = protocol.region(place)
    still_open = open_keys(exam, keys_of(exam, protocol, region)) if region else ()
    return bool(still_open) and all(exam.entry(key).is_parked for key in still_open)


def open_counts(
    exam: Exam, protocol: SpeciesProtocol, listed: tuple[Section, ...]
) -> dict[str, int]:
    """Return how many answers below each heading are not given yet, by its title."""
    asked = {*keys_in_scope(exam, protocol)}
    counts = {}
    for section in listed:
        vitals = [name for place in section.places if (name := vital_of(place))]
        regions = filter(None, map(protocol.region, section.places))
        keys = [key for region in regions for key in region.answer_keys()]
        unsaid = [k for k in keys if k in asked and exam.entry(k).state is _UNEXAMINED]
        not_taken = [name for name in vitals if not exam.vital(name).is_answered]
        counts[section.title] = len(unsaid) + len(not_taken)
    return counts


def next_place(exam: Exam, protocol: SpeciesProtocol, place: str = "") -> str:
    """Return the next open place after this one and around, what was parked last.

    Where nothing is open it is empty. A vital that the exam can close without is not
    brought up.
    """
    every = [one for section in sections(exam, protocol) for one in section.places]
    at = every.index(place) + 1 if place in every else 0
    still_open = _open_places(exam, protocol)
    ahead = [one for one in (*every[at:], *every[:at]) if one in still_open - {place}]
    now = (one for one in ahead if not is_parked(exam, protocol, one))
    return next(now, next(iter(ahead), ""))


def _open_places(exam: Exam, protocol: SpeciesProtocol) -> set[str]:
    """Return what this exam asks for and has no answer to."""
    found = {
        split_key(key)[0]
        for key in keys_in_scope(exam, protocol)
        if exam.entry(key).state is _UNEXAMINED
    }
    found |= {split_key(one.key)[0] for one in open_earlier(exam)}
    needed = (vital.vital_id for vital in required_vitals(exam, protocol))
    found |= {place_of_vital(v) for v in needed if not exam.vital(v).is_answered}
    return found


def place_to_go_on(exam: Exam, protocol: SpeciesProtocol) -> str:
    """Return where an exam goes on after a restart: behind what was entered last."""
    said = [(split_key(key)[0], one.attribution) for key, one in exam.regions.items()]
    said += [(place_of_vital(v), one.attribution) for v, one in exam.vitals.items()]
    entered = [(by.entered.utc_ms, place) for place, by in said if by is not None]
    last = max(entered)[1] if entered else ""
    if last and status(exam, protocol, last) is Status.OPEN:
        return last
    return next_place(exam, protocol, last) or last
