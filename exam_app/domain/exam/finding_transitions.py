"""Recording and taking back findings, with the urgent signs they open."""

from dataclasses import replace

from exam_app.domain.errors import FoundAgainError, UnknownItemError
from exam_app.domain.exam.denials import (
    open_claims,
    settle_elsewhere,
    with_nothing_said,
)
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import Call, EarlierFinding, Finding
from exam_app.domain.exam.marks import NOT_FOUND_AGAIN, found_again, known_earlier
from exam_app.domain.exam.region_states import Conclusion
from exam_app.domain.exam.transitions import (
    open_urgent,
    require_key,
    set_entry,
    without_denied,
    without_origin,
)
from exam_app.domain.exam.urgent import UrgentEntry
from exam_app.domain.protocol.protocol import Region, SpeciesProtocol, Term, split_key
from exam_app.domain.protocol.scales import grade_number
from exam_app.domain.protocol.sex_limits import find_over_rivals
from exam_app.domain.wording.exam_wording import side_words
from exam_app.language.catalogue import in_english, to_translate


def add_finding(
    exam: Exam,
    protocol: SpeciesProtocol,
    key: str,
    finding: Finding,
    urgent_id: str,
) -> Exam:
    """Record one finding; it takes the claims it denies out of what was asserted.

    The rest stays asserted, by whom it was; a find in own words takes all of it back,
    since nobody has said what it denies. Where the sex is not known, it takes back what
    was asserted of the parts of the other sex.

    A finding called urgent, or whose term is an urgent sign, opens that sign.

    Args:
        urgent_id: UUID for the urgent sign, should one open.

    Raises:
        UnknownItemError: A finding without words.
    """
    region = require_key(exam, protocol, key)
    if not finding.words.strip():
        raise UnknownItemError(key)
    exam = find_over_rivals(exam, protocol, region, finding.attribution)
    entry = exam.entry(key)
    by_id = {known.finding_id: known for known in entry.findings}
    before = by_id.get(finding.finding_id)
    findings = tuple({**by_id, finding.finding_id: finding}.values())
    found = replace(entry, findings=findings, is_parked=False)
    if entry.conclusion is Conclusion.NOT_PRESENT and before is None:
        found = with_nothing_said(found)
    exam = set_entry(exam, key, found)
    said_before = before is not None and before.words == finding.words
    is_term = said_before or any(t.term_id == finding.term_id for t in region.terms)
    entry = without_denied(exam, region, key, is_term=is_term)
    if entry.conclusion is Conclusion.OPEN and not entry.asserted:
        entry = replace(entry, attribution=finding.attribution)
    exam = without_origin(
        set_entry(exam, key, entry), finding_origin(key, finding.finding_id)
    )
    exam = settle_elsewhere(exam, protocol)
    return _open_finding_sign(exam, protocol, region, key, finding, urgent_id)


def find_again(
    exam: Exam,
    protocol: SpeciesProtocol,
    earlier_id: str,
    finding: Finding,
    urgent_id: str,
) -> Exam:
    """Record that a finding is the one of an earlier record, with the mark it had.

    What was said before of the earlier one is open again where it denies that.

    Args:
        earlier_id: ``finding_id`` of the earlier one.
        finding: What is found now; its side, mark and link are filled in.
        urgent_id: UUID for the urgent sign, should one open.

    Raises:
        FoundAgainError: It was found again already.
        UnknownItemError: No such earlier finding.
    """
    known = known_earlier(exam, earlier_id)
    if earlier_id in found_again(exam):
        raise FoundAgainError
    earlier = tuple(
        replace(one, outcome=None)
        if one is known and one.outcome in NOT_FOUND_AGAIN
        else one
        for one in exam.earlier
    )
    finding = replace(
        finding, side=_side_of(known), mark=known.mark, same_as=known.finding_id
    )
    exam = replace(exam, earlier=earlier)
    return add_finding(exam, protocol, known.key, finding, urgent_id)


def _side_of(known: EarlierFinding) -> str:
    """Return the side of an earlier finding, as far as its key or its words say it."""
    side = split_key(known.key)[1]
    if side or known.mark is None:
        return side
    with in_english():
        is_said = side_words(known.mark.side) in known.summary.split(", ")
    return known.mark.side if is_said else ""


def finding_origin(key: str, finding_id: str) -> str:
    """Name a finding as the origin of an urgent sign."""
    return f"region:{key}:{finding_id}"


def _open_finding_sign(
    exam: Exam,
    protocol: SpeciesProtocol,
    region: Region,
    key: str,
    finding: Finding,
    urgent_id: str,
) -> Exam:
    term = region.term(finding.term_id)
    is_urgent = term is not None and opens_sign(term, finding)
    sign = protocol.sign(term.urgent_sign_id) if term and is_urgent else None
    if sign is None and finding.call is not Call.URGENT:
        return exam
    entry = UrgentEntry(
        entry_id=urgent_id,
        label=sign.label if sign else finding.words,
        attribution=finding.attribution,
        sign_id=sign.sign_id if sign else "",
        action=sign.action if sign else to_translate("tell the veterinarian now"),
        origin=finding_origin(key, finding.finding_id),
    )
    return open_urgent(exam, entry)


def opens_sign(term: Term, finding: Finding) -> bool:
    """Say whether a find of a term opens the term's urgent sign.

    A term that names a grade or qualities opens it from that grade on, or with one of
    those qualities; one that names neither always does.
    """
    if not term.urgent_sign_id:
        return False
    if not term.urgent_from and not term.urgent_qualities:
        return True
    least = grade_number(term.urgent_from) if term.urgent_from else None
    given = [
        grade_number(grade.value)
        for grade in finding.grades
        if grade.scale_id == term.scale_id
    ]
    is_graded = least is not None and any(
        number is not None and number >= least for number in given
    )
    return is_graded or not set(term.urgent_qualities).isdisjoint(finding.qualities)


def remove_finding(
    exam: Exam, protocol: SpeciesProtocol, key: str, finding_id: str
) -> Exam:
    """Take back a finding tapped by mistake; its unanswered urgent sign goes too.

    The claims it denied do not come back by themselves: the part is open again for
    them, and what was asserted of the rest is kept.

    Raises:
        UnknownItemError: The region has no such finding.
    """
    region = require_key(exam, protocol, key)
    entry = exam.entry(key)
    kept = tuple(f for f in entry.findings if f.finding_id != finding_id)
    if len(kept) == len(entry.findings):
        raise UnknownItemError(finding_id)
    exam = set_entry(exam, key, replace(entry, findings=kept))
    is_asserted = entry.conclusion is Conclusion.ASSERTED
    if is_asserted and open_claims(exam, region, key):
        opened = replace(exam.entry(key), conclusion=Conclusion.OPEN)
        exam = set_entry(exam, key, opened)
    exam = settle_elsewhere(exam, protocol)
    return without_origin(exam, finding_origin(key, finding_id))
