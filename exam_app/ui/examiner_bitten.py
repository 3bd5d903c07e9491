"""What one tap on "I was bitten or scratched" records, before anything is typed."""

from dataclasses import replace

from exam_app.domain.exam import Exam
from exam_app.domain.people import Attribution
from exam_app.domain.protocol import SpeciesProtocol
from exam_app.domain.visit import BiteHistory
from exam_app.domain.visit_transitions import set_bite
from exam_app.ui.exam_desk import Change, NewId
from exam_app.ui.region_changes import urgent_noticed

SIGN_ID = "bit_a_person"
WORDS = "bitten or scratched"


def examiner_bitten(protocol: SpeciesProtocol, label: str) -> Change:
    """Record the examiner's bite with its time, and open the sign that is told.

    Args:
        label: The sign as shown.
    """

    def made(exam: Exam, by: Attribution, new_id: NewId) -> Exam:
        bite = exam.bite or BiteHistory()
        if not bite.examiner_bitten:
            clock = by.observed.clock()
            bite = replace(bite, examiner_bitten=WORDS, examiner_when=clock)
        noticed = urgent_noticed(protocol.sign(SIGN_ID), "the examiner", label)
        return noticed(set_bite(exam, bite), by, new_id)

    return made
