"""Read the danger table and hold a species' ways against it.

Rules kept here: a fact is met by its words wherever they are said, and by its numbers;
a species' own section adds to a fact of ``all`` that has the same id, or makes a new
one; what a fact calls not urgent opens nothing and is no way of another fact.
"""

import re
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from exam_app.domain.animal.signalment import life_stage_of
from exam_app.domain.exam.vital_transitions import MOST_SIGNS, record_vital
from exam_app.domain.exam.vitals import RateState, Setting, VitalEntry
from exam_app.domain.measure.units import parse_reading
from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol, Vital
from exam_app.domain.protocol.urgent_signs import UrgentSign
from exam_app.protocols.loader import available, load_protocol
from tests.danger_ways import Way, ways_of
from tests.exam_samples import BY, new_exam
from tests.scenario_player import age_days

FOLDER = Path(__file__).parent
TOP = Scope.VETERINARIAN
IDS = tuple(f"{number:032d}" for number in range(MOST_SIGNS))
FACT_KEYS = frozenset(
    (
        *("id", "meaning", "species", "words", "unless", "numbers", "rows", "source"),
        *("not_urgent", "without", "hands_off", "instead"),
    )
)
NUMBER_KEYS = frozenset(
    ("vital", "value", "again", "age", "state", "setting", "site", "urgent", "reason")
)
Told = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that a person can notice, and whether it is urgent.

    Attributes:
        words: Matches what is said where it means this fact; ``None`` without words.
        unless: Matches what is said where it does not.
        numbers: Values that mean it, or that do not.
        rows: Rows of ``danger_sources.toml`` it rests on.
        not_urgent: Why it opens no sign, or empty.
        hands_off: Whether one of its signs must stop the handling.
    """

    fact_id: str
    words: re.Pattern[str] | None
    unless: re.Pattern[str] | None
    numbers: tuple[Told, ...] = ()
    rows: tuple[str, ...] = ()
    not_urgent: str = ""
    hands_off: bool = False

    def means(self, way: Way) -> bool:
        """Say whether a way says this fact, in staff words or in plain ones."""
        return _is_in(self.words, way) and not _is_in(self.unless, way)


def _is_in(pattern: re.Pattern[str] | None, way: Way) -> bool:
    return pattern is not None and any(pattern.search(said) for said in way.said)


@dataclass(slots=True)
class Held:
    """What came of holding one species against the table.

    Attributes:
        failing: Gaps as ``fact | way``, each with its reason.
        checked: How many ways and numbers were looked at, by fact.
    """

    failing: dict[str, str] = field(default_factory=dict)
    checked: Counter[str] = field(default_factory=Counter)


@cache
def table() -> Told:
    """Return the whole table."""
    return tomllib.loads((FOLDER / "danger_table.toml").read_text("utf-8"))


@cache
def source_rows() -> Mapping[str, Told]:
    """Return the rows of the sources by id."""
    text = (FOLDER / "danger_sources.toml").read_text("utf-8")
    return {row["id"]: row for row in tomllib.loads(text)["rows"]}


def open_gaps(species: str) -> list[str]:
    """Return the gaps that a species' section still lists."""
    return list(table().get(species, {}).get("open_gaps", ()))


def told_facts(species: str) -> list[dict[str, Any]]:
    """Return the facts of a species as told: those of all, completed by its own."""
    found = {
        told["id"]: dict(told)
        for told in table()["all"]["facts"]
        if species in told.get("species", available())
        and species not in told.get("without", {})
    }
    for own in table().get(species, {}).get("facts", ()):
        before = {} if own.get("instead") else found.get(own["id"], {})
        joined = {**before, **own}
        for key in ("words", "unless", "numbers", "rows"):
            joined[key] = [*before.get(key, ()), *own.get(key, ())]
        found[own["id"]] = joined
    return list(found.values())


