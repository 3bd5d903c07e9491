"""Pure changes of an exam: each returns a new exam, or refuses and changes nothing.

A closed exam refuses every change. Normal is never given in bulk: an assertion names
the keys it is made for, and only both sides of one paired part go together.
"""

from dataclasses import replace

from exam_app.domain.errors import (
    BulkAssertionError,
    ExamClosedError,
    MissingReasonError,
    NotInScopeError,
    UnknownItemError,
)
from exam_app.domain.exam import Exam, keys_in_scope, sentence_scope
from exam_app.domain.findings import EarlierOutcome, Finding
from exam_app.domain.people import Attribution, Person, Role
from exam_app.domain.protocol import Clause, Region, SpeciesProtocol, split_key
from exam_app.domain.region_states import Conclusion, RegionEntry, StruckClause
from exam_app.domain.sex_limits import (
    assert_over_rivals,
    fits_sex,
    require_one_sex,
)


def clauses_for(exam: Exam, region: Region) -> tuple[Clause, ...]:
    """Return the claims that this exam makes for a region, in order.

    They are those of its scope that can be true of an animal of this sex.
    """
    scope, sex = sentence_scope(exam), exam.animal.sex
    return tuple(
        clause
        for clause in region.clauses
        if scope in clause.scopes and fits_sex(clause, region, sex)
    )


def clause_words(clause: Clause, words: Role) -> str:
    """Return a claim in plain words for volunteers, else in staff words."""
    return clause.plain if words is Role.VOLUNTEER and clause.plain else clause.text


def set_entry(exam: Exam, key: str, entry: RegionEntry) -> Exam:
    """Return the exam with one region's answer replaced.

    Raises:
        ExamClosedError: The exam is closed.
    """
    if exam.is_closed:
        raise ExamClosedError
    return replace(exam, regions={**exam.regions, key: entry})


def require_key(exam: Exam, protocol: SpeciesProtocol, key: str) -> Region:
    """Return the region of a key that is in scope.

    Raises:
        UnknownItemError: The protocol has no such region.
        NotInScopeError: The region is not part of this exam.
    """
    region = protocol.region(split_key(key)[0])
    if region is None or key not in region.answer_keys():
        raise UnknownItemError(key)
    if key not in keys_in_scope(exam, protocol):
        raise NotInScopeError
    return region


def with_person(exam: Exam, person: Person) -> Exam:
    """Return the exam naming one more person; one it names already is replaced."""
    if exam.is_closed:
        raise ExamClosedError
    others = tuple(p for p in exam.people if p.person_id != person.person_id)
    return replace(exam, people=(*others, person))


def assert_no_abnormality(
    exam: Exam,
    protocol: SpeciesProtocol,
    keys: tuple[str, ...],
    words: Role,
    by: Attribution,
    struck: tuple[tuple[str, str], ...] = (),
) -> Exam:
    """Record "no abnormality found" for one part, or for both sides of a paired part.

    The sentence kept is the one shown: the scope's claims without the struck ones.
    Findings stand; beside them the sentence covers the rest of the region.

    Args:
        keys: One key, or the two keys of one paired region.
        words: Whose wording was on screen.
        struck: Claims not seen as (clause id, reason).

    Raises:
        BulkAssertionError: Keys of more than one region.
        MissingReasonError: A struck claim without a reason.
        OtherSexError: Something is recorded of the parts of the other sex.
        UnknownItemError: A struck claim this sentence does not make, or every claim
            struck (that is "not examined").
    """
    if len({split_key(key)[0] for key in keys}) != 1:
        raise BulkAssertionError
    for key in keys:
        region = require_key(exam, protocol, key)
        exam = assert_over_rivals(exam, protocol, region, by)
        clauses = clauses_for(exam, region)
        known = {clause.clause_id for clause in clauses}
        reasons = dict(struck)
        if not set(reasons) <= known or set(reasons) == known:
            raise UnknownItemError(key)
        if not all(reason.strip() for reason in reasons.values()):
            raise MissingReasonError
        entry = replace(
            exam.entry(key),
            conclusion=Conclusion.ASSERTED,
            asserted=tuple(
                clause_words(c, words) for c in clauses if c.clause_id not in reasons
            ),
            struck=tuple(
                StruckClause(c.clause_id, clause_words(c, words), reasons[c.clause_id])
                for c in clauses
                if c.clause_id in reasons
            ),
            reason="",
            is_parked=False,
            attribution=by,
        )
        exam = set_entry(exam, key, entry)
    return exam


def mark_not_examined(
    exam: Exam, protocol: SpeciesProtocol, key: str, reason: str, by: Attribution
) -> Exam:
    """Record that a region was not examined, and why; findings made so far stand.

    Raises:
        MissingReasonError: No reason.
    """
    require_key(exam, protocol, key)
    if not reason.strip():
        raise MissingReasonError
    entry = replace(
        exam.entry(key),
        conclusion=Conclusion.NOT_EXAMINED,
        asserted=(),
        struck=(),
        reason=reason.strip(),
        is_parked=False,
        attribution=by,
    )
    return set_entry(exam, key, entry)


def mark_not_present(
    exam: Exam,
    protocol: SpeciesProtocol,
    key: str,
    reason: str,
    by: Attribution,
    finding_id: str,
) -> Exam:
    """Record that a part is not there; for an eye or a limb that is a finding too.

    Args:
        finding_id: UUID for the finding, where loss is one.

    Raises:
        MissingReasonError: No reason.
        OtherSexError: "Other sex" was said of the parts of both.
    """
    region = require_key(exam, protocol, key)
    if not reason.strip():
        raise MissingReasonError
    require_one_sex(exam, protocol, region, reason.strip())
    entry = exam.entry(key)
    findings = entry.findings
    words = f"not present: {reason.strip()}"
    if region.loss_is_finding and all(f.words != words for f in findings):
        lost = Finding(finding_id, words, by, side=split_key(key)[1])
        findings = (*findings, lost)
    entry = replace(
        entry,
        conclusion=Conclusion.NOT_PRESENT,
        asserted=(),
        struck=(),
        findings=findings,
        reason=reason.strip(),
        is_parked=False,
        attribution=by,
    )
    return set_entry(exam, key, entry)


def set_remark(exam: Exam, protocol: SpeciesProtocol, key: str, remark: str) -> Exam:
    """Record a remark (noted, not abnormal); it changes no state."""
    require_key(exam, protocol, key)
    return set_entry(exam, key, replace(exam.entry(key), remark=remark))


def park(exam: Exam, protocol: SpeciesProtocol, key: str, *, parked: bool) -> Exam:
    """Put an unexamined region off to later today, or take it up again."""
    require_key(exam, protocol, key)
    return set_entry(exam, key, replace(exam.entry(key), is_parked=parked))


def answer_earlier(exam: Exam, finding_id: str, outcome: EarlierOutcome) -> Exam:
    """Record what became of a finding of an earlier exam.

    Raises:
        UnknownItemError: No such earlier finding.
    """
    if exam.is_closed:
        raise ExamClosedError
    if all(found.finding_id != finding_id for found in exam.earlier):
        raise UnknownItemError(finding_id)
    earlier = tuple(
        replace(found, outcome=outcome) if found.finding_id == finding_id else found
        for found in exam.earlier
    )
    return replace(exam, earlier=earlier)
