"""The exam as a value: one frozen object from first look to closing.

Every change is a new value (``transitions``); every open point follows from the value
and its protocol (``review``). Nothing in here knows a screen, a file or the time.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import lru_cache

from exam_app.domain.animal.signalment import Animal, Sex
from exam_app.domain.errors import ExamClosedError
from exam_app.domain.exam.findings import EarlierFinding
from exam_app.domain.exam.people import Attribution, Person, Role
from exam_app.domain.exam.region_states import RegionEntry
from exam_app.domain.exam.urgent import UrgentEntry
from exam_app.domain.exam.visit import (
    BiteHistory,
    Care,
    Given,
    GroupFacts,
    Intake,
    Photo,
    Plan,
    Presentation,
    PrivateNote,
    Procedure,
    Sample,
)
from exam_app.domain.exam.vitals import Setting, VitalEntry
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import (
    Clause,
    Region,
    Scope,
    SpeciesProtocol,
    Vital,
    split_key,
)
from exam_app.language.catalogue import to_translate


class StopReason(StrEnum):
    """Why an exam was stopped early."""

    URGENT = to_translate("urgent")
    UNSAFE = to_translate("unsafe")
    OWNER_STOPPED = to_translate("owner stopped it")
    ESCAPED = to_translate("escaped")
    DIED = to_translate("died")
    VETERINARIAN_STOPPED = to_translate("veterinarian stopped it")


_UNEXAMINED, _UNANSWERED = RegionEntry(), VitalEntry()


@dataclass(frozen=True, slots=True)
class StoppedEarly:
    """The exam was stopped: one reason for everything left undone."""

    reason: StopReason
    note: str
    attribution: Attribution


@dataclass(frozen=True, slots=True)
class Closing:
    """Who closed the exam, and when."""

    closed_by: str
    at: Moment


@dataclass(frozen=True, slots=True)
class Correction:
    """One statement of a closed record that reads otherwise than it did.

    Attributes:
        item: The vital, part or field, as the record names it; empty while the
            correction is being made, when only its reason is known.
        was: Its words before; empty where nothing was recorded.
        now: Its words now; empty where it was taken out.
        reason: Why, in words.
        attribution: Who corrected it, and when.
    """

    item: str
    was: str = ""
    now: str = ""
    reason: str = ""
    attribution: Attribution | None = None


@dataclass(frozen=True, slots=True)
class Exam:
    """One exam of one animal.

    Attributes:
        exam_id: UUID as 32 hexadecimal digits.
        protocol_id, protocol_hash: The protocol, and SHA-256 of its content in hex.
        life_stage: The protocol's stage, or empty when the age is not known.
        focus: Region ids of a focused exam, in protocol order; else empty.
        people: Everyone an attribution names.
        regions: Answers by region key; a missing key is unexamined.
        vitals: Answers by vital id; a missing id is unanswered.
        continues: ``exam_id`` of the record this one continues, or empty.
        open_keys: Region keys a continuation is to close; empty for a first exam.
        revision: 0 for the first signed record of this exam.
        group: What is known of the group, when the patient is one.
        group_exam: ``exam_id`` of the group's exam this animal's row belongs to.
        asked_vitals: Vitals a group check asks of every row beside the required ones.
        added_claims: Claims beyond a routine exam that its sentences make, by name
            (``ears/drum``): the practice's own at the start, then the examiner's.
        instead_claims: Claims in whose place its sentences say the claim's
            ``strike_as`` ("felt for, not felt"), by name.
        corrections: What this and earlier revisions changed, oldest first.
        marks_before: The highest number that a mark of an earlier record of this
            animal had when the exam was started, as far as known; 0 for none.
    """

    exam_id: str
    animal: Animal
    scope: Scope
    setting: Setting
    protocol_id: str
    protocol_hash: str
    started: Moment
    started_by: str
    life_stage: str = ""
    focus: tuple[str, ...] = ()
    people: tuple[Person, ...] = ()
    regions: Mapping[str, RegionEntry] = field(default_factory=dict)
    vitals: Mapping[str, VitalEntry] = field(default_factory=dict)
    urgent: tuple[UrgentEntry, ...] = ()
    earlier: tuple[EarlierFinding, ...] = ()
    presentation: Presentation | None = None
    intake: Intake | None = None
    bite: BiteHistory | None = None
    given: tuple[Given, ...] = ()
    procedures: tuple[Procedure, ...] = ()
    samples: tuple[Sample, ...] = ()
    plan: Plan | None = None
    care: Care | None = None
    private_notes: tuple[PrivateNote, ...] = ()
    photos: tuple[Photo, ...] = ()
    remark: str = ""
    stopped: StoppedEarly | None = None
    continues: str = ""
    open_keys: tuple[str, ...] = ()
    closing: Closing | None = None
    revision: int = 0
    parent_hash: str = ""
    is_demo: bool = False
    group: GroupFacts | None = None
    group_exam: str = ""
    asked_vitals: tuple[str, ...] = ()
    added_claims: tuple[str, ...] = ()
    instead_claims: tuple[str, ...] = ()
    corrections: tuple[Correction, ...] = ()
    marks_before: int = 0

    @property
    def is_closed(self) -> bool:
        """Whether the exam was closed; it never changes again."""
        return self.closing is not None

    def entry(self, key: str) -> RegionEntry:
        """Return the answer of a region key; unexamined when there is none."""
        return self.regions.get(key) or _UNEXAMINED

    def vital(self, vital_id: str) -> VitalEntry:
        """Return the answer of a vital; unanswered when there is none."""
        return self.vitals.get(vital_id) or _UNANSWERED

    def person(self, person_id: str) -> Person | None:
        """Return a person this exam names."""
        return next((p for p in self.people if p.person_id == person_id), None)


def require_open(exam: Exam) -> Exam:
    """Return the exam, if it may still change.

    Raises:
        ExamClosedError: The exam is closed.
    """
    if exam.is_closed:
        raise ExamClosedError
    return exam


def words_for(exam: Exam) -> Role:
    """Return whose words an exam speaks: plain for an intake look-over."""
    return Role.VOLUNTEER if exam.scope is Scope.INTAKE else Role.TECHNICIAN


def sentence_scope(exam: Exam) -> Scope:
    """Return the scope whose sentences an exam asserts.

    A focused exam speaks as a technician exam, or as a veterinarian exam when a
    veterinarian started it.
    """
    if exam.scope is not Scope.FOCUSED:
        return exam.scope
    starter = exam.person(exam.started_by)
    is_veterinarian = starter is not None and starter.role is Role.VETERINARIAN
    return Scope.VETERINARIAN if is_veterinarian else Scope.TECHNICIAN


def clauses_for(exam: Exam, region: Region) -> tuple[Clause, ...]:
    """Return the claims of this exam's sentence for a region, in order.

    They are those of its scope that can be true of an animal of this sex, without
    what a routine exam does not do unless it was added.
    """
    return tuple(each_clause_for(exam, region))


def each_clause_for(exam: Exam, region: Region) -> Iterator[Clause]:
    """Give what ``clauses_for`` does, for whoever mostly needs the first."""
    sex, added = exam.animal.sex, exam.added_claims
    for clause in region.claims[sentence_scope(exam)]:
        if fits_sex(clause, region, sex) and is_asked(region, clause, added):
            yield clause


def clauses_to_add(exam: Exam, region: Region) -> tuple[Clause, ...]:
    """Return the claims that a routine exam does not make and this one could."""
    every = claims_fitting(region, sentence_scope(exam), exam.animal.sex)
    return tuple(clause for clause in every if clause.opt_in)


def regions_in_scope(exam: Exam, protocol: SpeciesProtocol) -> tuple[Region, ...]:
    """Return the regions this exam must answer, in head-to-tail order.

    A part of which the sentence claims nothing, since a routine exam does not look
    there, is asked only where it was chosen, or when something was said of it.
    """
    offered = regions_offered(exam, protocol)
    if exam.scope is Scope.FOCUSED or exam.continues:
        return offered
    answered = {key for key, entry in exam.regions.items() if entry.is_answered}
    return tuple(
        [
            region
            for region in offered
            if not answered.isdisjoint(region.answer_keys())
            or clauses_for(exam, region)
        ]
    )


def regions_offered(exam: Exam, protocol: SpeciesProtocol) -> tuple[Region, ...]:
    """Return the regions this exam can answer, in head-to-tail order."""
    sex = exam.animal.sex
    regions: Sequence[Region] = _regions_of(
        protocol, exam.scope, sex, is_group=exam.animal.is_group
    )
    if exam.scope is Scope.FOCUSED or (exam.scope is Scope.GROUP and exam.focus):
        # The record of a group's row names the regions that were left out.
        regions = [r for r in regions if r.region_id in exam.focus]
    if exam.continues:
        continued = {split_key(key)[0] for key in exam.open_keys}
        regions = [r for r in regions if r.region_id in continued]
    return tuple(regions)


@lru_cache(maxsize=256)
def _regions_of(
    protocol: SpeciesProtocol, scope: Scope, sex: Sex, *, is_group: bool
) -> tuple[Region, ...]:
    regions: Sequence[Region] = protocol.regions
    if scope is not Scope.FOCUSED:
        regions = [r for r in regions if scope in r.scopes]
        if is_group:
            # A group is looked at from a distance.
            regions = [r for r in regions if r.untouched]
    return tuple([r for r in regions if not r.sexes or sex.may_have(r.sexes)])


def keys_in_scope(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return every region key this exam must answer, in head-to-tail order."""
    return _keys_of(exam, regions_in_scope(exam, protocol))


