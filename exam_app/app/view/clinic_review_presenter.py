"""The order in which a veterinarian reads what arrived, decided without a screen.

Not acknowledged before acknowledged; then urgent signs that nobody was told of,
urgent signs, "veterinarian to look", values outside published ranges, gaps, the rest;
within each, what was closed last first. Every row stands in exactly one place.
"""

from collections.abc import Iterable, Sequence
from enum import IntEnum

from exam_app.app.exam_words import closed_line
from exam_app.domain.animal.signalment import species_words
from exam_app.domain.wording.count_words import count_words
from exam_app.store.repositories.rows import ClosedExam

ALL_DAYS = "all"
DAYS_OFFERED = 5
_GAPS_NAMED = 4


class Rank(IntEnum):
    """Why a record is read before another one; the lowest number is read first."""

    URGENT_NOT_TOLD = 0
    URGENT = 1
    TO_LOOK = 2
    OUTSIDE = 3
    GAPS = 4
    REST = 5
    ACKNOWLEDGED = 6


HEADINGS = {
    Rank.URGENT_NOT_TOLD: "Urgent, nobody was told",
    Rank.URGENT: "Urgent",
    Rank.TO_LOOK: "For the veterinarian to look at",
    Rank.OUTSIDE: "Outside published ranges",
    Rank.GAPS: "With gaps",
    Rank.REST: "The rest",
    Rank.ACKNOWLEDGED: "Acknowledged",
}


def rank_of(row: ClosedExam) -> Rank:
    """Return the most pressing reason to read a record."""
    reasons = (
        (row.urgency == "urgent not told", Rank.URGENT_NOT_TOLD),
        (bool(row.urgency or row.is_urgent), Rank.URGENT),
        (row.to_look > 0, Rank.TO_LOOK),
        (row.flags > 0, Rank.OUTSIDE),
        (row.gaps > 0, Rank.GAPS),
    )
    return next((rank for holds, rank in reasons if holds), Rank.REST)


def is_acknowledged(row: ClosedExam) -> bool:
    """Return whether somebody acknowledged exactly this record."""
    return bool(row.acknowledged_by)


def reading_groups(rows: Iterable[ClosedExam]) -> dict[Rank, list[ClosedExam]]:
    """Return every row once, in reading order, under the reason it stands there."""
    found: dict[Rank, list[ClosedExam]] = {rank: [] for rank in Rank}
    # The moment of closing is the device's own clock; it only orders equals.
    for row in sorted(rows, key=lambda row: row.closed, reverse=True):
        found[Rank.ACKNOWLEDGED if is_acknowledged(row) else rank_of(row)].append(row)
    found[Rank.ACKNOWLEDGED].sort(key=rank_of)
    return {rank: there for rank, there in found.items() if there}


def next_to_read(rows: Iterable[ClosedExam], after: str = "") -> str:
    """Return the ``exam_id`` to read next: the first that nobody acknowledged.

    Args:
        after: An exam that is being read now and is not meant.
    """
    for rank, there in reading_groups(rows).items():
        for row in there:
            if rank is not Rank.ACKNOWLEDGED and row.exam_id != after:
                return row.exam_id
    return ""


def days_of(rows: Iterable[ClosedExam]) -> tuple[str, ...]:
    """Return the newest local days on which these exams were closed, newest first."""
    days = sorted({_day(row) for row in rows if _day(row)}, reverse=True)
    return tuple(days[:DAYS_OFFERED])


def rows_of_day(rows: Iterable[ClosedExam], day: str) -> list[ClosedExam]:
    """Return the rows of one day, or of all days."""
    return [row for row in rows if day in (ALL_DAYS, _day(row))]


def summary(rows: Sequence[ClosedExam]) -> str:
    """Say in one line how much is not acknowledged, and how much of it presses."""
    waiting = [row for row in rows if not is_acknowledged(row)]
    if not rows:
        return "Nothing has arrived yet."
    if not waiting:
        return "Everything that arrived was acknowledged."
    pressing = sum(rank_of(row) <= Rank.URGENT for row in waiting)
    looked = sum(rank_of(row) is Rank.TO_LOOK for row in waiting)
    parts = [
        f"{count_words(len(waiting), 'record')} not acknowledged",
        f"{pressing} urgent" if pressing else "",
        f"{looked} for the veterinarian to look at" if looked else "",
    ]
    return ": ".join((parts[0], ", ".join(p for p in parts[1:] if p))).rstrip(": ")


def review_title(row: ClosedExam) -> str:
    """Name a row: the animal, and in words what presses."""
    name = row.name or "Unnamed animal"
    if row.bite:
        name = f"{name} · bite or scratch"
    demo = " · demo" if row.is_demo else ""
    return f"{name} ({species_words(row.species or 'animal')}){demo}"


def review_lines(row: ClosedExam, device_name: str = "") -> tuple[str, ...]:
    """Return the lines under a row's title: headline first, then where it came from."""
    reasons = _reasons(row)
    headline = [line for line in row.headline if _is_said(line, row)]
    came = f"from {device_name}" if device_name else ""
    known = row.acknowledged_by
    lines = (
        *headline,
        reasons,
        " · ".join(part for part in (closed_line(row), came) if part),
        f"Acknowledged by {known}" if known else "",
        "Two versions of this record exist; read both" if row.is_fork else "",
    )
    return tuple(line for line in lines if line)


def _is_said(line: str, row: ClosedExam) -> bool:
    """Leave out of a list what is calm, and gaps too many to be read there."""
    if line.startswith("Everything"):
        return False
    return not line.startswith("Not done:") or row.gaps <= _GAPS_NAMED


def _reasons(row: ClosedExam) -> str:
    to_look, flags = row.to_look, row.flags
    parts = (
        f"{count_words(to_look, 'finding')} for the veterinarian" if to_look else "",
        f"{count_words(flags, 'value')} outside a published range" if flags else "",
    )
    return " · ".join(part for part in parts if part)


def _day(row: ClosedExam) -> str:
    return row.closed[:10]
