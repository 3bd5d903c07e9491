"""Every phrase that a protocol and the words of the trade bring, with what it can mean.

The words of a protocol are its labels and plain words, those in brackets and the halves
of an "or" by themselves, its grades, answers, kinds, places and claims, and whatever
stands in ``said`` beside them. Nothing is known here of a species.
"""

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import replace

from exam_app.domain.measure.known_units import KNOWN_UNITS
from exam_app.domain.protocol.protocol import (
    Choice,
    Region,
    Scope,
    SpeciesProtocol,
    Term,
    Vital,
)
from exam_app.domain.protocol.scales import Grade
from exam_app.domain.words.other_readings import add_other_readings
from exam_app.domain.words.tokens import (
    Meaning,
    Sense,
    Tokenizer,
    numbers_in_words,
    phrase_key,
)
from exam_app.domain.words.trade_words import TradeWords
from exam_app.domain.words.ways import (
    halves_of,
    in_seconds,
    parts_of_claim,
    variants,
    whole_ways,
)

Said = Iterator[tuple[str, Meaning]]

# A find said by one of the things it may be: to deny that denies less than the find.
ONE_OF_IT = "one of it"
# "Sniffing, not counted" says no more than sniffing.
_ONLY_EXPLAINS = ("not ", "cannot ")
_OF_A_FIND = frozenset({Sense.TERM, Sense.QUALITY, Sense.PLACE, Sense.GRADE})
_SERVES = ("no", "joins_no", "link", "out_of", "fill", "doubt", "undone", "normal")


