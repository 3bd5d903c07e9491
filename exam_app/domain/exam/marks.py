"""The marks of an exam: its own, those of earlier records, and the next number.

A mark keeps its number from exam to exam. An earlier lump that is measured again has
the mark it had, and a new mark is given a number that none known here has.
"""

from exam_app.domain.errors import FoundAgainError, UnknownItemError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import EarlierFinding, EarlierOutcome, Finding

NOT_FOUND_AGAIN = (EarlierOutcome.GONE, EarlierOutcome.NOT_LOOKED_FOR)


def marked_findings(exam: Exam) -> tuple[tuple[str, Finding], ...]:
    """Return each finding with a mark and its region key, by their numbers."""
    found = [
        (finding.mark.number, key, finding)
        for key, entry in exam.regions.items()
        for finding in entry.findings
        if finding.mark is not None
    ]
    by_number = sorted(found, key=lambda one: one[0])
    return tuple((key, finding) for _, key, finding in by_number)


def earlier_marks(exam: Exam) -> tuple[EarlierFinding, ...]:
    """Return the earlier finds with a mark that were neither found again nor gone."""
    again = found_again(exam)
    known = (
        (one.mark.number, one)
        for one in exam.earlier
        if one.mark is not None
        and one.finding_id not in again
        and one.outcome is not EarlierOutcome.GONE
    )
    return tuple(one for _, one in sorted(known, key=lambda pair: pair[0]))


def next_number(exam: Exam) -> int:
    """Return the number of the next mark: one more than any that is known."""
    return highest_number(exam) + 1


def highest_number(exam: Exam) -> int:
    """Return the highest number of a mark that an exam has or knows; 0 for none."""
    own = (found.mark.number for _, found in marked_findings(exam) if found.mark)
    known = (one.mark.number for one in exam.earlier if one.mark)
    return max((exam.marks_before, *own, *known))


def found_again(exam: Exam) -> frozenset[str]:
    """Return the ids of the earlier finds that a finding of this exam is said to be."""
    return frozenset(
        finding.same_as
        for entry in exam.regions.values()
        for finding in entry.findings
        if finding.same_as
    )


def open_earlier(exam: Exam) -> tuple[EarlierFinding, ...]:
    """Return the earlier finds of which this exam has said nothing yet."""
    unsaid = [one for one in exam.earlier if one.outcome is None]
    again = found_again(exam) if unsaid else ()
    return tuple(one for one in unsaid if one.finding_id not in again)


def require_not_again(exam: Exam, finding_id: str, outcome: EarlierOutcome) -> None:
    """Refuse to call an earlier find gone, or not looked for, that is found again.

    Raises:
        FoundAgainError: It is found again in this exam.
    """
    if outcome in NOT_FOUND_AGAIN and finding_id in found_again(exam):
        raise FoundAgainError


def earlier_of(exam: Exam, finding_id: str) -> EarlierFinding | None:
    """Return an earlier find by its id; ``None`` where the exam does not know it."""
    return next((one for one in exam.earlier if one.finding_id == finding_id), None)


def known_earlier(exam: Exam, finding_id: str) -> EarlierFinding:
    """Return an earlier find by its id.

    Raises:
        UnknownItemError: The exam was not asked about it.
    """
    known = earlier_of(exam, finding_id)
    if known is None:
        raise UnknownItemError(finding_id)
    return known
