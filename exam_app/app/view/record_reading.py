"""Which private notes of a record the present reader is shown, apart from the rest.

They are drawn in a place of their own, so that no copy of the record can hold them.
"""

from exam_app.app.view.visit_presenter import notes_for
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Person, Role
from exam_app.domain.wording.exam_wording import person_name

NOT_HERE = (
    "A private note was signed with this record. It is not on this device: it goes to "
    "the clinic's computer only."
)


def for_reader(
    exam: Exam, reader: Person, *, lacks_private: bool = False
) -> tuple[str, ...]:
    """Return the private notes a reader is shown, with who wrote them and when.

    Args:
        exam: With the private notes that are kept here.
        reader: The person at the screen.
        lacks_private: Whether one was signed that is not here; a veterinarian is told.
    """
    is_told = lacks_private and reader.role is Role.VETERINARIAN
    missing = (NOT_HERE,) if is_told else ()
    return missing + tuple(
        f"{note.text} ({person_name(exam, note.attribution.examined_by)}, "
        f"{note.attribution.entered.date_and_time()})"
        for note in notes_for(exam, reader)
    )
