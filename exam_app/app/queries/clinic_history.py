"""An animal's earlier exams beside the one that is read: values, finds, changes.

Of a weight it is said what it differs by from the one before; lump sizes are never
subtracted here, since a difference is only stated beyond the measuring error, and the
exam itself says it where it may be said.
"""

from collections.abc import Iterable, Sequence
from itertools import pairwise

from exam_app.app.view.history_presenter import day_words, drawn_first, past_lines
from exam_app.domain.animal.history import AnimalHistory, PastLine, PastValue
from exam_app.domain.animal.weight_changes import weight_change
from exam_app.domain.exam.exam import Exam
from exam_app.domain.wording.exam_wording import join_words
from exam_app.domain.wording.phrases import capital
from exam_app.domain.wording.region_wording import NOT_SAID
from exam_app.language.catalogue import tr
from exam_app.store.repositories.rows import ClosedExam

_VALUES_SHOWN = 4


def earlier_values(
    history: AnimalHistory, shown: Exam
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return each vital with its values, the newest first.

    A vital that was answered in the record that is read only is left out: there is
    nothing to hold it against.

    Args:
        history: Of the animal, the record that is read included.
        shown: That record; its own value says so.
    """
    return tuple(
        (
            series.label,
            tuple(_line(v, shown) for v in series.values[::-1])[:_VALUES_SHOWN],
        )
        for series in drawn_first(history)
        if any(value.exam_id != shown.exam_id for value in series.values)
    )


def _line(value: PastValue, shown: Exam) -> str:
    here = _here(value.exam_id, shown)
    return f"{day_words(value.at)}{here}: {join_words(value.shown, value.detail)}"


def _here(exam_id: str, shown: Exam) -> str:
    return ", " + tr("this record") if exam_id == shown.exam_id else ""


def weight_since(history: AnimalHistory, shown: Exam) -> str:
    """Say what the weight of a record differs by from the one before; or nothing."""
    for series in history.series:
        values = series.values if series.is_body_weight else ()
        for before, now in pairwise(values):
            change = (
                weight_change(before, now) if now.exam_id == shown.exam_id else None
            )
            if change is not None:
                return f"{capital(change.words)}."
    return ""


def lumps(history: AnimalHistory, shown: Exam) -> tuple[str, ...]:
    """Return a line for each lump that was measured; as of ``wounds``."""
    return _told(history.lumps, shown)


def wounds(history: AnimalHistory, shown: Exam) -> tuple[str, ...]:
    """Return a line for each wound and what became of it, the newest first.

    None where all of them are of the record that is read, which says them itself.

    Args:
        history: Of the animal, the record that is read included.
        shown: That record; its own lines say so.
    """
    return _told(history.wounds, shown)


def _told(lines: Sequence[PastLine], shown: Exam) -> tuple[str, ...]:
    if all(line.exam_id == shown.exam_id for line in lines):
        return ()
    return tuple(
        f"{line.title}{_here(line.exam_id, shown)}: {line.words}"
        for line in past_lines(lines)
    )


def amended(exam: Exam) -> tuple[tuple[str, str, str], ...]:
    """Return what later versions of a record changed, the newest first.

    Returns:
        What it is, what it reads now, and what stood there before.
    """
    return tuple(
        (one.item, one.now or tr("taken out"), one.was or tr(NOT_SAID))
        for one in reversed(exam.corrections)
        if one.item
    )


def earlier_exams(rows: Iterable[ClosedExam], shown: Exam) -> list[ClosedExam]:
    """Return the animal's exams but the one that is read, newest first."""
    others = [row for row in rows if row.exam_id != shown.exam_id]
    return sorted(others, key=lambda row: row.started, reverse=True)


def relation(row: ClosedExam, shown: Exam) -> str:
    """Say how another exam of the animal hangs together with the one that is read."""
    if row.continues == shown.exam_id:
        return tr("continues this exam")
    if shown.continues and shown.continues == row.exam_id:
        return tr("is continued by this exam")
    return ""
