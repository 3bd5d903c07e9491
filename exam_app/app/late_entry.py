"""A whole late entry: when all was seen is said once and holds until it is ended.

It is kept on this device beside the open exam, so that what is entered after a restart
is not dated otherwise than what stood above it. In the record each entry has its own
two times.
"""

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.exam_settings import keep_of_exam, kept_of_exam
from exam_app.app.session import Session
from exam_app.domain.moments import Moment
from exam_app.language.catalogue import tr
from exam_app.store.vault.vault import Vault

_LATE = "late_entries"


def late_words(seen: Moment, now: Moment) -> str:
    """Return what stands above the exam for as long as it holds."""
    day = seen.local().date()
    if day == now.local().date():
        return tr("All I enter now was seen at {time}", time=seen.clock())
    return tr("All I enter now was seen on {day} at {time}", day=day, time=seen.clock())


async def begin_late_entry(session: Session, editor: ExamEditor, seen: Moment) -> None:
    """Let all that the examiner enters from now on be of an earlier moment."""
    late, examiner = editor.view.late, session.examiner.person_id
    late.said_by, late.seen = examiner, seen
    said: list[int | str] = [seen.utc_ms, seen.offset_min, examiner]
    await _keep(session, editor, said)


async def end_late_entry(session: Session, editor: ExamEditor) -> None:
    """Let what is entered be of now again."""
    editor.view.late.seen = None
    await _keep(session, editor, None)


def recall_late_entry(vault: Vault, editor: ExamEditor) -> None:
    """Go on with what was said before a restart."""
    said = kept_of_exam(vault, _LATE, editor.exam.exam_id)
    if said is None:
        return
    late = editor.view.late
    late.said_by, late.seen = said[2], Moment(said[0], said[1])


async def _keep(
    session: Session, editor: ExamEditor, said: list[int | str] | None
) -> None:
    vault, exam_id = session.vault, editor.exam.exam_id
    await session.save(lambda: keep_of_exam(vault, _LATE, exam_id, said))
