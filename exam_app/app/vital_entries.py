"""Record one vital through the exam's editor: a value, a reason, or taking it back."""

from exam_app.app.exam_editor import Edit, ExamEditor
from exam_app.app.exam_sessions import change
from exam_app.app.session import Session
from exam_app.app.view.vital_presenter import value_text
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.review import vital_label
from exam_app.domain.exam.vital_transitions import MOST_SIGNS, clear_vital, record_vital
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.protocol.protocol import Vital


async def record(
    session: Session,
    editor: ExamEditor,
    vital: Vital,
    entry: VitalEntry,
    *,
    is_repeat: bool = False,
) -> bool:
    """Record an answer and its flag; whether it was taken.

    Args:
        is_repeat: Whether it was counted or measured once more.
    """

    def made(exam: Exam, edit: Edit) -> Exam:
        ids = tuple(edit.new_id() for _ in range(MOST_SIGNS))
        name, by = vital.vital_id, edit.by
        return record_vital(
            exam, edit.protocol, name, entry, by, ids, is_repeat=is_repeat
        )

    return await change(session, editor, made, told(editor, vital, entry))


async def take_back(session: Session, editor: ExamEditor, vital: Vital) -> bool:
    """Take the answer of a vital back; whether it was done."""
    label = vital_label(vital, words_for(editor.exam))
    return await change(
        session,
        editor,
        lambda exam, edit: clear_vital(exam, edit.protocol, vital.vital_id),
        f"{label}: taken back",
    )


def told(editor: ExamEditor, vital: Vital, entry: VitalEntry) -> str:
    """Name a change as undo shows it: ``Temperature: not done: refused``."""
    words = words_for(editor.exam)
    shown = value_text(editor.protocol, vital, entry, words)
    return f"{vital_label(vital, words)}: {shown}"
