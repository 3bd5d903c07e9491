"""What the hand-over screen and the day list say of exams that have to leave.

Plain functions over stored projections; a screen only shows what they return. An
exam counts as handed over once the clinic said so, by code or by signed receipt;
that its codes were shown proves nothing.
"""

from collections.abc import Iterable, Mapping, Sequence

from exam_app.app.exam_words import closed_line
from exam_app.domain.wording.count_words import count_words
from exam_app.store.repositories.rows import ClosedExam, OpenExam

WAITING = "waiting"
SHOWN = "shown"
RECEIVED_BY_CODE = "received by code"
RECEIVED = "received"

STATE_WORDS = {
    WAITING: "not shown yet",
    SHOWN: "shown; the clinic has not confirmed it",
    RECEIVED_BY_CODE: "received, by the clinic's code",
    RECEIVED: "received, by the clinic's signed receipt",
}
_NOT_THERE = (WAITING, SHOWN)


def standing_count(rows: Sequence[ClosedExam]) -> str:
    """Say how much has not reached the clinic; empty when all has."""
    if not rows:
        return ""
    verb = "is" if len(rows) == 1 else "are"
    closed = sorted(row.closed for row in rows if row.closed)
    which = "closed" if len(rows) == 1 else "the oldest closed"
    age = f"; {which} {closed[0][:16]}" if closed else ""
    return f"{count_words(len(rows))} {verb} not handed over{age}."


def urgent_first(rows: Iterable[ClosedExam]) -> tuple[ClosedExam, ...]:
    """Return the urgent ones among these, the oldest first."""
    urgent = [row for row in rows if row.is_urgent or row.urgency]
    return tuple(sorted(urgent, key=lambda row: row.closed))


def waits_line(row: ClosedExam) -> str:
    """Describe an exam that has not reached the clinic."""
    urgent = "urgent · " if row.is_urgent or row.urgency else ""
    return f"{urgent}{closed_line(row)}"


def draft_lines(
    drafts: Iterable[OpenExam], left: Mapping[str, Mapping[str, str]]
) -> tuple[tuple[OpenExam, str], ...]:
    """Return every open exam with why it stays behind; undecided ones first.

    Args:
        drafts: The open exams.
        left: As ``leave`` keeps them, by exam.

    Returns:
        With each exam the reason and who gave it; empty while nobody has said, or
        once the exam was changed again.
    """
    lines = []
    for row in drafts:
        kept = left.get(row.exam_id)
        is_left = kept is not None and kept.get("changed") == row.changed
        why = f"{kept['reason']} ({kept['name']})" if kept and is_left else ""
        lines.append((row, why))
    return tuple(sorted(lines, key=lambda line: bool(line[1])))


def undecided(lines: Iterable[tuple[OpenExam, str]]) -> int:
    """Return how many open exams nobody has decided about."""
    return sum(not why for _, why in lines)


def leave(
    left: Mapping[str, Mapping[str, str]],
    drafts: Iterable[OpenExam],
    row: OpenExam,
    reason: str,
    name: str,
) -> dict[str, dict[str, str]]:
    """Return what to keep once one more open exam is left behind.

    Reasons of exams that are no longer open are dropped.
    """
    open_ids = {draft.exam_id for draft in drafts}
    kept = {key: dict(value) for key, value in left.items() if key in open_ids}
    kept[row.exam_id] = {
        "reason": reason.strip(),
        "name": name,
        "changed": row.changed,
    }
    return kept


def drafts_first(count: int) -> str:
    """Say that open exams have to be decided first; empty when all are."""
    if not count:
        return ""
    them = "it" if count == 1 else "each of them"
    return (
        f"{count_words(count, 'exam')} still open. Say what happens with {them} "
        "first: continue, stop early, or leave with a reason."
    )


def is_not_there(state: str) -> bool:
    """Whether the clinic has not confirmed an exam in this state."""
    return state in _NOT_THERE


def bundle_title(sequence: int, exam_count: int) -> str:
    """Name a hand-over."""
    return f"Hand-over {sequence}: {count_words(exam_count)}"


def names_of(rows: Iterable[ClosedExam], most: int = 4) -> str:
    """Name the animals of a hand-over, the first few in full."""
    names = [row.name or "an animal" for row in rows]
    more = len(names) - most
    shown = ", ".join(names[:most])
    return f"{shown} and {more} more" if more > 0 else shown
