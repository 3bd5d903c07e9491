"""What the next new animal begins with: likely species, words searched for, the last.

Everything here is an offer that stands in the form before it is saved: nothing is taken
over unseen.
"""

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode

from exam_app.app.session import Session
from exam_app.domain.animal.chips import normalise_chip
from exam_app.domain.animal.signalment import species_shown, species_words
from exam_app.domain.protocol.protocol import (
    SCOPE_LABELS,
    Scope,
    SpeciesProtocol,
)
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.repositories.rows import ClosedExam, OpenExam

# An exam of today says more of the next animal than many animals of last year.
_TODAY_COUNTS = 1000
_LOOKED_THROUGH = 200
_CHIP_DIGITS = 9
NO_NAME = to_translate("No name yet")


@dataclass(frozen=True, slots=True)
class LastIntake:
    """The last animal examined here today, of which the next may be another.

    Attributes:
        species, place: Of the animal; the place may be empty.
        scope, setting: Of its exam, as the exam's own words for them.
    """

    species: str
    place: str
    scope: str
    setting: str

    @property
    def words(self) -> str:
        """Say what is carried over."""
        labels = {scope.value: label for scope, label in SCOPE_LABELS.items()}
        scope = tr(labels.get(self.scope, "")).lower()
        parts = (species_shown(self.species), self.place, scope)
        return ", ".join(part for part in parts if part)

    @property
    def address(self) -> str:
        """The address of the form of another one."""
        carried = {"place": self.place, "scope": self.scope, "setting": self.setting}
        return new_address("animal", self.species, {**carried, "as": "last"})


def new_address(kind: str, species: str, begun: Mapping[str, str]) -> str:
    """Return the address of a new animal's form and what stands in it at first."""
    query = urlencode({name: text for name, text in begun.items() if text})
    return f"/{kind}/new/{species}" + (f"?{query}" if query else "")


def _today(session: Session) -> list[OpenExam | ClosedExam]:
    """Return the exams begun here today, the newest first; no groups, corrections."""
    day = f"{datetime.now().astimezone():%Y-%m-%d}"
    closed = session.vault.closed.latest(_LOOKED_THROUGH)
    rows: list[OpenExam | ClosedExam] = [
        *(row for row in session.vault.drafts.open() if not row.is_group),
        *(row for row in closed if not row.is_received),
    ]
    own = [row for row in rows if row.started[:10] == day and not row.revision]
    return sorted(own, key=lambda row: row.started, reverse=True)


def likely_first(session: Session, species: Iterable[str]) -> tuple[str, ...]:
    """Order species: examined here today first, then by the animals known here."""
    here = Counter(animal.species for animal in session.vault.animals.all())
    for row in _today(session):
        here[row.species] += _TODAY_COUNTS
    return tuple(sorted(species, key=lambda name: -here[name]))


def last_intake(session: Session) -> LastIntake | None:
    """Return the last animal examined here today; None where there is none."""
    scopes = set(map(str, SCOPE_LABELS)) - {Scope.FOCUSED, Scope.GROUP}
    for row in _today(session):
        animal = session.vault.animals.shown(row.animal_id)
        if animal is not None and not animal.is_group and row.scope in scopes:
            return LastIntake(row.species, animal.place, row.scope, row.setting)
    return None


@dataclass(frozen=True, slots=True)
class Searched:
    """What words typed in the search say of an animal that is not here yet.

    Attributes:
        species: Named among the words; empty when none is.
        begun: Text by field of the form.
    """

    species: str = ""
    begun: tuple[tuple[str, str], ...] = ()


def searched(text: str, offers: Mapping[str, SpeciesProtocol]) -> Searched:
    """Read what was searched for as the beginning of a new animal's form.

    A species' own word names the species; what stands before it is the breed
    ("siamese cat"), what follows it the name ("dog Bella"). A long number is a chip.
    Anything else is a name.

    Args:
        text: As typed.
        offers: The protocols by species.
    """
    species, found = _species_in(text, offers)
    if found is not None:
        before, after = text[: found.start()].strip(), text[found.end() :].strip()
        return Searched(species, _said(breed=before, name=after))
    digits = normalise_chip(text)
    if digits.isdigit() and len(digits) >= _CHIP_DIGITS:
        return Searched("", _said(chip=text.strip()))
    return Searched("", _said(name=text.strip()))


def _species_in(
    text: str, offers: Mapping[str, SpeciesProtocol]
) -> tuple[str, re.Match[str] | None]:
    words = {
        word: species
        for species, protocol in offers.items()
        for phrase in (species_words(species), protocol.label, protocol.one)
        for word in phrase.lower().split(" or ")
        if word
    }
    # "Guinea pig" before "pig".
    for word in sorted(words, key=len, reverse=True):
        found = re.search(rf"\b{re.escape(word)}s?\b", text, re.IGNORECASE)
        if found:
            return words[word], found
    return "", None


def _said(**texts: str) -> tuple[tuple[str, str], ...]:
    return tuple((name, text) for name, text in texts.items() if text)


def nameless(session: Session, words: str = "") -> str:
    """Return a word for an animal without a name that no other one here has.

    The first is "No name yet", the next "No name yet 2": in English, since it becomes
    the name that is recorded.
    """
    words = words or NO_NAME
    taken = {animal.name for animal in session.vault.animals.search(words)}
    count = 1
    while (name := words if count == 1 else f"{words} {count}") in taken:
        count += 1
    return name


def tag_unknown_words(protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return what an animal is called whose tag nobody could read, if it has one.

    In English, since it becomes the name that is recorded.
    """
    if not protocol.is_tagged:
        return ()
    one = protocol.one or protocol.label
    return tuple(f"{word.capitalize()}, tag unknown" for word in one.split(" or "))
