"""What one tap on "I was bitten or scratched" records, and whose bite it is."""

from dataclasses import replace

from exam_app.app.exam_editor import Edit, change_maker
from exam_app.app.region_changes import urgent_noticed
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.visit import BiteHistory
from exam_app.domain.exam.visit_transitions import record_visit

SIGN_ID = "bit_a_person"
WORDS = "bitten or scratched"


@change_maker
def examiner_bitten(exam: Exam, edit: Edit, label: str) -> Exam:
    """Record the examiner's bite with its time, and open the sign that is told.

    Args:
        label: The sign as shown.
    """
    bite = exam.bite or BiteHistory()
    if not bite.examiner_bitten:
        when = f"{edit.by.observed.local():%Y-%m-%d %H:%M}"
        bite = replace(bite, examiner_bitten=WORDS, examiner_when=when)
        bite = with_examiners_name(exam, bite, edit.by)
    noticed = urgent_noticed(edit.protocol.sign(SIGN_ID), "the examiner", label)
    return noticed(record_visit(exam, bite), edit)


def with_examiners_name(exam: Exam, bite: BiteHistory, by: Attribution) -> BiteHistory:
    """Return a bite that names which examiner was bitten: who examined at its entry.

    A name that stands is kept, and goes with the bite when that is taken back.
    """
    if not bite.examiner_bitten:
        return replace(bite, examiner_name="")
    if bite.examiner_name:
        return bite
    names = (p.name for p in exam.people if p.person_id == by.examined_by)
    return replace(bite, examiner_name=next(names, ""))
