"""Which claims of a part are denied by what was found there, and which are still open.

A find that names a term takes out exactly the claims its term denies, on its own side.
A part that is not there denies all of them. A claim can be denied from elsewhere too:
a lame limb denies the even gait that was watched, a dull grade that it was alert. Own
words deny nothing by themselves: only the examiner knows what they deny, and says so
when the rest is asserted.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace

from exam_app.domain.exam.exam import Exam, clauses_for, each_clause_for
from exam_app.domain.exam.region_states import Conclusion, RegionEntry
from exam_app.domain.protocol.protocol import (
    Clause,
    Region,
    SpeciesProtocol,
    Term,
    split_key,
)


def denied_claims(exam: Exam, region: Region, key: str) -> frozenset[str]:
    """Return the ids of the claims that no longer hold of one side of a region."""
    here = _denied_here(exam, region, key)
    watching = [clause for clause in region.clauses if clause.denied_by]
    said = _said_elsewhere(exam) if watching else frozenset()
    return here.union(c.clause_id for c in watching if not said.isdisjoint(c.denied_by))


def _denied_here(exam: Exam, region: Region, key: str) -> frozenset[str]:
    """Return the ids of the claims that finds on this side deny."""
    if any(finding.is_loss for finding in exam.entry(key).findings):
        return frozenset(clause.clause_id for clause in region.clauses)
    denied: set[str] = set()
    for term in _terms_found(exam, region, key):
        if term is not None:
            denied.update(term.negates)
    return frozenset(denied)


def _said_elsewhere(exam: Exam) -> frozenset[str]:
    """Name what was found and answered anywhere, as ``Clause.denied_by`` names it."""
    found = {
        f"{split_key(key)[0]}/{finding.term_id}"
        for key, entry in exam.regions.items()
        for finding in entry.findings
    }
    earlier = {
        f"{split_key(known.key)[0]}/{known.term_id}"
        for known in exam.earlier
        if known.still_there
    }
    answered = {
        f"vital/{vital_id}/{word}"
        for vital_id, entry in exam.vitals.items()
        for word in (*entry.values, entry.rhythm, entry.grade and entry.grade.value)
        if word
    }
    return frozenset(found | earlier | answered)


def settle_elsewhere(exam: Exam, protocol: SpeciesProtocol) -> Exam:
    """Return the exam as finds and vitals of other parts leave its claims.

    What they deny is taken out of what was asserted. A part whose claim is denied no
    more is open again for it: nobody has said it since.
    """
    regions = dict(exam.regions)
    for region in protocol.regions:
        watched = {c.clause_id for c in region.clauses if c.denied_by}
        for key in region.answer_keys() if watched else ():
            if key in regions:
                denied = denied_claims(exam, region, key)
                entry = without_claims(regions[key], region, denied)
                unsaid = {c.clause_id for c in open_claims(exam, region, key)}
                if entry.conclusion is Conclusion.ASSERTED and unsaid & watched:
                    entry = replace(entry, conclusion=Conclusion.OPEN)
                regions[key] = entry
    return exam if regions == exam.regions else replace(exam, regions=regions)


def has_own_words(exam: Exam, region: Region, key: str) -> bool:
    """Whether something was found of which only the examiner knows what it denies."""
    return any(term is None for term in _terms_found(exam, region, key))


def _terms_found(exam: Exam, region: Region, key: str) -> Iterator[Term | None]:
    """Yield the term of each find, ``None`` for own words; earlier ones found again."""
    for finding in exam.entry(key).findings:
        if not finding.is_loss:
            yield region.term(finding.term_id)
    for earlier in exam.earlier:
        if earlier.key == key and earlier.still_there:
            yield region.term(earlier.term_id)


def rest_claims(exam: Exam, region: Region, key: str) -> tuple[Clause, ...]:
    """Return the claims of the sentence that nothing found there denies."""
    denied = denied_claims(exam, region, key)
    return tuple(c for c in clauses_for(exam, region) if c.clause_id not in denied)


def open_claims(exam: Exam, region: Region, key: str) -> tuple[Clause, ...]:
    """Return the claims of the rest that were neither made, struck nor answered."""
    return tuple(_unsaid(exam.entry(key), rest_claims(exam, region, key)))


def has_open_claims(exam: Exam, region: Region, key: str) -> bool:
    """Whether there are any ``open_claims``; mostly seen without looking elsewhere."""
    denied, entry = _denied_here(exam, region, key), exam.entry(key)
    watched: list[Clause] = []
    for clause in each_clause_for(exam, region):
        if clause.clause_id not in denied and _unsaid(entry, (clause,)):
            if not clause.denied_by:
                return True
            watched.append(clause)
    said = _said_elsewhere(exam) if watched else frozenset()
    return any(said.isdisjoint(clause.denied_by) for clause in watched)


def _unsaid(entry: RegionEntry, clauses: Sequence[Clause]) -> Sequence[Clause]:
    if not (entry.asserted or entry.struck or entry.instead):
        return clauses
    said = {item.clause_id for item in (*entry.struck, *entry.instead)}
    return [
        clause
        for clause in clauses
        if clause.clause_id not in said
        and clause.text not in entry.asserted
        and (not clause.plain or clause.plain not in entry.asserted)
    ]


def without_claims(
    entry: RegionEntry, region: Region, clause_ids: Collection[str]
) -> RegionEntry:
    """Return an answer without some of its claims; the rest of it stands.

    An answer that said nothing else is open again.
    """
    texts = {
        text
        for clause in region.clauses
        if clause.clause_id in clause_ids
        for text in (clause.text, clause.plain)
    }
    left = replace(
        entry,
        asserted=tuple(text for text in entry.asserted if text not in texts),
        struck=tuple(s for s in entry.struck if s.clause_id not in clause_ids),
        instead=tuple(s for s in entry.instead if s.clause_id not in clause_ids),
    )
    says_nothing = not (left.asserted or left.struck or left.instead)
    if left.conclusion is Conclusion.ASSERTED and says_nothing:
        return replace(left, conclusion=Conclusion.OPEN)
    return left


def with_nothing_said(entry: RegionEntry) -> RegionEntry:
    """Return an answer with its findings and remark, and nothing said of the rest."""
    return replace(
        entry,
        conclusion=Conclusion.OPEN,
        asserted=(),
        struck=(),
        instead=(),
        reason="",
    )
