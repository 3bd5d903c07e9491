"""Records as one plain table: a row a vital, finding, urgent sign, photograph, note.

Numbers stand as typed, with the unit as typed, and nothing is converted or rounded.
What was not done is a row too, with its reason, so that a missing value is never
mistaken for a normal one. Private notes and owner details are in no table.
"""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence

from exam_app.domain.exam.exam import Correction, Exam, vitals_in_scope
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.photographs import settled_photos
from exam_app.domain.exam.review import region_label
from exam_app.domain.protocol.protocol import SCOPE_LABELS, SpeciesProtocol
from exam_app.domain.wording.exam_wording import describe_finding, describe_value
from exam_app.domain.wording.photo_wording import photo_line
from exam_app.domain.wording.region_wording import (
    all_findings,
    correction_lines,
    marks_of,
)
from exam_app.domain.wording.written_record import Section

# A spreadsheet takes a cell that begins so for a formula and may run it.
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


# By column; one that is not there is empty. ``item`` is the vital, the part, the sign,
# or who wrote a note and what signed it; ``value`` the number as typed; ``words`` the
# whole answer; ``call`` that of a finding, of a vital its flag as shown. The value of a
# photograph is its hash.
Row = dict[str, str]
_EXAM_COLUMNS = ("exam", "started", "animal", "species", "scope", "closed_by")
_COLUMNS = (
    *_EXAM_COLUMNS,
    *("kind", "item", "value", "unit", "words", "call", "is_demo"),
)


def exam_rows(
    exam: Exam,
    protocol: SpeciesProtocol,
    notes: Sequence[Section] = (),
    beside: Sequence[Correction] = (),
) -> tuple[Row, ...]:
    """Return the rows of a closed exam: signs, vitals, findings, photographs, notes.

    A row that was corrected says what it read before, and each correction has a row.

    Args:
        notes: Signed notes beside the record: who signed it, then the words.
        beside: What signed notes say should read otherwise.
    """
    closer = exam.person(exam.closing.closed_by) if exam.closing else None
    same = (
        exam.exam_id,
        exam.started.date_and_time(),
        exam.animal.name,
        exam.animal.species,
        SCOPE_LABELS[exam.scope],
        closer.name if closer else "",
    )
    whole = dict(zip(_EXAM_COLUMNS, same, strict=True))
    demo = {"is_demo": "demo" if exam.is_demo else ""}
    lines = _lines(exam, protocol, notes, beside)
    return tuple({**whole, **line, **demo} for line in lines)


def as_csv(rows: Iterable[Row]) -> bytes:
    """Write rows as a CSV file, the names of the columns first.

    Returns:
        RFC 4180 in UTF-8 with a byte order mark, which spreadsheets ask for.
    """
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, _COLUMNS, restval="")
    writer.writeheader()
    for row in rows:
        writer.writerow({name: _harmless(cell) for name, cell in row.items()})
    return text.getvalue().encode("utf-8-sig")


def _lines(
    exam: Exam,
    protocol: SpeciesProtocol,
    notes: Sequence[Section],
    beside: Sequence[Correction],
) -> Iterator[Row]:
    marks = marks_of(exam, beside)
    for line in _measured(exam, protocol):
        mark = marks.get(line["item"])
        yield {**line, "words": f"{line['words']} [{mark}]"} if mark else line
    for said in correction_lines(exam, beside):
        item, _, words = said.partition(": ")
        yield {"kind": "correction", "item": item, "words": words}
    for note in notes:
        yield {"kind": "note", "item": note.heading, "words": " ".join(note.lines)}


def _measured(exam: Exam, protocol: SpeciesProtocol) -> Iterator[Row]:
    for sign in exam.urgent:
        call = "answered" if sign.is_answered else "not told"
        line = {"kind": "urgent sign", "item": sign.label, "words": sign.label}
        yield {**line, "call": call}
    for vital in vitals_in_scope(exam, protocol):
        entry = exam.vital(vital.vital_id)
        if entry.is_answered:
            yield {
                "kind": "vital",
                "item": vital.label,
                "value": str(entry.reading.value) if entry.reading else "",
                "unit": entry.reading.unit if entry.reading else "",
                "words": describe_value(entry, vital, protocol),
                "call": entry.flag.sentence if entry.flag else "",
            }
    for key, found in all_findings(exam, protocol):
        label = region_label(protocol, key, Role.TECHNICIAN)
        line = {"kind": "finding", "item": label, "call": found.call.value}
        yield {**line, "words": describe_finding(found, protocol)}
    for photo in settled_photos(exam):
        label = region_label(protocol, photo.key, Role.TECHNICIAN) if photo.key else ""
        line = {"kind": "photograph", "item": label, "value": photo.sha256}
        yield {**line, "unit": "SHA-256", "words": photo_line(exam, protocol, photo)}


def _harmless(cell: str) -> str:
    """Keep a spreadsheet from running a cell; a plain number stays as it is."""
    if not cell.startswith(_FORMULA_SIGNS):
        return cell
    try:
        float(cell)
    except ValueError:
        return f"'{cell}"
    return cell
