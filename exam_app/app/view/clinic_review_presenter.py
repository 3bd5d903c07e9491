"""The order in which a veterinarian reads what arrived, decided without a screen.

Not acknowledged before acknowledged; then urgent signs that nobody was told of,
urgent signs, bites and scratches, "veterinarian to look", values outside published
ranges, gaps, the rest; within each, what was closed last first. Every row stands in
exactly one place, and keeps it while the list is read.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from functools import partial

from exam_app.app.exam_words import closed_line
from exam_app.app.view.kept_rows import lines_shown
from exam_app.domain.animal.signalment import species_shown
from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.store.repositories.rows import ClosedExam

DAYS_OFFERED = 5
_GAPS_NAMED = 4


class Rank(IntEnum):
    """Why a record is read before another one; the lowest number is read first."""

    URGENT_NOT_TOLD = 0
    URGENT = 1
    BITE = 2
    TO_LOOK = 3
    OUTSIDE = 4
    GAPS = 5
    REST = 6
    ACKNOWLEDGED = 7


HEADINGS = {
    Rank.URGENT_NOT_TOLD: to_translate("Urgent, nobody was told"),
    Rank.URGENT: to_translate("Urgent"),
    Rank.BITE: to_translate("Bites and scratches"),
    Rank.TO_LOOK: to_translate("For the veterinarian to look at"),
    Rank.OUTSIDE: to_translate("Outside published ranges"),
    Rank.GAPS: to_translate("With gaps"),
    Rank.REST: to_translate("The rest"),
    Rank.ACKNOWLEDGED: to_translate("Acknowledged"),
}


def rank_of(row: ClosedExam) -> Rank:
    """Return the most pressing reason to read a record."""
    reasons = (
        (row.urgency == "urgent not told", Rank.URGENT_NOT_TOLD),
        (bool(row.urgency or row.is_urgent), Rank.URGENT),
        (bool(row.bite), Rank.BITE),
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


Key = tuple[str, str]


def key_of(row: ClosedExam) -> Key:
    """Name a row of the list: the exam, and its bytes where two versions exist.

    The ends of a fork carry one exam id: each leads to its own bytes.
    """
    return row.exam_id, row.record_hash if row.is_fork else ""


@dataclass(frozen=True, slots=True)
class ReadingList:
    """The rows as they stand on the screen, which no acknowledgement moves.

    Attributes:
        groups: In reading order, each with at least one row.
    """

    groups: tuple[tuple[Rank, tuple[ClosedExam, ...]], ...]

    @classmethod
    def of(cls, rows: Iterable[ClosedExam]) -> "ReadingList":
        """Put rows in the order in which they are read."""
        groups = reading_groups(rows).items()
        return cls(tuple((rank, tuple(there)) for rank, there in groups))

    @property
    def rows(self) -> tuple[ClosedExam, ...]:
        """Every row, from above to below."""
        return tuple(row for _, there in self.groups for row in there)

    def row(self, key: Key) -> ClosedExam | None:
        """Return the row of this name, if it is in the list."""
        return next((row for row in self.rows if key_of(row) == key), None)

    def rank(self, key: Key) -> Rank | None:
        """Return where a row stands."""
        found = (rank for rank, there in self.groups if key in map(key_of, there))
        return next(found, None)

    def acknowledged(self, key: Key, name: str) -> "ReadingList":
        """Return it with one row acknowledged, in the place where it stands."""
        return ReadingList(
            tuple(
                (
                    rank,
                    tuple(
                        replace(row, acknowledged_by=name)
                        if key_of(row) == key
                        else row
                        for row in there
                    ),
                )
                for rank, there in self.groups
            )
        )

    def heading(self, rank: Rank) -> str:
        """Name a group, with how many of it are not acknowledged."""
        there = dict(self.groups)[rank]
        left = sum(not is_acknowledged(row) for row in there)
        count = len(there) if rank is Rank.ACKNOWLEDGED else left
        return f"{tr(HEADINGS[rank])} ({count})"

    def next_after(self, key: Key) -> Key | None:
        """Return the next row that nobody acknowledged, from above once at the end."""
        keys = [key_of(row) for row in self.rows]
        place = keys.index(key) + 1 if key in keys else 0
        in_turn = (*self.rows[place:], *self.rows[: max(0, place - 1)])
        left = (key_of(row) for row in in_turn if not is_acknowledged(row))
        return next(left, None)

    def before(self, key: Key) -> Key | None:
        """Return the row above, whether it was acknowledged or not."""
        keys = [key_of(row) for row in self.rows]
        place = keys.index(key) if key in keys else 0
        return keys[place - 1] if place > 0 else None


@dataclass(frozen=True, slots=True)
class Filter:
    """Which rows are shown; empty fields leave nothing out.

    Attributes:
        day: Local day of closing.
        device: Id of the device it came from.
        place: Where the exam was made.
        kind: Species.
        is_unread: Whether only what nobody acknowledged is shown.
        words: Every one must stand somewhere in the row, in whatever letters.
    """

    day: str = ""
    device: str = ""
    place: str = ""
    kind: str = ""
    is_unread: bool = False
    words: str = ""

    def keeps(self, row: ClosedExam, said: str) -> bool:
        """Whether a row is shown.

        Args:
            said: Everything the list says of it.
        """
        asked = (
            (self.day, _day(row)),
            (self.device, row.device_id),
            (self.place, row.setting),
            (self.kind, row.species),
        )
        text = f"{review_title(row)} {said}".casefold()
        return (
            all(not wanted or wanted == there for wanted, there in asked)
            and not (self.is_unread and is_acknowledged(row))
            and all(word in text for word in self.words.casefold().split())
        )

    def asking(self, field: str, value: str) -> "Filter":
        """Return it with another value for a field of ``filter_choices``."""
        own = ("day", "device", "place", "kind")
        day, device, place, kind = (
            value if name == field else str(getattr(self, name)) for name in own
        )
        return Filter(day, device, place, kind, self.is_unread, self.words)

    def told(self, names: Mapping[str, str]) -> str:
        """Say what is left out; empty where nothing is but by a search."""
        parts = (
            self.day,
            _device_name(self.device, names) if self.device else "",
            tr(self.place),
            species_shown(self.kind) if self.kind else "",
            tr("not acknowledged") if self.is_unread else "",
        )
        return " · ".join(part for part in parts if part)


Choices = tuple[tuple[str, str], ...]


def filter_choices(
    rows: Sequence[ClosedExam], names: Mapping[str, str]
) -> dict[str, Choices]:
    """Return ``(value, label)`` for each field of ``Filter`` that can leave rows out.

    Args:
        names: Of the devices known here, by id.
    """
    devices = sorted({row.device_id for row in rows if row.device_id})
    places = sorted({row.setting for row in rows if row.setting})
    kinds = sorted({row.species for row in rows if row.species})
    choices = {
        "day": tuple((day, day) for day in days_of(rows)),
        "device": tuple((one, _device_name(one, names)) for one in devices),
        "place": tuple((one, tr(one)) for one in places),
        "kind": tuple((one, species_shown(one)) for one in kinds),
    }
    return {field: there for field, there in choices.items() if len(there) > 1}


def _device_name(device_id: str, names: Mapping[str, str]) -> str:
    return names.get(device_id, tr("another device"))


def days_of(rows: Iterable[ClosedExam]) -> tuple[str, ...]:
    """Return the newest local days on which these exams were closed, newest first."""
    days = sorted({_day(row) for row in rows if _day(row)}, reverse=True)
    return tuple(days[:DAYS_OFFERED])


def summary(rows: Sequence[ClosedExam]) -> str:
    """Say in one line how much is not acknowledged, and how much of it presses."""
    waiting = [row for row in rows if not is_acknowledged(row)]
    if not rows:
        return tr("Nothing has arrived yet.")
    if not waiting:
        return tr("Everything that arrived was acknowledged.")
    pressing = sum(rank_of(row) <= Rank.URGENT for row in waiting)
    bites = sum(rank_of(row) is Rank.BITE for row in waiting)
    looked = sum(rank_of(row) is Rank.TO_LOOK for row in waiting)
    parts = [
        tr_plural(
            "{count} record not acknowledged",
            "{count} records not acknowledged",
            len(waiting),
        ),
        tr_plural("{count} urgent", "{count} urgent", pressing) if pressing else "",
        tr_plural("{count} bite or scratch", "{count} bites or scratches", bites)
        if bites
        else "",
        tr("{count} for the veterinarian to look at", count=looked) if looked else "",
    ]
    return ": ".join((parts[0], ", ".join(p for p in parts[1:] if p))).rstrip(": ")


def review_title(row: ClosedExam) -> str:
    """Name a row: the animal, and in words what presses."""
    bite = tr("bite or scratch") if row.bite else ""
    named = (row.name or tr("Unnamed animal"), bite)
    title = " · ".join(filter(None, named))
    said = f"{title} ({species_shown(row.species or 'animal')})"
    return " · ".join((said, tr("demo"))) if row.is_demo else said


def review_lines(
    row: ClosedExam,
    device_name: str = "",
    pressing: Sequence[str] = (),
    recheck: str = "",
) -> tuple[str, ...]:
    """Return the lines under a row's title: what was found, then where it came from.

    Args:
        pressing: What presses in the finding's own words, as ``pressing_lines``; the
            counts of older rows stand in its place where there is nothing.
        recheck: What is still to be looked at again; empty where nothing is.
    """
    headline = [line for line in row.headline if _is_said(line, row)]
    if pressing:
        headline = [line for line in headline if not line.startswith("URGENT")]
    came = tr("from {device}", device=device_name) if device_name else ""
    known = row.acknowledged_by
    shown = partial(lines_shown, row.species)
    lines = (
        tr("Acknowledged by {person}", person=known) if known else "",
        tr("Re-check asked for: {what}", what=recheck) if recheck else "",
        *shown(line for line in headline if line.startswith("BITE")),
        *shown(pressing),
        *shown(line for line in headline if not line.startswith("BITE")),
        "" if pressing else _reasons(row),
        " · ".join(part for part in (closed_line(row), came) if part),
        tr("Two versions of this record exist; read both") if row.is_fork else "",
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
        tr_plural(
            "{count} finding for the veterinarian",
            "{count} findings for the veterinarian",
            to_look,
        ),
        tr_plural(
            "{count} value outside a published range",
            "{count} values outside a published range",
            flags,
        ),
    )
    counts = (to_look, flags)
    return " · ".join(p for p, count in zip(parts, counts, strict=True) if count)


def _day(row: ClosedExam) -> str:
    return row.closed[:10]
