"""The form of a file of clinical scenarios, and what one names wrongly.

Every id a scenario names must stand in its species' protocol: a region, a term, a
quality, a grade, a sign. Each fault says where it is and what is known there.
"""

import re
from collections.abc import Collection, Iterator, Mapping
from typing import Any

from exam_app.app.view.round_presenter import columns_offered
from exam_app.domain.animal.signalment import Sex
from exam_app.domain.exam.exam import StopReason
from exam_app.domain.exam.findings import Call, Severity
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.vitals import RateState, Setting
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.domain.protocol.protocol import (
    Region,
    Scope,
    SpeciesProtocol,
    Term,
    Vital,
    split_key,
)

Told = Mapping[str, Any]
ANY = "*"
REST = "rest"
AGE = re.compile(r"(\d+) (day|week|month|year)s?")
# Every key of a file. A key that is not here is a fault, so that none is overlooked.
KEYS = {
    "scenario": frozenset(
        [
            "id",
            "told",
            "source",
            "provenance",
            "species",
            "animal",
            "scope",
            "setting",
            "role",
            "focus",
            "cells",
            "vitals",
            "asserted_first",
            "findings",
            "asserted",
            "struck",
            "instead",
            "denied",
            "added",
            "not_examined",
            "not_present",
            "remarks",
            "button",
            "stop",
            "expected",
        ]
    ),
    "source": frozenset(("title", "publisher", "year")),
    "animal": frozenset(("sex", "age", "group")),
    "vital": frozenset(
        [
            "vital",
            "value",
            "unit",
            "site",
            "state",
            "again",
            "grade",
            "choices",
            "reason",
            "estimate",
        ]
    ),
    "finding": frozenset(
        [
            "region",
            "term",
            "words",
            "qualities",
            "grades",
            "side",
            "place",
            "severity",
            "since",
            "note",
            "call",
        ]
    ),
    "claim": frozenset(("region", "clause", "reason")),
    "expected": frozenset(
        ["signs", "no_signs", "words", "absent", "flags", "stops_handling"]
    ),
}
NEEDED = ("id", "told", "source", "provenance", "animal", "scope", "expected")


def _unknown(part: str, table: Told, where: str = "") -> Iterator[str]:
    for key in table:
        if key not in KEYS[part]:
            known = ", ".join(sorted(KEYS[part]))
            yield f"{where or part}: unknown key {key!r} (known: {known})"


def _unfit(what: str, words: Collection[str], known: Collection[str]) -> Iterator[str]:
    for word in words:
        if word not in known:
            yield f"no {what} {word!r} (known: {', '.join(known) or 'none'})"


def form_faults(told: Told, protocol: SpeciesProtocol) -> list[str]:
    """Return what a scenario names that its protocol, or this form, does not have."""
    return [
        *_head_faults(told),
        *(f for seen in told.get("vitals", ()) for f in _vital_faults(protocol, seen)),
        *_every_finding_fault(told, protocol),
        *_named_faults(told, protocol),
        *_expected_faults(told, protocol),
    ]


def _head_faults(told: Told) -> Iterator[str]:
    yield from _unknown("scenario", told)
    yield from (f"{key} is missing" for key in NEEDED if key not in told)
    source, animal = told.get("source", {}), told.get("animal", {})
    yield from _unknown("source", source)
    yield from (f"source: no {key}" for key in KEYS["source"] if not source.get(key))
    yield from _unknown("animal", animal)
    words: tuple[tuple[str, str, Collection[str]], ...] = (
        ("provenance", told.get("provenance", ""), ("read", "memory")),
        ("scope", told.get("scope", ""), tuple(Scope)),
        ("setting", told.get("setting", "clinic"), tuple(Setting)),
        ("role", told.get("role", "technician"), tuple(Role)),
        ("stop", told.get("stop", "urgent"), tuple(StopReason)),
        ("sex", animal.get("sex", "not known"), tuple(Sex)),
    )
    for name, word, known in words:
        yield from _unfit(name, [word], known)
    if "age" in animal and not AGE.fullmatch(animal["age"]):
        yield f"animal: age {animal['age']!r}, write it as 3 days, 4 years"


def _named_faults(told: Told, protocol: SpeciesProtocol) -> Iterator[str]:
    named = [*told.get("asserted", ()), *told.get("asserted_first", ())]
    for part in ("not_examined", "not_present", "remarks"):
        named += told.get(part, {})
    for key in named:
        if key != REST:
            yield from key_faults(protocol, key)
    for part in ("struck", "instead", "denied", "added"):
        for claim in told.get(part, ()):
            yield from _unknown("claim", claim, part)
            yield from _claim_faults(claim, protocol, is_region=part == "added")
    regions = [region.region_id for region in protocol.regions]
    yield from _unfit("region", told.get("focus", ()), regions)
    columns = [column.key for column in columns_offered(protocol, Role.TECHNICIAN)]
    yield from _unfit("column", told.get("cells", {}), columns)