@cache
def facts_of(species: str) -> tuple[Fact, ...]:
    """Return the facts of the table that hold for a species."""
    return tuple(
        Fact(
            told["id"],
            _pattern(told.get("words", ())),
            _pattern(told.get("unless", ())),
            tuple(told.get("numbers", ())),
            tuple(told.get("rows", ())),
            told.get("not_urgent", ""),
            _is_hands_off(told.get("hands_off", False), species),
        )
        for told in told_facts(species)
    )


def _pattern(words: list[str]) -> re.Pattern[str] | None:
    return re.compile("|".join(f"(?:{w})" for w in words)) if words else None


def _is_hands_off(told: bool | list[str], species: str) -> bool:
    return species in told if isinstance(told, list) else told


@cache
def held(species: str) -> Held:
    """Hold every way of a species against every fact that concerns it."""
    protocol = load_protocol(species).protocol
    result, known = Held(), set()
    facts = facts_of(species)
    calm = [fact for fact in facts if fact.not_urgent]
    ways = ways_of(species)
    calming = {way.name for fact in calm for way in ways if fact.means(way)}
    for fact in facts:
        means = [way for way in ways if fact.means(way)]
        if not fact.not_urgent:
            means = [way for way in means if way.name not in calming]
        known |= {way.name for way in means}
        numbers = [_number_way(protocol, told) for told in fact.numbers]
        result.checked[fact.fact_id] = len(means) + len(numbers)
        for name, why in _gaps(fact, means, numbers, protocol):
            result.failing[f"{fact.fact_id} | {name}"] = why
    for way in ways:
        if way.signs and way.name not in known:
            why = f"opens {_names(way.signs)}, and no fact of the table says {way.said}"
            result.failing[f"unknown | {way.name}"] = why
    for sign, name, why in _triggers_unmet(protocol, facts):
        result.failing[f"unknown | {sign.sign_id} {name}"] = why
    return result


def _gaps(
    fact: Fact,
    means: list[Way],
    numbers: list[tuple[Told, Way]],
    protocol: SpeciesProtocol,
) -> Iterator[tuple[str, str]]:
    urgent = [way for told, way in numbers if told.get("urgent", True)]
    calm = [way for told, way in numbers if not told.get("urgent", True)]
    if fact.not_urgent:
        calm, urgent = [*means, *calm], []
    else:
        urgent = [*means, *urgent]
    if not (urgent or calm or fact.not_urgent):
        yield "no way", "there is no way to tell of it"
    for way in calm:
        if way.signs:
            yield way.name, f"opens {_names(way.signs)} and should open nothing"
    for way in urgent:
        if not way.signs:
            yield way.name, f"opens no sign: {way.said[0]}"
    opening = [way for way in urgent if way.signs]
    if fact.hands_off:
        yield from _hands_left_on(opening, protocol)
    yield from _other_answers(opening)


def _hands_left_on(
    opening: list[Way], protocol: SpeciesProtocol
) -> Iterator[tuple[str, str]]:
    stopping = {s.sign_id for s in protocol.urgent_signs if s.stops_handling}
    for way in opening:
        if way.signs.isdisjoint(stopping):
            yield f"{way.name} (hands)", f"{_names(way.signs)} stops no hands"


def _other_answers(opening: list[Way]) -> Iterator[tuple[str, str]]:
    if opening and not frozenset.intersection(*(way.signs for way in opening)):
        answers = {_names(way.signs): way.name for way in opening}
        shown = "; ".join(f"{sign} by {name}" for sign, name in answers.items())
        yield "two answers", shown


def _names(signs: frozenset[str]) -> str:
    return ", ".join(sorted(signs))


def vital_named(protocol: SpeciesProtocol, words: str) -> Vital | None:
    """Return the one vital whose label has these words, or ``None``."""
    pattern = re.compile(words)
    found = [v for v in protocol.vitals if pattern.search(v.label.casefold())]
    return found[0] if len(found) == 1 else None


