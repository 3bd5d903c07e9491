"""Which private notes of a record the present reader is shown, apart from the rest.

They are drawn in a place of their own, so that no copy of the record can hold them.
"""

from exam_app.domain.exam import Exam
from exam_app.domain.people import Person
from exam_app.domain.wording import person_name
from exam_app.ui.visit_presenter import notes_for


def for_reader(exam: Exam, reader: Person) -> tuple[str, ...]:
    """Return the private notes a reader is shown, with who wrote them and when."""
    return tuple(
        f"{note.text} ({person_name(exam, note.attribution.examined_by)}, "
        f"{note.attribution.entered.date_and_time()})"
        for note in notes_for(exam, reader)
    )