def _claim_faults(
    claim: Told, protocol: SpeciesProtocol, *, is_region: bool
) -> Iterator[str]:
    key = claim.get("region", "")
    region = protocol.region(split_key(key)[0])
    if not is_region or region is None:
        yield from key_faults(protocol, key)
    known = [clause.clause_id for clause in region.clauses] if region else []
    yield from _unfit("clause", [claim.get("clause", "")], known)


def key_faults(protocol: SpeciesProtocol, key: str) -> Iterator[str]:
    """Yield why a region key is none of a protocol's."""
    region = protocol.region(split_key(key)[0])
    if region is None:
        yield from _unfit("region", [key], [r.region_id for r in protocol.regions])
    else:
        yield from _unfit("region key", [key], region.answer_keys())


def _vital_faults(protocol: SpeciesProtocol, seen: Told) -> Iterator[str]:
    name = seen.get("vital", "")
    yield from _unknown("vital", seen, f"vital {name}")
    vital = protocol.vital(name)
    if vital is None:
        yield from _unfit("vital", [name], [v.vital_id for v in protocol.vitals])
        return
    if "value" in seen and vital.measure is None:
        yield f"vital {name} takes no value"
    yield from (f"vital {name}: {fault}" for fault in _word_faults(vital, seen))
    if "grade" in seen:
        scale = protocol.scale(vital.scale_id)
        grades = [grade.value for grade in scale.grades] if scale else []
        yield from _unfit(f"grade of {name}", [seen["grade"]], grades)


def _word_faults(vital: Vital, seen: Told) -> Iterator[str]:
    choices = [choice.value for choice in vital.choices]
    yield from _unfit("choice", seen.get("choices", ()), choices)
    if "state" in seen:
        yield from _unfit("state", [seen["state"]], tuple(RateState))
    if "site" in seen:
        yield from _unfit("site", [seen["site"]], vital.sites)


def _every_finding_fault(told: Told, protocol: SpeciesProtocol) -> Iterator[str]:
    for number, found in enumerate(told.get("findings", ()), 1):
        faults = _finding_faults(protocol, found)
        yield from (f"finding {number}: {fault}" for fault in faults)


def _finding_faults(protocol: SpeciesProtocol, found: Told) -> Iterator[str]:
    key = found.get("region", "")
    yield from _unknown("finding", found)
    yield from key_faults(protocol, key)
    if bool(found.get("term")) == bool(found.get("words")):
        yield "give a term or own words, one of them"
    region = protocol.region(split_key(key)[0])
    if region is not None and found.get("term"):
        yield from _term_faults(region, found)
    for graded in found.get("grades", ()):
        scale = protocol.scale(graded.get("scale", ""))
        values = [grade.value for grade in scale.grades] if scale else []
        what = f"grade of scale {graded.get('scale')!r}"
        yield from _unfit(what, [graded.get("value", "")], values)
    yield from _unfit("call", [found.get("call", "noted")], tuple(Call))
    yield from _unfit("severity", [found.get("severity", "slight")], tuple(Severity))


def _term_faults(region: Region, found: Told) -> Iterator[str]:
    known = [term.term_id for term in region.terms]
    yield from _unfit(f"term of {region.region_id}", [found["term"]], known)
    term = named_term(region, found)
    if term is not None:
        yield from _unfit("quality", found.get("qualities", ()), term.qualities)


def named_term(region: Region, found: Told) -> Term | None:
    """Return the term that a finding names, if the region has it."""
    return next((t for t in region.terms if t.term_id == found.get("term")), None)


def _expected_faults(told: Told, protocol: SpeciesProtocol) -> Iterator[str]:
    expected = told.get("expected", {})
    yield from _unknown("expected", expected)
    known = [sign.sign_id for sign in protocol.urgent_signs]
    named = [*expected.get("signs", ()), *told.get("button", ())]
    named += [sign for sign in expected.get("no_signs", ()) if sign != ANY]
    yield from _unfit("urgent sign", named, known)
    flags = expected.get("flags", {})
    yield from _unfit("vital", flags, [v.vital_id for v in protocol.vitals])
    yield from _unfit("flag", flags.values(), tuple(FlagLevel))
    if not any(k in expected for k in KEYS["expected"] - {"absent"}):
        yield "expects nothing that could fail to happen"