def _number_way(protocol: SpeciesProtocol, told: Told) -> tuple[Told, Way]:
    """Enter a value as told, and return it with the way that it was."""
    shown = " ".join(
        str(told[key])
        for key in ("vital", "value", "again", "state", "setting")
        if key in told
    )
    name = f"{shown} {told.get('age', 'age not known')}"
    return told, Way(name, (name,), signs_by_number(protocol, told))


def signs_by_number(protocol: SpeciesProtocol, told: Told) -> frozenset[str]:
    """Return the signs that a value opens, recorded as a person would."""
    vital = vital_named(protocol, told["vital"])
    if vital is None or vital.measure is None:
        return frozenset()
    age = age_days(told["age"]) if "age" in told else None
    exam = new_exam(
        life_stage=life_stage_of(protocol.life_stages, age),
        setting=Setting(told.get("setting", "clinic")),
        scope=vital.scopes[-1] if TOP not in vital.scopes else TOP,
    )
    for typed in (told["value"], told.get("again")):
        if typed is None:
            continue
        reading = parse_reading(typed, vital.measure.unit, vital.measure)
        site = told.get("site", vital.sites[0] if vital.sites else "")
        state = RateState(told["state"]) if "state" in told else None
        entry = VitalEntry(reading=reading, site=site, state=state)
        exam = record_vital(exam, protocol, vital.vital_id, entry, BY, IDS)
    return frozenset(entry.sign_id for entry in exam.urgent)


def _triggers_unmet(
    protocol: SpeciesProtocol, facts: tuple[Fact, ...]
) -> Iterator[tuple[UrgentSign, str, str]]:
    """Yield the limits of signs that no number of the table lies beyond."""
    numbers = [told for fact in facts for told in fact.numbers]
    opened: Counter[tuple[str, str]] = Counter()
    for told in numbers:
        vital = vital_named(protocol, told["vital"])
        if vital is not None:
            for sign_id in signs_by_number(protocol, told):
                opened[sign_id, vital.vital_id] += 1
    for sign in protocol.urgent_signs:
        for trigger in sign.every_trigger():
            vital = protocol.vital(trigger.vital_id)
            is_value = vital is not None and vital.measure is not None
            if is_value and not opened[sign.sign_id, trigger.vital_id]:
                limit = f"below {trigger.below}" if trigger.below else ""
                limit += f" above {trigger.above}" if trigger.above else ""
                name = f"{trigger.vital_id} {limit.strip()}"
                yield sign, name, "no number of the table opens it"


def form_faults() -> Iterator[str]:
    """Yield what is wrong with the form of the table itself."""
    sections = [("all", table()["all"])]
    sections += [(name, table().get(name, {})) for name in available()]
    for name in table():
        if name not in {"all", "unused", *available()}:
            yield f"no species {name!r}"
    shared = {told["id"] for told in table()["all"]["facts"]}
    for name, section in sections:
        seen: set[str] = set()
        for told in section.get("facts", ()):
            where = f"{name}: {told.get('id', '(no id)')}"
            for key in set(told) - FACT_KEYS:
                yield f"{where}: unknown key {key!r}"
            if told.get("id") in seen:
                yield f"{where}: twice"
            seen.add(told.get("id", ""))
            yield from (f"{where}: {fault}" for fault in _fact_faults(told, shared))


def _fact_faults(told: Told, shared: set[str]) -> Iterator[str]:
    is_addition = told.get("id") in shared
    if not is_addition and not told.get("meaning"):
        yield "says no meaning"
    for row in told.get("rows", ()):
        if row not in source_rows():
            yield f"no row {row!r} in danger_sources.toml"
    source = told.get("source", {})
    if not told.get("rows") and not source and not is_addition:
        yield "names no row and no source"
    if source and not (source.get("title") and "provenance" in source):
        yield "a source has a title and a provenance"
    for number in told.get("numbers", ()):
        yield from (f"unknown key {key!r}" for key in set(number) - NUMBER_KEYS)
        if not number.get("urgent", True) and not number.get("reason"):
            yield f"{number.get('value')}: not urgent without a reason"
        Decimal(number["value"].split()[0])
