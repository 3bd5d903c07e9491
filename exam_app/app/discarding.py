"""An exam begun by mistake is discarded: in no list any more, kept whole, put back.

What was told of danger is never set aside so: an exam with an urgent sign or a bite is
stopped early, so that it stands in a record.
"""

from exam_app.app.exam_sessions import now
from exam_app.app.session import Session
from exam_app.app.typed_entries import Unsaved
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.review import progress
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.headline import found_line
from exam_app.language.catalogue import tr, tr_plural


def why_not(exam: Exam) -> str:
    """Say why an exam is not discarded; empty where it may be."""
    if exam.revision:
        return tr("A correction is dropped at its own review; the record stays.")
    if exam.bite is not None and exam.bite.concern:
        return tr(
            "It tells of a bite or scratch: stop it early instead, so that this stands "
            "in a record."
        )
    if exam.urgent:
        signs = ", ".join(tr(e.label) if e.sign_id else e.label for e in exam.urgent)
        return tr(
            "It holds an urgent sign ({signs}): stop it early instead, so that this "
            "stands in a record.",
            signs=signs,
        )
    return ""


def held_words(
    exam: Exam, protocol: SpeciesProtocol, unsaved: tuple[Unsaved, ...] = ()
) -> str:
    """Say what an open exam holds, in one or two sentences."""
    done, total = progress(exam, protocol)
    values = sum(entry.has_value for entry in exam.vitals.values())
    parts = []
    if done:
        parts.append(tr("{done} of {total} parts answered", done=done, total=total))
    if values:
        parts.append(tr_plural("{count} value", "{count} values", values))
    if unsaved:
        count = len(unsaved)
        parts.append(
            tr_plural("{count} sheet not saved", "{count} sheets not saved", count)
        )
    found = found_line(exam, protocol)
    if not (parts or found):
        return tr("Nothing is answered in it yet.")
    held = tr("It holds {parts}.", parts=", ".join(parts)) if parts else tr("It holds:")
    return " ".join((held, tr("Found: {found}.", found=found))) if found else held


async def discard(session: Session, exam_id: str) -> None:
    """Discard an open exam, a group's with the exams of its round; in one save."""
    drafts = session.vault.drafts
    rows = [row.exam_id for row in drafts.open() if row.group_exam == exam_id]
    when_and_by = f"{now().date_and_time()[:16]} by {session.examiner.name}"

    def put() -> None:
        with session.vault.transaction():
            for one in (*rows, exam_id):
                drafts.discard(one, when_and_by)

    await session.save(put)
    for one in (*rows, exam_id):
        session.editors.pop(one, None)


async def put_back(session: Session, exam_id: str) -> None:
    """Open a discarded exam again, a group's with the exams of its round."""
    drafts = session.vault.drafts
    rows = [row.exam_id for row in drafts.discarded() if row.group_exam == exam_id]

    def put() -> None:
        with session.vault.transaction():
            for one in (*rows, exam_id):
                drafts.put_back(one)

    await session.save(put)
