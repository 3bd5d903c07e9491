"""Opening an urgent sign, answering it, and taking back one opened by a mis-tap."""

from dataclasses import replace

from exam_app.domain.errors import ExamClosedError, UnknownItemError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.urgent import UrgentAnswer, UrgentEntry
from exam_app.domain.protocol.protocol import SpeciesProtocol, UrgentSign


def signs_offered(exam: Exam, protocol: SpeciesProtocol) -> tuple[UrgentSign, ...]:
    """Return the signs the urgent button lists for this animal, in their order.

    Those of the other sex are left out; where the sex is not known all are listed.
    """
    kind = exam.animal.sex.kind
    return tuple(
        sign
        for sign in protocol.urgent_signs
        if sign.on_button and (not sign.sexes or not kind or kind in sign.sexes)
    )


def open_urgent(exam: Exam, entry: UrgentEntry) -> Exam:
    """Record an urgent sign; the same sign of the same origin opens once."""
    if exam.is_closed:
        raise ExamClosedError
    if any(u.origin == entry.origin and u.label == entry.label for u in exam.urgent):
        return exam
    return replace(exam, urgent=(*exam.urgent, entry))


def answer_urgent(exam: Exam, entry_id: str, answer: UrgentAnswer) -> Exam:
    """Record that a veterinarian was told, was tried, or is the examiner.

    Raises:
        UnknownItemError: No such urgent sign in this exam.
    """
    if exam.is_closed:
        raise ExamClosedError
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
