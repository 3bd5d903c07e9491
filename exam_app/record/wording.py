"""Words that stand in the protocol are stored as numbers, and restored exactly.

A record names its protocol by the hash of its content, so a text that equals the
protocol's own is stored as its place there: 0 for the staff wording, 1 for the plain
one. A text that differs stays a text. Both directions walk the same places, so what one
shortens the other restores; whether it restored what was shown is checked by the
caller, over all words at once.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from exam_app.domain.exam import Exam
from exam_app.domain.findings import Finding
from exam_app.domain.intervals import Flag
from exam_app.domain.protocol import Region, SpeciesProtocol, split_key
from exam_app.domain.region_states import RegionEntry, StruckClause
from exam_app.domain.scales import Graded
from exam_app.domain.urgent import UrgentEntry
from exam_app.domain.vitals import VitalEntry
from exam_app.record.errors import WordingChangedError
from exam_app.record.schema import FIELD_KEYS

_Words = tuple[object, ...]
_Map = dict[Any, Any]


@dataclass(frozen=True, slots=True)
class _Direction:
    """How each kind of wording is changed; shortening and restoring differ only here.

    Attributes:
        words: Given the wordings a field may have, staff words first.
        sentence: Given the claims of a region, each in staff and plain words.
        reasons: Given the titles a flag's text may name.
    """

    words: Callable[[_Map, int, _Words], None]
    sentence: Callable[[_Map, int, tuple[_Words, ...]], None]
    reasons: Callable[[_Map, int, tuple[str, ...]], None]


def shorten(exam: _Map, protocol: SpeciesProtocol) -> None:
    """Replace, in an exam's map, every text that is the protocol's own."""
    _walk(exam, protocol, _SHORTEN)


def restore(exam: _Map, protocol: SpeciesProtocol) -> None:
    """Put back every text that ``shorten`` replaced.

    Raises:
        WordingChangedError: The protocol has no text where the record points.
    """
    _walk(exam, protocol, _RESTORE)


def _walk(exam: _Map, protocol: SpeciesProtocol, direction: _Direction) -> None:
    for key, entry in _named(exam, Exam, "regions"):
        region = protocol.region(split_key(key)[0])
        if region is not None:
            _walk_region(entry, region, protocol, direction)
    for vital_id, entry in _named(exam, Exam, "vitals"):
        _walk_vital(entry, vital_id, protocol, direction)
    for entry in _listed(exam, Exam, "urgent"):
        sign = protocol.sign(str(entry.get(_key(UrgentEntry, "sign_id"))))
        if sign is not None:
            labels = (sign.label, sign.plain)
            direction.words(entry, _key(UrgentEntry, "label"), labels)
            direction.words(entry, _key(UrgentEntry, "action"), (sign.action,))


def _walk_region(
    entry: _Map, region: Region, protocol: SpeciesProtocol, direction: _Direction
) -> None:
    claims = {c.clause_id: (c.text, c.plain or c.text) for c in region.clauses}
    asserted = _key(RegionEntry, "asserted")
    direction.sentence(entry, asserted, tuple(claims.values()))
    for struck in _listed(entry, RegionEntry, "struck"):
        words = claims.get(str(struck.get(_key(StruckClause, "clause_id"))), ())
        direction.words(struck, _key(StruckClause, "text"), words)
    terms = {t.term_id: (t.label, t.plain or t.label) for t in region.terms}
    for finding in _listed(entry, RegionEntry, "findings"):
        labels = terms.get(str(finding.get(_key(Finding, "term_id"))), ())
        direction.words(finding, _key(Finding, "words"), labels)
        for graded in _listed(finding, Finding, "grades"):
            _walk_grade(graded, protocol, direction)


def _walk_vital(
    entry: _Map, vital_id: str, protocol: SpeciesProtocol, direction: _Direction
) -> None:
    vital = protocol.vital(vital_id)
    choices = {c.value: c for c in vital.choices} if vital else {}
    values = entry.get(_key(VitalEntry, "values"))
    if isinstance(values, list) and all(str(value) in choices for value in values):
        chosen = [choices[str(value)] for value in values]
        words = ([c.label for c in chosen], [c.plain or c.label for c in chosen])
        direction.words(entry, _key(VitalEntry, "words"), words)
    grade = entry.get(_key(VitalEntry, "grade"))
    if isinstance(grade, dict):
        _walk_grade(grade, protocol, direction)
    flag = entry.get(_key(VitalEntry, "flag"))
    if isinstance(flag, dict):
        titles = protocol.source_titles()
        sources = flag.get(_key(Flag, "source_ids"))
        named = sources if isinstance(sources, list) else []
        shown = tuple(titles.get(str(source), "") for source in named)
        direction.reasons(flag, _key(Flag, "text"), shown)


def _walk_grade(graded: _Map, protocol: SpeciesProtocol, direction: _Direction) -> None:
    scale = protocol.scale(str(graded.get(_key(Graded, "scale_id"))))
    value = graded.get(_key(Graded, "value"))
    labels = tuple(g.label for g in scale.grades if g.value == value) if scale else ()
    direction.words(graded, _key(Graded, "label"), labels)


def _words_to_number(fields: _Map, key: int, words: _Words) -> None:
    if fields.get(key) in words:
        fields[key] = words.index(fields[key])


def _number_to_words(fields: _Map, key: int, words: _Words) -> None:
    number = fields.get(key)
    if type(number) is not int:
        return
    if not 0 <= number < len(words):
        raise WordingChangedError
    fields[key] = words[number]


def _sentence_to_number(fields: _Map, key: int, claims: tuple[_Words, ...]) -> None:
    """Store which claims were made as bits, and in whose words as the lowest bit."""
    asserted = fields.get(key)
    for wording in (0, 1):
        texts = [claim[wording] for claim in claims]
        made = [text for text in texts if text in (asserted or ())]
        if asserted and made == asserted and len(set(texts)) == len(texts) <= 60:
            bits = sum(1 << texts.index(text) for text in made)
            fields[key] = bits << 1 | wording
            return


def _number_to_sentence(fields: _Map, key: int, claims: tuple[_Words, ...]) -> None:
    number = fields.get(key)
    if type(number) is not int:
        return
    bits, wording = number >> 1, number & 1
    if bits <= 0 or bits >> len(claims):
        raise WordingChangedError
    fields[key] = [
        claim[wording] for place, claim in enumerate(claims) if bits >> place & 1
    ]


def _titles_to_numbers(fields: _Map, key: int, titles: tuple[str, ...]) -> None:
    """Cut a flag's text at the titles it names, in their order; each once."""
    rest, parts = fields.get(key), []
    if not isinstance(rest, str):
        return
    for place, title in enumerate(titles):
        before, found, after = rest.partition(title) if title else (rest, "", "")
        if found:
            parts += [before, place]
            rest = after
    if parts:
        fields[key] = [*parts, rest]


def _numbers_to_titles(fields: _Map, key: int, titles: tuple[str, ...]) -> None:
    parts = fields.get(key)
    if not isinstance(parts, list):
        return
    for part in parts:
        if type(part) is int and not 0 <= part < len(titles):
            raise WordingChangedError
    texts = [titles[part] if type(part) is int else str(part) for part in parts]
    fields[key] = "".join(texts)


def _key(kind: type, name: str) -> int:
    return FIELD_KEYS[kind][name]


def _named(fields: _Map, kind: type, name: str) -> Iterator[tuple[str, _Map]]:
    parts = fields.get(_key(kind, name))
    for key, part in parts.items() if isinstance(parts, dict) else ():
        if isinstance(key, str) and isinstance(part, dict):
            yield key, part


def _listed(fields: _Map, kind: type, name: str) -> Iterator[_Map]:
    parts = fields.get(_key(kind, name))
    for part in parts if isinstance(parts, list) else ():
        if isinstance(part, dict):
            yield part


_SHORTEN = _Direction(_words_to_number, _sentence_to_number, _titles_to_numbers)
_RESTORE = _Direction(_number_to_words, _number_to_sentence, _numbers_to_titles)
