"""What the hand-over screen and the day list say of exams that have to leave.

Plain functions over stored projections; a screen only shows what they return. An
exam counts as handed over once the clinic said so, by code or by signed receipt;
that its codes were shown proves nothing.
"""

from collections.abc import Iterable, Mapping, Sequence

from exam_app.app.exam_words import closed_line
from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.store.repositories.rows import ClosedExam, OpenExam

WAITING = "waiting"
SHOWN = "shown"
RECEIVED_BY_CODE = "received by code"
RECEIVED = "received"

STATE_WORDS = {
    WAITING: to_translate("not shown yet"),
    SHOWN: to_translate("shown; the clinic has not confirmed it"),
    RECEIVED_BY_CODE: to_translate("received, by the clinic's code"),
    RECEIVED: to_translate("received, by the clinic's signed receipt"),
}
_NOT_THERE = (WAITING, SHOWN)


def standing_count(rows: Sequence[ClosedExam]) -> str:
    """Say how much has not reached the clinic; empty when all has."""
    if not rows:
        return ""
    closed = sorted(row.closed for row in rows if row.closed)
    if not closed:
        return tr_plural(
            "{count} exam is not handed over.",
            "{count} exams are not handed over.",
            len(rows),
        )
    return tr_plural(
        "{count} exam is not handed over; closed {when}.",
        "{count} exams are not handed over; the oldest closed {when}.",
        len(rows),
        when=closed[0][:16],
    )


def urgent_first(rows: Iterable[ClosedExam]) -> tuple[ClosedExam, ...]:
    """Return the urgent ones among these, the oldest first."""
    urgent = [row for row in rows if row.is_urgent or row.urgency]
    return tuple(sorted(urgent, key=lambda row: row.closed))


def waits_line(row: ClosedExam) -> str:
    """Describe an exam that has not reached the clinic."""
    urgent = tr("urgent") if row.is_urgent or row.urgency else ""
    return " · ".join(filter(None, (urgent, closed_line(row))))


def draft_lines(
    drafts: Iterable[OpenExam],
    left: Mapping[str, Mapping[str, str]],
) -> tuple[tuple[OpenExam, str], ...]:
    """Return every open exam with why it stays behind; undecided ones first.

    Args:
        drafts: The open exams.
        left: As ``leave`` keeps them, by exam.

    Returns:
        With each exam the reason, as it is kept, and who gave it; empty while nobody
        has said, or once the exam was changed again.
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
    return tr_plural(
        "{count} exam still open. Say what happens with it first: continue, stop "
        "early, or leave with a reason.",
        "{count} exams still open. Say what happens with each of them first: "
        "continue, stop early, or leave with a reason.",
        count,
    )


def is_not_there(state: str) -> bool:
    """Whether the clinic has not confirmed an exam in this state."""
    return state in _NOT_THERE


def bundle_title(sequence: int, exam_count: int) -> str:
    """Name a hand-over."""
    return tr_plural(
        "Hand-over {number}: {count} exam",
        "Hand-over {number}: {count} exams",
        exam_count,
        number=sequence,
    )


def names_of(rows: Iterable[ClosedExam], most: int = 4) -> str:
    """Name the animals of a hand-over, the first few in full."""
    names = [row.name or tr("an animal") for row in rows]
    more = len(names) - most
    shown = ", ".join(names[:most])
    if more <= 0:
        return shown
    return tr("{names} and {count} more", names=shown, count=more)
