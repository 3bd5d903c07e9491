"""Pure changes of an exam: each returns a new exam, or refuses and changes nothing.

A closed exam refuses every change. Normal is never given in bulk: an assertion names
the keys it is made for, and only both sides of one paired part go together.
"""

from dataclasses import replace

from exam_app.domain.errors import (
    BulkAssertionError,
    MissingReasonError,
    NothingLeftError,
    NotInScopeError,
    OwnWordsError,
    UnknownItemError,
)
from exam_app.domain.exam.denials import (
    denied_claims,
    has_own_words,
    settle_elsewhere,
    with_nothing_said,
    without_claims,
)
from exam_app.domain.exam.exam import (
    Exam,
    claim_name,
    clauses_for,
    clauses_to_add,
    keys_offered,
    require_open,
)
from exam_app.domain.exam.findings import NOT_PRESENT, EarlierOutcome, Finding
from exam_app.domain.exam.marks import known_earlier, require_not_again
from exam_app.domain.exam.people import Attribution, Person, Role
from exam_app.domain.exam.region_states import Conclusion, RegionEntry, StruckClause
from exam_app.domain.exam.urgent import UrgentAnswer, UrgentEntry
from exam_app.domain.protocol.protocol import Clause, Region, SpeciesProtocol, split_key
from exam_app.domain.protocol.sex_limits import assert_over_rivals, require_one_sex
from exam_app.domain.protocol.urgent_signs import UrgentSign


def clause_words(clause: Clause, words: Role) -> str:
    """Return a claim in plain words for volunteers, else in staff words."""
    return clause.plain if words is Role.VOLUNTEER and clause.plain else clause.text


def set_entry(exam: Exam, key: str, entry: RegionEntry) -> Exam:
    """Return the exam with one region's answer replaced.

    Raises:
        ExamClosedError: The exam is closed.
    """
    return replace(require_open(exam), regions={**exam.regions, key: entry})


def require_key(exam: Exam, protocol: SpeciesProtocol, key: str) -> Region:
    """Return the region of a key that this exam can answer.

    Raises:
        UnknownItemError: The protocol has no such region.
        NotInScopeError: The region is not part of this exam.
    """
    region = protocol.region(split_key(key)[0])
    if region is None or key not in region.answer_keys():
        raise UnknownItemError(key)
    if key not in keys_offered(exam, protocol):
        raise NotInScopeError
    return region


def with_person(exam: Exam, person: Person) -> Exam:
    """Return the exam naming one more person; one it names already is replaced."""
    require_open(exam)
    others = tuple(p for p in exam.people if p.person_id != person.person_id)
    return replace(exam, people=(*others, person))


def assert_no_abnormality(
    exam: Exam,
    protocol: SpeciesProtocol,
    keys: tuple[str, ...],
    words: Role,
    by: Attribution,
    struck: tuple[tuple[str, str], ...] = (),
    instead: tuple[str, ...] | None = None,
    denied: tuple[str, ...] | None = None,
) -> Exam:
    """Record "no abnormality found" for one part, or for both sides of a paired part.

    The sentence kept is the one shown: the exam's claims without the struck ones and
    without those that a finding denies. Findings stand; beside them the sentence
    covers the rest of the region.

    Args:
        keys: One key, or the two keys of one paired region.
        words: Whose wording was on screen.
        struck: Claims not seen as (clause id, reason).
        instead: Ids of claims in whose place their ``strike_as`` is said; ``None``:
            those of which this exam says so by habit.
        denied: Ids of claims that finds in own words deny; ``None``: not asked.

    Raises:
        BulkAssertionError: Keys of more than one region.
        MissingReasonError: A struck claim without a reason.
        NothingLeftError: Nothing is left to say, since all of it is denied.
        OtherSexError: Something is recorded of the parts of the other sex.
        OwnWordsError: A find in own words, and not said what it denies.
        UnknownItemError: A claim this sentence does not make, or every claim struck
            (that is "not examined").
    """
    if len({split_key(key)[0] for key in keys}) != 1:
        raise BulkAssertionError
    for key in keys:
        region = require_key(exam, protocol, key)
        exam = assert_over_rivals(exam, protocol, region, by)
        if has_own_words(exam, region, key) and denied is None:
            raise OwnWordsError(key)
        left_out = denied_claims(exam, region, key).union(denied or ())
        clauses = tuple(
            clause
            for clause in clauses_for(exam, region)
            if clause.clause_id not in left_out
        )
        if not clauses:
            raise NothingLeftError(key)
        said = _said_instead(exam, region, clauses, struck, instead)
        sentence = _sentence(clauses, words, dict(struck), said)
        entry = replace(
            exam.entry(key),
            conclusion=Conclusion.ASSERTED,
            asserted=sentence.asserted,
            struck=sentence.struck,
            instead=sentence.instead,
            reason="",
            is_parked=False,
            attribution=by,
        )
        exam = set_entry(exam, key, entry)
    return exam


