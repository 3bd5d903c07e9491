"""Records as one plain table: a row for each vital, finding, urgent sign and note.

Numbers stand as typed, with the unit as typed, and nothing is converted or rounded.
What was not done is a row too, with its reason, so that a missing value is never
mistaken for a normal one. Private notes and owner details are in no table.
"""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import astuple, dataclass, fields, replace

from exam_app.domain.exam.exam import Correction, Exam, vitals_in_scope
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.review import region_label
from exam_app.domain.protocol.protocol import SCOPE_LABELS, SpeciesProtocol, Vital
from exam_app.domain.wording.exam_wording import describe_finding, describe_value
from exam_app.domain.wording.region_wording import (
    all_findings,
    correction_lines,
    marks_of,
)
from exam_app.domain.wording.written_record import Section

# A spreadsheet takes a cell that begins so for a formula and may run it.
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table; every field is text, empty where nothing applies.

    Attributes:
        exam: ``exam_id``.
        started: Local date and time with offset.
        kind: ``vital``, ``finding``, ``urgent sign`` or ``note``.
        item: The vital, the part, the sign, or who wrote a note and what signed it.
        value: The number as typed; empty for what is no number.
        words: The whole answer in words.
        call: Of a finding; for a vital the flag as shown.
    """

    exam: str
    started: str
    animal: str
    species: str
    scope: str
    closed_by: str
    kind: str
    item: str
    value: str
    unit: str
    words: str
    call: str
    is_demo: str


def exam_rows(
    exam: Exam,
    protocol: SpeciesProtocol,
    notes: Sequence[Section] = (),
    beside: Sequence[Correction] = (),
) -> tuple[Row, ...]:
    """Return the rows of one closed exam: urgent signs, vitals, findings, notes.

    A row that was corrected says what it read before, and each correction has a row.

    Args:
        notes: Signed notes beside the record: who signed it, then the words.
        beside: What signed notes say should read otherwise.
    """
    marks = marks_of(exam, beside)
    rows = (*_urgent(exam), *_vitals(exam, protocol), *_findings(exam, protocol))
    return (
        *(replace(row, words=_marked(row, marks)) for row in rows),
        *(
            _row(exam, "correction", item, words=words)
            for item, _, words in (
                line.partition(": ") for line in correction_lines(exam, beside)
            )
        ),
        *(_row(exam, "note", n.heading, words=" ".join(n.lines)) for n in notes),
    )


def _marked(row: Row, marks: dict[str, str]) -> str:
    return f"{row.words} [{marks[row.item]}]" if row.item in marks else row.words


def as_csv(rows: Iterable[Row]) -> bytes:
    """Write rows as a CSV file, the names of the columns first.

    Returns:
        RFC 4180 in UTF-8 with a byte order mark, which spreadsheets ask for.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(field.name for field in fields(Row))
    for row in rows:
        writer.writerow(_harmless(cell) for cell in astuple(row))
    return text.getvalue().encode("utf-8-sig")


def _urgent(exam: Exam) -> Iterator[Row]:
    for sign in exam.urgent:
        call = "answered" if sign.is_answered else "not told"
        yield _row(exam, "urgent sign", sign.label, words=sign.label, call=call)


def _vitals(exam: Exam, protocol: SpeciesProtocol) -> Iterator[Row]:
    for vital in vitals_in_scope(exam, protocol):
        if exam.vital(vital.vital_id).is_answered:
            yield _vital(exam, protocol, vital)


def _vital(exam: Exam, protocol: SpeciesProtocol, vital: Vital) -> Row:
    entry = exam.vital(vital.vital_id)
    number = str(entry.reading.value) if entry.reading else ""
    return _row(
        exam,
        "vital",
        vital.label,
        value=number,
        unit=entry.reading.unit if entry.reading else "",
        words=describe_value(entry, vital, protocol),
        call=entry.flag.sentence if entry.flag else "",
    )


def _findings(exam: Exam, protocol: SpeciesProtocol) -> Iterator[Row]:
    for key, found in all_findings(exam, protocol):
        label = region_label(protocol, key, Role.TECHNICIAN)
        words = describe_finding(found, protocol)
        yield _row(exam, "finding", label, words=words, call=found.call.value)


def _row(
    exam: Exam,
    kind: str,
    item: str,
    *,
    value: str = "",
    unit: str = "",
    words: str = "",
    call: str = "",
) -> Row:
    closer = exam.person(exam.closing.closed_by) if exam.closing else None
    return Row(
        exam.exam_id,
        exam.started.date_and_time(),
        exam.animal.name,
        exam.animal.species,
        SCOPE_LABELS[exam.scope],
        closer.name if closer else "",
        kind,
        item,
        value,
        unit,
        words,
        call,
        "demo" if exam.is_demo else "",
    )


def _harmless(cell: str) -> str:
    """Keep a spreadsheet from running a cell; a plain number stays as it is."""
    if not cell.startswith(_FORMULA_SIGNS):
        return cell
    try:
        float(cell)
    except ValueError:
        return f"'{cell}"
    return cell