def keys_offered(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return every region key this exam can answer, in head-to-tail order."""
    return _keys_of(exam, regions_offered(exam, protocol))


def _keys_of(exam: Exam, regions: tuple[Region, ...]) -> tuple[str, ...]:
    keys = [key for region in regions for key in region.answer_keys()]
    return tuple([k for k in keys if k in exam.open_keys] if exam.continues else keys)


def regions_outside_scope(exam: Exam, protocol: SpeciesProtocol) -> tuple[Region, ...]:
    """Return the regions that are not part of this exam, in head-to-tail order."""
    inside = {region.region_id for region in regions_in_scope(exam, protocol)}
    return tuple(
        region
        for region in protocol.regions
        if region.region_id not in inside and exam.animal.sex.may_have(region.sexes)
    )


def vitals_in_scope(exam: Exam, protocol: SpeciesProtocol) -> tuple[Vital, ...]:
    """Return the vitals this exam offers, in protocol order."""
    scope, asked = sentence_scope(exam), exam.asked_vitals
    if not asked:
        return protocol.vitals_of[scope]
    return tuple(v for v in protocol.vitals if scope in v.scopes or v.vital_id in asked)


def vitals_not_taken(exam: Exam, protocol: SpeciesProtocol) -> tuple[Vital, ...]:
    """Return the vitals that this exam offers and nothing was said of.

    A continuation is asked for what was open only, and leaves nothing else out.
    """
    asked = () if exam.continues else vitals_in_scope(exam, protocol)
    return tuple(v for v in asked if not exam.vital(v.vital_id).is_answered)


def required_vitals(exam: Exam, protocol: SpeciesProtocol) -> tuple[Vital, ...]:
    """Return the vitals without which this exam cannot close.

    A focused exam requires none, a group only what was asked of it; a continuation
    requires those still open, which it carries as ``vital:ID`` among its open keys.
    """
    vitals = vitals_in_scope(exam, protocol)
    if exam.continues:
        return tuple(v for v in vitals if f"vital:{v.vital_id}" in exam.open_keys)
    return tuple(
        vital
        for vital in vitals
        if vital.vital_id in exam.asked_vitals
        or (exam.scope in vital.required_in and not exam.animal.is_group)
    )


_NEUTERED = (Sex.FEMALE_NEUTERED, Sex.MALE_NEUTERED)


def claim_name(region_id: str, clause_id: str) -> str:
    """Name a claim across parts, as an exam and a practice keep it: ``ears/drum``."""
    return f"{region_id}/{clause_id}"


def fits_sex(clause: Clause, region: Region, sex: Sex) -> bool:
    """Whether a claim can be true of an animal of this sex and neuter status.

    A sex that is not known fits a claim only inside a part that this sex alone has.
    ``neutered = "no"`` means: not noted as neutered.
    """
    if clause.neutered and (clause.neutered == "yes") is not (sex in _NEUTERED):
        return False
    if not clause.sexes:
        return True
    if sex.kind:
        return sex.kind in clause.sexes
    return bool(region.sexes) and set(region.sexes) <= set(clause.sexes)


def claims_fitting(region: Region, scope: Scope, sex: Sex) -> tuple[Clause, ...]:
    """Return every claim that this scope can make of this animal, added or not."""
    claims = region.claims[scope]
    return tuple([clause for clause in claims if fits_sex(clause, region, sex)])


def is_asked(region: Region, clause: Clause, added: Collection[str]) -> bool:
    """Whether a claim is one of the routine, or was added by its name."""
    is_routine = not clause.opt_in
    return is_routine or claim_name(region.region_id, clause.clause_id) in added
