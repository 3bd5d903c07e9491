"""An animal's earlier exams beside the one that is read: dates, weights, lumps.

A plain table of what the records say. Weights are shown as typed, an estimate marked;
lump sizes are never subtracted here, since a difference is only stated beyond the
measuring error, and the exam itself says it where it may be said.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from exam_app.app.queries.kept_records import KeptRecord
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.review import region_label
from exam_app.domain.lumps.lumps import show_lump_size
from exam_app.domain.measure.units import show
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.exam_wording import join_words
from exam_app.domain.wording.region_wording import all_findings
from exam_app.store.repositories.rows import ClosedExam

WEIGHT = "weight"


@dataclass(frozen=True, slots=True)
class Table:
    """A plain table.

    Attributes:
        heading: What it is of.
        columns: At least one.
        rows: Oldest first, each as long as ``columns``; may be empty.
    """

    heading: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def weights(records: Iterable[KeptRecord]) -> Table:
    """Return every weight of these records, oldest first."""
    rows = [
        (_date(record.exam), *_weight(record.exam, record.loaded.protocol))
        for record in _oldest_first(records)
        if record.exam.vital(WEIGHT).is_answered
    ]
    return Table("Weight", ("Date", "Weight", "How"), tuple(rows))


def _weight(exam: Exam, protocol: SpeciesProtocol) -> tuple[str, str]:
    entry, vital = exam.vital(WEIGHT), protocol.vital(WEIGHT)
    if entry.reading is None or vital is None or vital.measure is None:
        return "not weighed", entry.reason
    how = "estimate" if entry.is_estimate else "weighed"
    shown = show(entry.reading, vital.measure, is_estimate=entry.is_estimate)
    return shown, how


def lumps(records: Iterable[KeptRecord]) -> Table:
    """Return every lump measured in these records, by part and then by date."""
    found = [
        (region_label(record.loaded.protocol, key, Role.TECHNICIAN), record, finding)
        for record in _oldest_first(records)
        for key, finding in all_findings(record.exam, record.loaded.protocol)
        if finding.lump is not None
    ]
    found.sort(key=lambda item: item[0])
    rows = [
        (
            label,
            _date(record.exam),
            finding.place or "place not noted",
            _sizes(finding.lump),
        )
        for label, record, finding in found
    ]
    return Table("Lumps", ("Part", "Date", "Place", "Size as measured"), tuple(rows))


def _sizes(lump: Any) -> str:  # noqa: ANN401
    second = lump.second_size
    return join_words(
        show_lump_size(lump.size),
        f"second reading {show_lump_size(second)}" if second else "",
    )


def earlier_exams(rows: Iterable[ClosedExam], shown: Exam) -> list[ClosedExam]:
    """Return the animal's exams but the one that is read, newest first."""
    others = [row for row in rows if row.exam_id != shown.exam_id]
    return sorted(others, key=lambda row: row.started, reverse=True)


def relation(row: ClosedExam, shown: Exam) -> str:
    """Say how another exam of the animal hangs together with the one that is read."""
    if row.continues == shown.exam_id:
        return "continues this exam"
    if shown.continues and shown.continues == row.exam_id:
        return "is continued by this exam"
    return ""


def _oldest_first(records: Iterable[KeptRecord]) -> list[KeptRecord]:
    return sorted(records, key=lambda record: record.exam.started.utc_ms)


def _date(exam: Exam) -> str:
    return f"{exam.started.local():%Y-%m-%d}"
