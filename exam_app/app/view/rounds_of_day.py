"""Rounds in the day's list: the animals of an open round stand under their group."""

from collections.abc import Sequence

from exam_app.domain.wording.count_words import count_words
from exam_app.store.repositories.rows import OpenExam


def without_rows(drafts: Sequence[OpenExam]) -> list[OpenExam]:
    """Return the open exams without those of a round whose group is open too."""
    there = {row.exam_id for row in drafts}
    return [row for row in drafts if row.group_exam not in there]


def round_line(row: OpenExam, drafts: Sequence[OpenExam]) -> str:
    """Say how many animals of a round are open; empty for a single animal."""
    if not row.is_group:
        return ""
    count = sum(other.group_exam == row.exam_id for other in drafts)
    return f"round: {count_words(count, 'animal')} open"


def address_of(row: OpenExam) -> str:
    """Return where an open exam's line leads: a group to its round."""
    way = "round" if row.is_group else "exam"
    return f"/{way}/{row.exam_id}"