def _sentence(
    clauses: tuple[Clause, ...],
    words: Role,
    struck: dict[str, str],
    instead: frozenset[str],
) -> RegionEntry:
    """Return what is said of a part, as an answer that holds only that."""
    named = instead.union(struck)
    if not named <= {c.clause_id for c in clauses} or len(struck) == len(clauses):
        raise UnknownItemError(", ".join(sorted(named)))
    if not all(reason.strip() for reason in struck.values()):
        raise MissingReasonError
    spoken = {c.clause_id: clause_words(c, words) for c in clauses}
    return RegionEntry(
        asserted=tuple(t for c, t in spoken.items() if c not in named),
        struck=tuple(
            StruckClause(c, t, struck[c]) for c, t in spoken.items() if c in struck
        ),
        instead=tuple(
            StruckClause(c.clause_id, spoken[c.clause_id], c.strike_as)
            for c in clauses
            if c.clause_id in instead
        ),
    )


def _said_instead(
    exam: Exam,
    region: Region,
    clauses: tuple[Clause, ...],
    struck: tuple[tuple[str, str], ...],
    chosen: tuple[str, ...] | None,
) -> frozenset[str]:
    """Return the ids of the claims in whose place a result stands.

    A claim that has none, or that was struck, is not among those said by habit.
    """
    able = frozenset(c.clause_id for c in clauses if c.strike_as) - {*dict(struck)}
    if chosen is None:
        name, habits = region.region_id, exam.instead_claims
        return frozenset(c for c in able if claim_name(name, c) in habits)
    if not able.issuperset(chosen):
        raise UnknownItemError(region.region_id)
    return frozenset(chosen)


def set_claim(
    exam: Exam,
    protocol: SpeciesProtocol,
    region_id: str,
    clause_id: str,
    *,
    is_added: bool = True,
) -> Exam:
    """Put a claim that a routine exam does not make into this exam's sentence.

    Sides that were answered already stay as they are: it is said of neither by itself.

    Args:
        is_added: Whether it is put in, or taken out again; what was said stands.

    Raises:
        UnknownItemError: The region has no such claim to add.
    """
    require_open(exam)
    region = protocol.region(region_id)
    known = clauses_to_add(exam, region) if region else ()
    if clause_id not in {clause.clause_id for clause in known}:
        raise UnknownItemError(clause_id)
    name = claim_name(region_id, clause_id)
    others = tuple(n for n in exam.added_claims if n != name)
    return replace(exam, added_claims=(*others, name) if is_added else others)


def mark_not_examined(
    exam: Exam, protocol: SpeciesProtocol, key: str, reason: str, by: Attribution
) -> Exam:
    """Record that a region was not examined, and why; findings made so far stand.

    Raises:
        MissingReasonError: No reason.
    """
    require_key(exam, protocol, key)
    return _with_reason(exam, key, Conclusion.NOT_EXAMINED, reason, by)


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
    require_one_sex(exam, protocol, region, key, reason.strip())
    findings = exam.entry(key).findings
    words = f"{NOT_PRESENT}{reason.strip()}"
    if region.loss_is_finding and all(f.words != words for f in findings):
        lost = Finding(finding_id, words, by, side=split_key(key)[1])
        findings = (*findings, lost)
    exam = set_entry(exam, key, replace(exam.entry(key), findings=findings))
    return _with_reason(exam, key, Conclusion.NOT_PRESENT, reason, by)


