"""Texts that stand in the protocol are written as numbers, and restored exactly.

A record names its protocol by the hash of its content, so a text that is one of the
protocol's own is written as its place in the protocol's vocabulary, and a sentence as
the claims it makes. Any other text stays a text. A hash over the vocabulary goes into
the record: a reader whose vocabulary differs refuses to restore other words than were
shown. The order below belongs to version 1 of the format and never changes.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache

import cbor2

from exam_app.crypto import door
from exam_app.domain.protocol.protocol import (
    Region,
    SpeciesProtocol,
    Vital,
    split_key,
)
from exam_app.record.errors import NotARecordError

CHECK_LENGTH = 8
_MOST_CLAIMS = 48
# Kept of each vocabulary; a sentence that is not known is put together again.
_MOST_SENTENCES = 1_024
_Claims = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """The words of one protocol, each with its number.

    Attributes:
        texts: Every text once, in the order of ``_every_text``.
        claims: Per region id, its claims in staff and in plain words.
        titles: Matches any source title, the longest first.
        check: The start of SHA-256 over texts and claims.
        sentences: Gives the sentence of a region id and its number; the same few are
            said all day.
    """

    texts: tuple[str, ...]
    numbers: dict[str, int]
    claims: dict[str, _Claims]
    titles: re.Pattern[str] | None
    check: bytes
    sentences: Callable[[str, int], tuple[str, ...]]

    def write_text(self, text: str) -> int | str:
        """Return the number of a text, or the text itself."""
        return self.numbers.get(text, text)

    def read_text(self, number: int) -> str:
        """Return the text of a number.

        Raises:
            NotARecordError: There is no such number.
        """
        if not 0 <= number < len(self.texts):
            raise NotARecordError("it points at a word the protocol does not have")
        return self.texts[number]

    def write_parts(self, text: str) -> list[int | str] | str:
        """Return a text cut at the source titles it names, those as numbers."""
        parts = self.titles.split(text) if self.titles else [text]
        if len(parts) == 1:
            return text
        return [
            self.write_text(part) if place % 2 else part
            for place, part in enumerate(parts)
        ]

    def write_sentence(self, key: str, asserted: tuple[str, ...]) -> int | list[str]:
        """Return the claims made as bits, the lowest bit set for plain words.

        A sentence that is not the protocol's, in its order, stays as it is.
        """
        claims = self.claims.get(split_key(key)[0], ())
        for wording in (0, 1):
            texts = [claim[wording] for claim in claims]
            made = tuple(text for text in texts if text in asserted)
            if asserted and made == asserted and len(texts) <= _MOST_CLAIMS:
                bits = sum(1 << texts.index(text) for text in made)
                return bits << 1 | wording
        return list(asserted)

    def read_sentence(self, key: str, number: int) -> tuple[str, ...]:
        """Return the claims that a number stands for.

        Raises:
            NotARecordError: The region has no such claims.
        """
        return self.sentences(key.partition(".")[0], number)


def _sentences_of(claims: dict[str, _Claims]) -> Callable[[str, int], tuple[str, ...]]:
    @lru_cache(_MOST_SENTENCES)
    def sentence(region_id: str, number: int) -> tuple[str, ...]:
        of_region = claims.get(region_id, ())
        bits, wording = number >> 1, number & 1
        if bits <= 0 or bits >> len(of_region):
            raise NotARecordError("it makes a claim the protocol does not have")
        return tuple(
            claim[wording] for place, claim in enumerate(of_region) if bits >> place & 1
        )

    return sentence


@lru_cache(maxsize=8)
def vocabulary_of(protocol: SpeciesProtocol) -> Vocabulary:
    """Return the vocabulary of a protocol."""
    texts = tuple(dict.fromkeys(text for text in _every_text(protocol) if text))
    claims = {
        region.region_id: tuple((c.text, c.plain or c.text) for c in region.clauses)
        for region in protocol.regions
    }
    titles = sorted({source.title for source in protocol.sources} - {""}, key=len)
    pattern = "|".join(re.escape(title) for title in reversed(titles))
    spelled = [list(texts), [[list(c) for c in region] for region in claims.values()]]
    return Vocabulary(
        texts,
        {text: number for number, text in enumerate(texts)},
        claims,
        re.compile(f"({pattern})") if titles else None,
        door.sha256(cbor2.dumps(spelled))[:CHECK_LENGTH],
        _sentences_of(claims),
    )


def _every_text(protocol: SpeciesProtocol) -> Iterator[str]:
    """Yield texts in the order of their numbers; a repeated one counts once."""
    for region in protocol.regions:
        yield from region.answer_keys()
    for vital in protocol.vitals:
        yield from (vital.vital_id, vital.measure.unit if vital.measure else "")
    for stage in protocol.life_stages:
        yield stage.stage_id
    for scale in protocol.scales:
        yield scale.scale_id
        yield from (text for one in scale.grades for text in (one.value, one.label))
    for vital in protocol.vitals:
        yield from _texts_of_vital(vital)
    for region in protocol.regions:
        yield from _texts_of_region(region)
    yield from _texts_of_signs_and_sources(protocol)
    yield protocol.species


def _texts_of_signs_and_sources(protocol: SpeciesProtocol) -> Iterator[str]:
    for sign in protocol.urgent_signs:
        yield from (sign.sign_id, sign.label, sign.plain, sign.action)
    for interval in protocol.intervals:
        yield interval.interval_id
    for source in protocol.sources:
        yield from (source.source_id, source.title)


def _texts_of_vital(vital: Vital) -> Iterator[str]:
    for choice in vital.choices:
        yield from (choice.value, choice.label, choice.plain)
    yield from vital.sites
    yield from vital.not_done_reasons
    yield from vital.measure.units_offered if vital.measure else ()


def _texts_of_region(region: Region) -> Iterator[str]:
    for clause in region.clauses:
        yield from (clause.clause_id, clause.text, clause.plain)
    for term in region.terms:
        yield from (term.term_id, term.label, term.plain)
        yield from (*term.qualities, *term.places)
