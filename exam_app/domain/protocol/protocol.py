"""What a species protocol says: regions, clauses, terms, vitals, scales, scopes.

A species is data. These are the shapes a protocol file is read into; checking a file
belongs to ``exam_app.protocols``. A protocol never holds a result, only the questions,
the words of the answers and the published limits with their sources. What every tap
asks of a region or a protocol is worked out once and stays with it: they have no slots.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from itertools import chain

from exam_app.domain.measure.counting import CountKind
from exam_app.domain.measure.units import Measure
from exam_app.domain.protocol.intervals import ReferenceInterval
from exam_app.domain.protocol.scales import Scale
from exam_app.domain.protocol.urgent_signs import UrgentSign
from exam_app.language.catalogue import to_translate, tr


class Scope(StrEnum):
    """How far an exam goes; chosen before the first touch."""

    INTAKE = "intake"
    TECHNICIAN = "technician"
    VETERINARIAN = "veterinarian"
    FOCUSED = "focused"
    GROUP = "group"


SCOPE_LABELS = {
    Scope.INTAKE: to_translate("Intake look-over"),
    Scope.TECHNICIAN: to_translate("Technician exam"),
    Scope.VETERINARIAN: to_translate("Veterinarian exam"),
    Scope.FOCUSED: to_translate("Focused exam"),
    Scope.GROUP: to_translate("Group check"),
}


@dataclass(frozen=True, slots=True)
class Source:
    """Where a number or a statement comes from.

    Attributes:
        title: As shown beside a number: who and when, in a few words.
        work: The title as printed, where ``title`` is shorter.
        provenance: ``read`` (checked against a stored copy) or ``memory`` (recalled).
    """

    source_id: str
    title: str
    publisher: str = ""
    year: str = ""
    where: str = ""
    url: str = ""
    provenance: str = "memory"
    work: str = ""


@dataclass(frozen=True, slots=True)
class Clause:
    """One claim of a region's "no abnormality found" sentence.

    Attributes:
        text: What was looked at, felt or heard, in staff words.
        plain: The same for volunteers; empty when no volunteer scope uses it.
        scopes: Scopes whose sentence contains this claim.
        opt_in: A claim of what a routine exam does not do: it stands in the sentence
            only where the practice or the examiner has added it.
        caution: When this must not be done, shown before it is added.
        strike_as: What one tap says in the claim's place ("felt for, not felt"), or
            empty; a result, not a gap.
        sexes: Sexes of which the claim can be true; empty for every sex.
        neutered: ``yes`` or ``no`` where the claim holds only of those, or empty.
        denied_by: What denies the claim from elsewhere in the exam: finds of other
            parts as ``forelimb/lame``, answers of vitals as ``vital/mentation/3``.
        said: Other ways to say it in a line that is typed or dictated.
    """

    clause_id: str
    text: str
    plain: str = ""
    scopes: tuple[Scope, ...] = ()
    opt_in: bool = False
    caution: str = ""
    strike_as: str = ""
    sexes: tuple[str, ...] = ()
    neutered: str = ""
    denied_by: tuple[str, ...] = ()
    said: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Term:
    """A finding the region offers by name.

    Attributes:
        qualities: Words that say which kind, as "serous" of a discharge.
        places: Landmarks offered for this find, as "middle lung field".
        scale_id: Scale graded with this find (murmur, lameness), or empty.
        is_lump: Whether the lump sheet opens.
        urgent_sign_id: Urgent sign that this term opens, or empty.
        urgent_from: Grade of the term's scale from which it opens the sign, as decimal
            text; empty: it always does.
        urgent_qualities: Qualities of the term that open the sign; empty: it always
            does.
        negates: Ids of the region's claims that this find denies.
        is_wound: Whether what it names first is a wound: skin or lining opened by an
            injury, by rubbing or by pressure.
        said: Other ways to say it in a line that is typed or dictated.
    """

    term_id: str
    label: str
    plain: str = ""
    qualities: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    scale_id: str = ""
    is_lump: bool = False
    urgent_sign_id: str = ""
    urgent_from: str = ""
    urgent_qualities: tuple[str, ...] = ()
    negates: tuple[str, ...] = ()
    is_wound: bool = False
    said: tuple[str, ...] = ()


@dataclass(frozen=True)
class Region:
    """A part of the animal that is examined and answered for on its own.

    Attributes:
        group: Heading of the list, as "Head"; regions of a group stand together.
        sides: Two keys for paired parts (the animal's own left and right), or empty.
        sexes: Sexes that have the part (``male``, ``female``); empty for every sex.
        scopes: Scopes that contain this region.
        look, feel, listen: What to do, in short phrases.
        awake_limits: What this exam cannot see; shown beside the sentence.
        loss_is_finding: Whether "not present" is a finding too (an eye, a limb).
        untouched: Whether it is watched from a distance, before any touch; the vitals
            stand after it.
        said: Other ways to name it in a line that is typed or dictated.
    """

    region_id: str
    label: str
    plain_label: str
    group: str
    scopes: tuple[Scope, ...]
    clauses: tuple[Clause, ...]
    terms: tuple[Term, ...]
    sides: tuple[str, ...] = ()
    sexes: tuple[str, ...] = ()
    look: tuple[str, ...] = ()
    feel: tuple[str, ...] = ()
    listen: tuple[str, ...] = ()
    awake_limits: tuple[str, ...] = ()
    loss_is_finding: bool = False
    untouched: bool = False
    source_id: str = "common_practice"
    said: tuple[str, ...] = ()

    def answer_keys(self) -> tuple[str, ...]:
        """Return one key per answer: ``eyes.left`` and ``eyes.right``, or ``nose``."""
        return self._answer_keys

    @cached_property
    def _answer_keys(self) -> tuple[str, ...]:
        sided = (f"{self.region_id}.{side}" for side in self.sides)
        return tuple(sided) or (self.region_id,)

    @cached_property
    def claims(self) -> Mapping[Scope, tuple[Clause, ...]]:
        """Its claims by the scope that makes them, in order."""
        return {s: tuple(c for c in self.clauses if s in c.scopes) for s in Scope}

    def term(self, term_id: str) -> Term | None:
        """Return the term of that id, if the region offers it."""
        return self._terms.get(term_id)

    @cached_property
    def _terms(self) -> Mapping[str, Term]:
        return {term.term_id: term for term in reversed(self.terms)}


class VitalKind(StrEnum):
    """How a vital is answered."""

    MEASURE = "measure"
    RATE = "rate"
    GRADE = "grade"
    CHOICE = "choice"


@dataclass(frozen=True, slots=True)
class Choice:
    """One worded answer of a vital; ``urgent_sign_id`` opens an urgent sign.

    ``said`` are other ways to say it in a line that is typed or dictated.
    """

    value: str
    label: str
    plain: str = ""
    urgent_sign_id: str = ""
    said: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Vital:
    """A vital of the exam.

    Attributes:
        measure: Unit, precision and typing guard; ``None`` for grades and choices.
        scale_id: The scale of a grade.
        choices: Worded answers; beside a number too ("< 1 s", "panting").
        sites: Where it can be measured (rectal, ear), first is the usual one.
        required_in: Scopes that cannot close without a value or a reason.
        not_done_reasons: Reasons offered, as "refused" or "unsafe".
        counts: What a rate counts, where its unit does not say it: a pulse, which is
            counted in beats, and of which "every beat felt?" is asked.
        several: Whether a choice is a list of signs, of which several can be seen.
        is_body_weight: Whether it is the animal's weight: it may be estimated, and is
            compared with the animal's own, not with published ranges.
        said: Other ways to name it in a line that is typed or dictated.
    """

    vital_id: str
    label: str
    plain_label: str
    kind: VitalKind
    scopes: tuple[Scope, ...]
    required_in: tuple[Scope, ...] = ()
    measure: Measure | None = None
    scale_id: str = ""
    choices: tuple[Choice, ...] = ()
    sites: tuple[str, ...] = ()
    not_done_reasons: tuple[str, ...] = ()
    how: str = ""
    source_id: str = "common_practice"
    counts: CountKind | None = None
    several: bool = False
    is_body_weight: bool = False
    said: tuple[str, ...] = ()

    @property
    def counted(self) -> CountKind | None:
        """What a rate counts; ``None`` for what is no rate."""
        by_unit = self.measure.counts if self.measure else ""
        return self.counts or (CountKind(by_unit) if by_unit else None)


@dataclass(frozen=True, slots=True)
class Caution:
    """A danger to the person: bite, kick, crush, zoonosis, restraint, hygiene."""

    caution_id: str
    kind: str
    text: str
    source_id: str = "common_practice"


@dataclass(frozen=True, slots=True)
class LifeStage:
    """A stage of life that limits hold for.

    Attributes:
        from_days: First day of age of the stage.
        until_days: First day of the next stage; ``None`` for the last.
    """

    stage_id: str
    label: str
    from_days: int
    until_days: int | None = None


@dataclass(frozen=True)
class SpeciesProtocol:
    """Everything one species' exam asks, regions in head-to-tail order.

    Attributes:
        label: Names the species.
        one: Names one animal of it, where the label does not, as ``cow or bull``.
        is_tagged: Whether its animals are known by a tag rather than by a name.
    """

    protocol_id: str
    version: int
    species: str
    label: str
    life_stages: tuple[LifeStage, ...]
    regions: tuple[Region, ...]
    vitals: tuple[Vital, ...]
    scales: tuple[Scale, ...]
    intervals: tuple[ReferenceInterval, ...]
    urgent_signs: tuple[UrgentSign, ...]
    cautions: tuple[Caution, ...]
    sources: tuple[Source, ...]
    missing: tuple[str, ...] = ()
    one: str = ""
    is_tagged: bool = False

    def __hash__(self) -> int:
        """Return the hash of its name and size: of all it holds takes milliseconds."""
        return hash((self.protocol_id, self.version, len(self.regions)))

    @property
    def one_animal(self) -> str:
        """One animal in words, as ``an alpaca``."""
        word = self.one or self.label.lower()
        named = tr(self.one) if self.one else tr(self.label).lower()
        if word[:1] in "aeiou":
            return tr("an {animal}", animal=named)
        return tr("a {animal}", animal=named)

    def region(self, region_id: str) -> Region | None:
        """Return the region of that id, if the protocol has one."""
        return self._regions.get(region_id)

    @cached_property
    def _regions(self) -> Mapping[str, Region]:
        return {region.region_id: region for region in self.regions}

    @cached_property
    def key_order(self) -> Mapping[str, int]:
        """The place of each region key, in head-to-tail order."""
        keys = (key for region in self.regions for key in region.answer_keys())
        return {key: place for place, key in enumerate(keys)}

    @cached_property
    def regions_of_a_sex(self) -> tuple[Region, ...]:
        """The regions that animals of some sexes only have, in order."""
        return tuple(region for region in self.regions if region.sexes)

    @cached_property
    def vitals_of(self) -> Mapping[Scope, tuple[Vital, ...]]:
        """Its vitals by the scope that contains them, in order."""
        return {s: tuple(v for v in self.vitals if s in v.scopes) for s in Scope}

    def vital(self, vital_id: str) -> Vital | None:
        """Return the vital of that id, if the protocol has one."""
        return self._vitals.get(vital_id)

    @cached_property
    def _vitals(self) -> Mapping[str, Vital]:
        return {vital.vital_id: vital for vital in reversed(self.vitals)}

    def scale(self, scale_id: str) -> Scale | None:
        """Return the scale of that id, if the protocol has one."""
        return next((s for s in self.scales if s.scale_id == scale_id), None)

    def sign(self, sign_id: str) -> UrgentSign | None:
        """Return the urgent sign of that id, if the protocol has one."""
        return next((s for s in self.urgent_signs if s.sign_id == sign_id), None)

    @cached_property
    def record_words(self) -> frozenset[str]:
        """Its words that a record holds as they stand here, in English."""
        terms = [term for region in self.regions for term in region.terms]
        clauses = [clause for region in self.regions for clause in region.clauses]
        choices = [choice for vital in self.vitals for choice in vital.choices]
        every = (
            *((t.label, t.plain, *t.qualities, *t.places) for t in terms),
            *((c.text, c.plain, c.strike_as) for c in clauses),
            *((c.label, c.plain) for c in choices),
            *((*vital.sites, *vital.not_done_reasons) for vital in self.vitals),
            *((grade.label for grade in scale.grades) for scale in self.scales),
            *((sign.label, sign.plain, sign.action) for sign in self.urgent_signs),
        )
        return frozenset(words for words in chain.from_iterable(every) if words)

    def wound_terms(self) -> frozenset[tuple[str, str]]:
        """Return which finds are wounds, each by its region and term id."""
        return frozenset(
            (region.region_id, term.term_id)
            for region in self.regions
            for term in region.terms
            if term.is_wound
        )

    def source_titles(self) -> dict[str, str]:
        """Map each source id to the title that a flag shows."""
        return {source.source_id: source.title for source in self.sources}


def split_key(key: str) -> tuple[str, str]:
    """Split a region key into region id and side; the side may be empty."""
    region_id, _, side = key.partition(".")
    return region_id, side
