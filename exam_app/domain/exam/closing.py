"""Closing, stopping early, and the continuation that closes what was left open.

A focused exam speaks as a technician's or a veterinarian's exam. A part of which that
exam claims nothing (the deep mouth, for a technician) could only be left undone.
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from exam_app.domain.animal.chips import SCAN_GAP, is_scan_open, reason_not_scanned
from exam_app.domain.animal.signalment import Animal
from exam_app.domain.errors import FocusError, OpenPointsError
from exam_app.domain.exam.denials import open_claims
from exam_app.domain.exam.exam import (
    Closing,
    Exam,
    StoppedEarly,
    StopReason,
    claims_fitting,
    keys_in_scope,
    require_open,
    required_vitals,
    sentence_scope,
    vitals_in_scope,
    words_for,
)
from exam_app.domain.exam.findings import EarlierFinding, EarlierOutcome
from exam_app.domain.exam.marks import highest_number, open_earlier
from exam_app.domain.exam.people import Attribution, Person, Role
from exam_app.domain.exam.photographs import settled_photos
from exam_app.domain.exam.region_states import (
    Conclusion,
    RegionEntry,
    RegionState,
    StruckClause,
)
from exam_app.domain.exam.review import review
from exam_app.domain.exam.transitions import clause_words
from exam_app.domain.exam.visit import INTAKE_SLOT, ChipScan, Intake
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Region, Scope, SpeciesProtocol, split_key
from exam_app.domain.wording.exam_wording import describe_finding
from exam_app.language.catalogue import in_english


def regions_to_choose(
    animal: Animal, protocol: SpeciesProtocol, starter: Role
) -> tuple[Region, ...]:
    """Return the parts that a focused exam of this animal may name, head to tail.

    Args:
        starter: Role of who starts it; only a veterinarian's exam goes deeper.
    """
    is_veterinarian = starter is Role.VETERINARIAN
    scope = Scope.VETERINARIAN if is_veterinarian else Scope.TECHNICIAN
    return tuple(
        region
        for region in protocol.regions
        if animal.sex.may_have(region.sexes)
        and claims_fitting(region, scope, animal.sex)
    )


def require_focus(exam: Exam, protocol: SpeciesProtocol) -> Exam:
    """Return the exam, if its focus names only parts it can say something of.

    Raises:
        FocusError: A part without a claim in this exam's scope, or none at all.
    """
    if exam.scope is not Scope.FOCUSED:
        return exam
    regions = {region.region_id: region for region in protocol.regions}
    for region_id in exam.focus:
        region = regions.get(region_id)
        if region is None or not claims_fitting(
            region, sentence_scope(exam), exam.animal.sex
        ):
            raise FocusError(region_id)
    if not exam.focus:
        raise FocusError("")
    return exam


def close(exam: Exam, protocol: SpeciesProtocol, closer: Person, now: Moment) -> Exam:
    """Close an exam in which nothing is open.

    Raises:
        ExamClosedError: It is closed already.
        OpenPointsError: Something is open; carries every open point.
    """
    require_open(exam)
    points = review(exam, protocol)
    if points:
        raise OpenPointsError(points)
    people = exam.people
    if all(p.person_id != closer.person_id for p in people):
        people = (*people, closer)
    photos = settled_photos(exam)
    closing = Closing(closer.person_id, now)
    return replace(exam, people=people, photos=photos, closing=closing)


_STOPPED = "stopped early: "


def is_left_by_stop(exam: Exam, reason: str) -> bool:
    """Whether this reason was given by the stop itself, to what nobody came to."""
    return exam.stopped is not None and reason.startswith(_STOPPED)


def stop_early(
    exam: Exam,
    protocol: SpeciesProtocol,
    reason: StopReason,
    note: str,
    by: Attribution,
) -> Exam:
    """Give everything left undone one reason: not examined, never normal.

    Urgent signs stay open: they need their own answer before closing.
    """
    require_open(exam)
    words = f"{_STOPPED}{reason.value}"
    regions = dict(exam.regions)
    for key in keys_in_scope(exam, protocol):
        entry = exam.entry(key)
        if entry.state is RegionState.UNEXAMINED:
            regions[key] = _stopped_at(exam, protocol, key, words, by)
    vitals = dict(exam.vitals)
    for vital in required_vitals(exam, protocol):
        if not exam.vital(vital.vital_id).is_answered:
            vitals[vital.vital_id] = VitalEntry(reason=words, attribution=by)
    asked = open_earlier(exam)
    earlier = tuple(
        replace(found, outcome=EarlierOutcome.NOT_LOOKED_FOR)
        if found in asked
        else found
        for found in exam.earlier
    )
    return replace(
        exam,
        regions=regions,
        vitals=vitals,
        earlier=earlier,
        intake=_with_scan(exam, words, by),
        stopped=StoppedEarly(reason, note.strip(), by),
    )


def _stopped_at(
    exam: Exam, protocol: SpeciesProtocol, key: str, words: str, by: Attribution
) -> RegionEntry:
    """Return the answer of an open part; what was asserted of it before stands."""
    entry = replace(exam.entry(key), is_parked=False)
    region = protocol.region(split_key(key)[0])
    if not entry.asserted or region is None:
        return replace(
            entry, conclusion=Conclusion.NOT_EXAMINED, reason=words, attribution=by
        )
    spoken = words_for(exam)
    left = tuple(
        StruckClause(clause.clause_id, clause_words(clause, spoken), words)
        for clause in open_claims(exam, region, key)
    )
    return replace(entry, conclusion=Conclusion.ASSERTED, struck=(*entry.struck, *left))


def _with_scan(exam: Exam, reason: str, by: Attribution) -> Intake | None:
    """Say why a required chip scan was not made; a scan that was made stands."""
    if not is_scan_open(exam):
        return exam.intake
    intake = exam.intake or Intake()
    scan = ChipScan(INTAKE_SLOT, (), 0, "", by, not_done=reason)
    return replace(intake, scans=(*intake.scans, scan))


def gaps(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, ...]:
    """Return what was left undone: region keys, vitals as ``vital:ID``, the scan.

    "Not present" is not a gap; a struck claim is. A vital answered in words
    ("panting") is not a gap; one with a reason is.
    """
    return gaps_among(exam, protocol, keys_in_scope(exam, protocol))


def gaps_among(
    exam: Exam, protocol: SpeciesProtocol, asked: Iterable[str]
) -> tuple[str, ...]:
    """Return as ``gaps`` does, where the keys in scope are known already."""
    left = {key for key, entry in exam.regions.items() if entry.is_gap}
    keys = [key for key in asked if key in left]
    ids = [vital.vital_id for vital in vitals_in_scope(exam, protocol)]
    vitals = [f"vital:{one}" for one in ids if exam.vital(one).is_gap]
    scan = (SCAN_GAP,) if reason_not_scanned(exam) else ()
    return (*vitals, *keys, *scan)


def found_then(exam: Exam, protocol: SpeciesProtocol) -> tuple[EarlierFinding, ...]:
    """Return what an exam found, as a later one asks for it.

    A part that is not there is known with the animal and not asked for again.
    """
    with in_english():
        return tuple(_found_then(exam, protocol))


def _found_then(exam: Exam, protocol: SpeciesProtocol) -> Iterator[EarlierFinding]:
    day = f"{exam.started.local():%Y-%m-%d}"
    return (
        EarlierFinding(
            exam_id=exam.exam_id,
            finding_id=finding.finding_id,
            key=key,
            date=day,
            summary=describe_finding(finding, protocol),
            lump=finding.lump,
            term_id=finding.term_id,
            mark=finding.mark,
        )
        for key, entry in exam.regions.items()
        if entry.conclusion is not Conclusion.NOT_PRESENT
        for finding in entry.findings
    )


def continuation(
    first: Exam,
    protocol: SpeciesProtocol,
    exam_id: str,
    starter: Person,
    now: Moment,
) -> Exam:
    """Start the exam that closes what a closed record left open.

    It may be another day and another person; the new record names the first one and
    asks only for its gaps. What was found in a part that is open still is asked again:
    the sentence said of it now must not deny what is still there.

    Args:
        exam_id: UUID of the new exam.
    """
    open_keys = gaps(first, protocol)
    return Exam(
        exam_id=exam_id,
        animal=first.animal,
        scope=first.scope,
        setting=first.setting,
        protocol_id=first.protocol_id,
        protocol_hash=first.protocol_hash,
        started=now,
        started_by=starter.person_id,
        life_stage=first.life_stage,
        focus=first.focus,
        people=(starter,),
        added_claims=first.added_claims,
        instead_claims=first.instead_claims,
        earlier=tuple(
            found for found in found_then(first, protocol) if found.key in open_keys
        ),
        continues=first.exam_id,
        open_keys=open_keys,
        is_demo=first.is_demo,
        marks_before=highest_number(first),
    )