def _with_reason(
    exam: Exam, key: str, conclusion: Conclusion, reason: str, by: Attribution
) -> Exam:
    """Say of a part only why it was not examined or is not present; finds stand."""
    if not reason.strip():
        raise MissingReasonError
    entry = replace(
        with_nothing_said(exam.entry(key)),
        conclusion=conclusion,
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


def answer_earlier(
    exam: Exam, protocol: SpeciesProtocol, finding_id: str, outcome: EarlierOutcome
) -> Exam:
    """Record what became of a finding of an earlier exam.

    One that is still there takes out the claims it denies, as one found now does.

    Raises:
        UnknownItemError: No such earlier finding.
        FoundAgainError: It is said to be gone, or not looked for, and was found again.
    """
    require_open(exam)
    known = known_earlier(exam, finding_id)
    require_not_again(exam, finding_id, outcome)
    earlier = tuple(
        replace(found, outcome=outcome) if found.finding_id == finding_id else found
        for found in exam.earlier
    )
    was_there = known.still_there
    exam = replace(exam, earlier=earlier)
    answered = replace(known, outcome=outcome)
    exam = settle_elsewhere(exam, protocol)
    if not answered.still_there or was_there:
        return exam
    region = protocol.region(split_key(known.key)[0])
    if region is None or known.key not in exam.regions:
        return exam
    is_term = any(term.term_id == known.term_id for term in region.terms)
    return set_entry(
        exam, known.key, without_denied(exam, region, known.key, is_term=is_term)
    )


def without_denied(
    exam: Exam, region: Region, key: str, *, is_term: bool
) -> RegionEntry:
    """Return the answer of a part without what its finds deny.

    Args:
        is_term: Whether the newest find names a term; what own words deny nobody has
            said yet, and so nothing that was asserted stands beside them.
    """
    entry = exam.entry(key)
    if entry.conclusion is Conclusion.NOT_EXAMINED:
        return entry
    if not is_term:
        return with_nothing_said(entry)
    return without_claims(entry, region, denied_claims(exam, region, key))


def signs_offered(exam: Exam, protocol: SpeciesProtocol) -> tuple[UrgentSign, ...]:
    """Return the signs the urgent button lists for this animal, in their order.

    Those of the other sex are left out; where the sex is not known all are listed.
    """
    return tuple(
        sign
        for sign in protocol.urgent_signs
        if sign.on_button and exam.animal.sex.may_have(sign.sexes)
    )


def open_urgent(exam: Exam, entry: UrgentEntry) -> Exam:
    """Record an urgent sign; the same sign of the same origin opens once."""
    require_open(exam)
    opened = {(u.origin, u.sign_id, u.label) for u in exam.urgent}
    if (entry.origin, entry.sign_id, entry.label) in opened:
        return exam
    return replace(exam, urgent=(*exam.urgent, entry))


def answer_urgent(exam: Exam, entry_id: str, answer: UrgentAnswer) -> Exam:
    """Record that a veterinarian was told, was tried, or is the examiner.

    Raises:
        UnknownItemError: No such urgent sign in this exam.
    """
    require_open(exam)
    if all(u.entry_id != entry_id for u in exam.urgent):
        raise UnknownItemError(entry_id)
    urgent = tuple(
        replace(u, answers=(*u.answers, answer)) if u.entry_id == entry_id else u
        for u in exam.urgent
    )
    return replace(exam, urgent=urgent)


def without_origin(exam: Exam, origin: str) -> Exam:
    """Drop the unanswered signs of an origin; an answered sign stays for ever."""
    kept = tuple(u for u in exam.urgent if u.origin != origin or u.is_answered)
    return exam if len(kept) == len(exam.urgent) else replace(exam, urgent=kept)