class ProtocolWords:
    """What one protocol's exam can be told in words.

    Attributes:
        regions, vitals: Those that the exam offers, by id.
        tokens: Cuts a text into the phrases known.
    """

    def __init__(
        self,
        protocol: SpeciesProtocol,
        scope: Scope,
        regions: tuple[Region, ...],
        vitals: tuple[Vital, ...],
        trade: TradeWords,
    ) -> None:
        """Gather every phrase.

        Args:
            protocol: Where scales and words stand.
            scope: Whose claims a part makes.
            regions, vitals: What the exam offers.
            trade: The words of the trade, and a practice's own.
        """
        self.protocol = protocol
        self.scope = scope
        self.trade = trade
        self.regions: Mapping[str, Region] = {r.region_id: r for r in regions}
        self.vitals: Mapping[str, Vital] = {v.vital_id: v for v in vitals}
        self._names = {
            name.lower() for r in self.regions.values() for name in self._names_of(r)
        }
        same = {way: word for word, ways in trade.same.items() for way in ways}
        # What denies or joins is no find, whatever a label begins with: "no dung".
        small = {way for use in _SERVES for way in trade.words.get(use, ())}
        found: dict[tuple[str, ...], dict[Meaning, None]] = defaultdict(dict)
        self._parts_of_word: dict[str, set[str]] = defaultdict(set)
        for way, meaning in self._every_way():
            key = phrase_key(way, same)
            is_small = meaning.sense in _OF_A_FIND and way.lower() in small
            if not key or is_small:
                continue
            found[key][meaning] = None
            if "," in key:
                # It may be said without its commas too.
                found[tuple(word for word in key if word != ",")][meaning] = None
            if meaning.sense in (Sense.TERM, Sense.QUALITY):
                for word in key:
                    self._parts_of_word[word].add(meaning.place)
        add_other_readings(found)
        self.tokens = Tokenizer(
            {key: tuple(meanings) for key, meanings in found.items()}, same
        )

    def is_paired(self, region_id: str) -> bool:
        """Whether a part stands in two sides."""
        region = self.regions.get(region_id)
        return bool(region and region.sides)

    def is_own_word(self, raw: str) -> bool:
        """Whether it tells its part: several words, or one said of one part only.

        A murmur is of the heart; what is weak can be a pulse, a limb or the animal.
        """
        words = [self.tokens.plain(word) for word in raw.split()]
        return len(words) > 1 or len(self._parts_of_word.get(words[0], ())) == 1

    def details_said(
        self, region_id: str, term_id: str, raw: str
    ) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Return the kind and the place that a find's own words name: loose tooth."""
        term = self.term(region_id, term_id)
        if term is None or " or " not in f"{term.label} {term.plain}":
            return (), ()
        said = {self.tokens.plain(word) for word in raw.split()}

        def named(texts: tuple[str, ...]) -> tuple[str, ...]:
            found = [
                text
                for text in texts
                if said >= {self.tokens.plain(w) for w in text.split(" (")[0].split()}
            ]
            # Who says the label as it stands has not said which of it.
            return tuple(found) if len(found) == 1 else ()

        return named(term.qualities), named(term.places)

    def find_in(self, region_id: str, text: str) -> str:
        """Return the find of a part that these words tell, or empty."""
        meanings = (m for token in self.tokens.cut(text) for m in token.meanings)
        found = (
            m.item
            for m in meanings
            if m.place == region_id and m.sense in (Sense.TERM, Sense.QUALITY)
        )
        return next(found, "")

    def finds_of(self, text: str) -> set[str]:
        """Return the parts of which these words are a find, said in full."""
        key = tuple(self.tokens.plain(word) for word in text.split())
        meanings = self.tokens.phrases.get(key, ())
        return {
            m.place for m in meanings if m.sense is Sense.TERM and not m.is_doubtful
        }

    def term(self, region_id: str, term_id: str) -> Term | None:
        """Return a find that a part offers."""
        region = self.regions.get(region_id)
        return region.term(term_id) if region else None

    def grades(self, scale_id: str) -> tuple[Grade, ...]:
        """Return the grades of a scale; none where there is no such scale."""
        scale = self.protocol.scale(scale_id)
        return scale.grades if scale else ()

    def units(self, vital_id: str) -> tuple[str, ...]:
        """Return the units that a vital offers."""
        vital = self.vitals.get(vital_id)
        return vital.measure.units_offered if vital and vital.measure else ()

    def _every_way(self) -> Said:
        yield from numbers_in_words()
        yield from self._trade_ways()
        yield from self._unit_ways()
        for vital in self.vitals.values():
            yield from self._vital_ways(vital)
        for region in self.regions.values():
            yield from self._region_ways(region)

    def _trade_ways(self) -> Said:
        trade = self.trade
        for use, ways in trade.words.items():
            yield from ((way, Meaning(Sense(use))) for way in ways)
        for table, sense in (
            (trade.sides, Sense.SIDE),
            (trade.states, Sense.STATE),
            (trade.reasons, Sense.REASON),
            (trade.gone, Sense.GONE),
            (trade.doses, Sense.DOSE),
            (trade.routes, Sense.ROUTE),
            (trade.giving, Sense.GIVING),
            (trade.lump, Sense.LUMP),
        ):
            for key, ways in table.items():
                yield from ((way, Meaning(sense, key)) for way in ways)
        for word, (region_id, side) in trade.pairs.items():
            if self.is_paired(region_id):
                yield word, Meaning(Sense.PAIR, region_id, side)
        for word, order in trade.orders.items():
            if all(vital_id in self.vitals for vital_id in order):
                yield word, Meaning(Sense.ORDER, text=" ".join(order))

    def _unit_ways(self) -> Said:
        own = [u for v in self.vitals.values() if v.measure for u in v.measure.units]
        for unit in (*KNOWN_UNITS.values(), *own):
            # "/min" is what a rate's own words say.
            label = "" if unit.counts else unit.label
            for way in (unit.unit_id, label, *unit.words):
                if way:
                    yield way, Meaning(Sense.UNIT, unit.unit_id)
        for unit_id, ways in self.trade.units.items():
            yield from ((way, Meaning(Sense.UNIT, unit_id)) for way in ways)

    def _vital_ways(self, vital: Vital) -> Said:
        vital_id = vital.vital_id
        named = (vital_id, self.trade.either.get(vital_id, ""))
        trade = (way for name in named for way in self.trade.vitals.get(name, ()))
        for way in (
            *variants(vital.label),
            *variants(vital.plain_label),
            *vital.said,
            *trade,
        ):
            yield way, Meaning(Sense.VITAL, vital_id)
        for site in vital.sites:
            yield site, Meaning(Sense.SITE, vital_id, text=site)
        for reason in vital.not_done_reasons:
            yield reason, Meaning(Sense.REASON, reason)
        answers: tuple[Choice | Grade, ...] = (
            *vital.choices,
            *self.grades(vital.scale_id),
        )
        for answer in answers:
            yield from self._answer_ways(vital_id, answer)

    def _answer_ways(self, vital_id: str, answer: Choice | Grade) -> Said:
        alone = self.trade.values.get(f"{vital_id}.{answer.value}", ())
        plain = getattr(answer, "plain", "")
        ways = {*variants(answer.label), *variants(plain), *answer.said, *alone}
        if isinstance(answer, Grade):
            # A grade in words is what is shown of it: muscle condition mild.
            ways.add(answer.value)
        for label in (answer.label, plain):
            first, _, rest = label.partition(", ")
            if rest.startswith(_ONLY_EXPLAINS):
                ways.add(first)
            elif rest:
                half = Meaning(Sense.CHOICE, vital_id, answer.value, is_doubtful=True)
                yield first, half
        ways |= {other for way in ways for other in in_seconds(way)}
        for way in ways:
            if way and not re.fullmatch(r"[\d.,]+", way):
                yield way, Meaning(Sense.CHOICE, vital_id, answer.value)
        for way in alone:
            yield way, Meaning(Sense.ALONE, vital_id, answer.value)

    def _region_ways(self, region: Region) -> Said:
        region_id = region.region_id
        for way in self._names_of(region):
            yield way, Meaning(Sense.REGION, region_id)
            for side in (*region.sides, "both") if region.sides else ():
                for word in self.trade.sides.get(side, ())[:4]:
                    yield f"{word} {way}", Meaning(Sense.PAIR, region_id, side)
        for term in region.terms:
            yield from self._term_ways(region_id, term)
        for clause in region.clauses:
            if self.scope in clause.scopes:
                meaning = Meaning(Sense.CLAIM, region_id, clause.clause_id)
                yield from ((way, meaning) for way in parts_of_claim(clause))

    def _turned(self, way: str, meaning: Meaning) -> Said:
        """Yield two words in the other order, unless a part's name would come first."""
        words = way.split()
        is_two = len(words) == 2 and "," not in way
        if is_two and words[1].lower() not in self._names:
            yield f"{words[1]} {words[0]}", meaning

    def _names_of(self, region: Region) -> Iterator[str]:
        """Yield the names of a part: the first of a list, both of an "and"."""
        heads = [
            re.sub(r"\s*\([^)]*\)", "", label).split(",")[0]
            for label in (region.label, region.plain_label)
        ]
        yield from (region.label, region.plain_label, *heads)
        for head in heads:
            yield from head.split(" and ")
        yield from (*region.said, *self.trade.regions.get(region.region_id, ()))

    def _term_ways(self, region_id: str, term: Term) -> Said:
        own = self.trade.terms.get(f"{region_id}.{term.term_id}", ())
        for way in (*halves_of(term.label), *halves_of(term.plain)):
            # "Hard, packed" is more than hard: it is asked.
            half = Meaning(Sense.TERM, region_id, term.term_id, is_doubtful=True)
            yield way, half
        for label in (term.label, term.plain):
            whole = whole_ways(label)
            for way in variants(label):
                text = "" if way in whole else ONE_OF_IT
                meaning = Meaning(Sense.TERM, region_id, term.term_id, text)
                yield way, meaning
                yield from self._turned(way, meaning)
        for way in (*term.said, *own):
            yield way, Meaning(Sense.TERM, region_id, term.term_id)
        yield from self._detail_ways(region_id, term)
        yield from self._grade_ways(region_id, term)
        # "Horn broken" of a horn damaged: the find and its kind in one.
        head, _, rest = term.label.partition(" ")
        for text in term.qualities if rest and head.isalpha() else ():
            for way in variants(text):
                yield f"{head} {way}", Meaning(Sense.TERM, region_id, term.term_id)
                meaning = Meaning(Sense.QUALITY, region_id, term.term_id, text)
                yield f"{head} {way}", meaning

    def _grade_ways(self, region_id: str, term: Term) -> Said:
        """Yield the words of a find's grades, alone and behind what is graded."""
        head = term.label.rpartition(" ")[0]
        for grade in self.grades(term.scale_id):
            for way in {*variants(grade.label), *variants(grade.value), *grade.said}:
                if re.match(r"[\d.]", way) or f"{head} {way}" == term.label:
                    continue
                meaning = Meaning(Sense.GRADE, region_id, term.term_id, grade.value)
                # By itself it may be the name of the find: lame.
                yield way, replace(meaning, is_doubtful=True)
                if head:
                    yield f"{head} {way}", meaning
                    yield f"{head} {way}", replace(meaning, sense=Sense.TERM, text="")

    def _detail_ways(self, region_id: str, term: Term) -> Said:
        for sense, texts in (
            (Sense.QUALITY, term.qualities),
            (Sense.PLACE, term.places),
        ):
            for text in texts:
                meaning = Meaning(sense, region_id, term.term_id, text)
                for way in (*variants(text), *self.trade.details.get(text, ())):
                    # Whether "right" means "right (tricuspid)" nobody has said.
                    if way == text or way not in ("left", "right", "both"):
                        yield way, meaning
