"""An exam and its protocol in plain words, for whoever takes the animal home.

Only words that the protocol gives are exchanged, each for its own plain ones, and only
where these say the same numbers. What was typed, a side, a size, a number and a unit
stay as they are; so the written record of the result says what the record says.
"""

import re
from collections.abc import Mapping
from dataclasses import replace

from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import EarlierFinding, Finding
from exam_app.domain.exam.region_states import RegionEntry, StruckClause
from exam_app.domain.exam.urgent import UrgentEntry
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.protocol.protocol import (
    Region,
    SpeciesProtocol,
    Vital,
    split_key,
)


def in_plain_words(
    exam: Exam, protocol: SpeciesProtocol
) -> tuple[Exam, SpeciesProtocol]:
    """Return both with the protocol's plain words, where it has them."""
    regions = {
        key: _entry(entry, protocol.region(split_key(key)[0]))
        for key, entry in exam.regions.items()
    }
    vitals = {
        vital_id: _answer(entry, protocol.vital(vital_id))
        for vital_id, entry in exam.vitals.items()
    }
    told = replace(
        exam,
        regions=regions,
        vitals=vitals,
        urgent=tuple(_sign(entry, protocol) for entry in exam.urgent),
        earlier=tuple(_earlier(found, protocol) for found in exam.earlier),
    )
    return told, _protocol(protocol)


_NUMBER = re.compile(r"\d+(?:\.\d+)?")


def _plain(words: str, plain: str) -> str:
    """Return the plain words, unless there are none or they say another number."""
    is_same = _NUMBER.findall(words) == _NUMBER.findall(plain)
    return plain if plain and is_same else words


def _protocol(protocol: SpeciesProtocol) -> SpeciesProtocol:
    regions = (_region(region) for region in protocol.regions)
    vitals = (_vital(vital) for vital in protocol.vitals)
    scales = (replace(s, label=_plain(s.label, s.plain_label)) for s in protocol.scales)
    signs = (replace(s, label=_plain(s.label, s.plain)) for s in protocol.urgent_signs)
    return replace(
        protocol,
        regions=tuple(regions),
        vitals=tuple(vitals),
        scales=tuple(scales),
        urgent_signs=tuple(signs),
    )


def _region(region: Region) -> Region:
    return replace(
        region,
        label=_plain(region.label, region.plain_label),
        clauses=tuple(replace(c, text=_plain(c.text, c.plain)) for c in region.clauses),
        terms=tuple(replace(t, label=_plain(t.label, t.plain)) for t in region.terms),
    )


def _vital(vital: Vital) -> Vital:
    choices = (replace(c, label=_plain(c.label, c.plain)) for c in vital.choices)
    label = _plain(vital.label, vital.plain_label)
    return replace(vital, label=label, choices=tuple(choices))


def _entry(entry: RegionEntry, region: Region | None) -> RegionEntry:
    if region is None:
        return entry
    plain = {c.text: _plain(c.text, c.plain) for c in region.clauses}
    return replace(
        entry,
        asserted=tuple(plain.get(text, text) for text in entry.asserted),
        struck=tuple(_clause(one, plain) for one in entry.struck),
        instead=tuple(_clause(one, plain) for one in entry.instead),
        findings=tuple(_finding(found, region) for found in entry.findings),
    )


def _clause(one: StruckClause, plain: Mapping[str, str]) -> StruckClause:
    return replace(one, text=plain.get(one.text, one.text))


def _finding(found: Finding, region: Region) -> Finding:
    term = region.term(found.term_id)
    if term is None or found.words != term.label:
        return found
    return replace(found, words=_plain(term.label, term.plain))


def _earlier(found: EarlierFinding, protocol: SpeciesProtocol) -> EarlierFinding:
    region = protocol.region(split_key(found.key)[0])
    term = region.term(found.term_id) if region else None
    words, comma, rest = found.summary.partition(",")
    if term is None or words != term.label:
        return found
    return replace(found, summary=f"{_plain(words, term.plain)}{comma}{rest}")


def _answer(entry: VitalEntry, vital: Vital | None) -> VitalEntry:
    choices = vital.choices if vital else ()
    plain = {c.label: _plain(c.label, c.plain) for c in choices}
    return replace(entry, words=tuple(plain.get(word, word) for word in entry.words))


def _sign(entry: UrgentEntry, protocol: SpeciesProtocol) -> UrgentEntry:
    sign = protocol.sign(entry.sign_id) if entry.sign_id else None
    if sign is None or entry.label != sign.label:
        return entry
    return replace(entry, label=_plain(sign.label, sign.plain))
