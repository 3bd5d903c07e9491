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
from exam_app.domain.wording.count_words import count_words
from exam_app.domain.wording.headline import found_line


def why_not(exam: Exam) -> str:
    """Say why an exam is not discarded; empty where it may be."""
    if exam.revision:
        return "A correction is dropped at its own review; the record stays."
    if exam.bite is not None and exam.bite.concern:
        told = "It tells of a bite or scratch"
    elif exam.urgent:
        signs = ", ".join(entry.label for entry in exam.urgent)
        told = f"It holds an urgent sign ({signs})"
    else:
        return ""
    return f"{told}: stop it early instead, so that this stands in a record."


def held_words(
    exam: Exam, protocol: SpeciesProtocol, unsaved: tuple[Unsaved, ...] = ()
) -> str:
    """Say what an open exam holds, in one or two sentences."""
    done, total = progress(exam, protocol)
    values = sum(entry.has_value for entry in exam.vitals.values())
    parts = [f"{done} of {total} parts answered"] if done else []
    parts += [count_words(values, "value")] if values else []
    parts += [count_words(len(unsaved), "sheet") + " not saved"] if unsaved else []
    found = found_line(exam, protocol)
    if not (parts or found):
        return "Nothing is answered in it yet."
    held = f"It holds {', '.join(parts)}." if parts else "It holds:"
    return f"{held} Found: {found}." if found else held


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
