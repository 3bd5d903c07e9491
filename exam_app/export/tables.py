"""Records as one plain table: a row a vital, finding, urgent sign, photograph, note.

A whole table has a row for each part that was answered, each gap, remark, mark and
length of a lump as well.

Numbers stand as typed, with the unit as typed, and nothing is converted or rounded.
What was not done is a row too, with its reason, so that a missing value is never
mistaken for a normal one. Private notes and owner details are in no table.
"""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence

from exam_app.domain.animal.body_marks import BodyMark
from exam_app.domain.animal.chips import SCAN_GAP, reason_not_scanned
from exam_app.domain.exam.closing import gaps
from exam_app.domain.exam.continued import answer_name
from exam_app.domain.exam.exam import (
    Correction,
    Exam,
    keys_in_scope,
    vitals_in_scope,
)
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.photographs import settled_photos
from exam_app.domain.exam.review import region_label
from exam_app.domain.lumps.lumps import Lump
from exam_app.domain.measure.units import Reading
from exam_app.domain.protocol.protocol import SCOPE_LABELS, SpeciesProtocol, split_key
from exam_app.domain.wording.correction_wording import correction_lines, marks_of
from exam_app.domain.wording.exam_wording import (
    describe_finding,
    describe_value,
    mark_words,
)
from exam_app.domain.wording.photo_wording import photo_line
from exam_app.domain.wording.region_wording import all_findings, rest_words
from exam_app.domain.wording.written_record import Section
from exam_app.language.catalogue import in_english

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


@in_english()
def exam_rows(
    exam: Exam,
    protocol: SpeciesProtocol,
    notes: Sequence[Section] = (),
    beside: Sequence[Correction] = (),
    *,
    is_whole: bool = False,
) -> tuple[Row, ...]:
    """Return the rows of a closed exam: signs, vitals, findings, photographs, notes.

    A row that was corrected says what it read before, and each correction has a row.

    Args:
        notes: Signed notes beside the record: who signed it, then the words.
        beside: What signed notes say should read otherwise.
        is_whole: Whether parts, gaps, remarks, marks and lengths have rows too.
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
    lines = [*_lines(exam, protocol, notes, beside)]
    lines += _more(exam, protocol) if is_whole else ()
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
        writer.writerow({name: harmless(cell) for name, cell in row.items()})
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


def _more(exam: Exam, protocol: SpeciesProtocol) -> Iterator[Row]:
    """Yield what a table of values alone leaves out, each under the part it is of."""
    for key in dict.fromkeys((*keys_in_scope(exam, protocol), *exam.regions)):
        entry, label = exam.entry(key), region_label(protocol, key, Role.TECHNICIAN)
        if entry.is_answered:
            words = rest_words(exam, protocol, key) or entry.reason
            said = f"{entry.state.value}: {words}" if words else entry.state.value
            yield {"kind": "part", "item": label, "words": said}
        if entry.remark:
            yield {"kind": "remark", "item": label, "words": entry.remark}
        for claim in entry.struck:
            words = f"{claim.text}: {claim.reason}"
            yield {"kind": "struck", "item": label, "words": words}
        for found in entry.findings:
            yield from _of_find(found, label, found.side or split_key(key)[1])
    if exam.remark:
        yield {"kind": "remark", "words": exam.remark}
    for gap in gaps(exam, protocol):
        label = _gap_label(exam, protocol, gap)
        yield {"kind": "gap", "item": label, "words": _why(exam, gap)}


def _of_find(found: Finding, label: str, side: str) -> Iterator[Row]:
    if found.mark:
        words = f"{mark_words(found.mark)}: {_place(found.mark)}"
        number = str(found.mark.number)
        yield {"kind": "mark", "item": label, "value": number, "words": words}
    for name, reading, way in lengths(found.lump) if found.lump else ():
        line = {"kind": "lump size", "item": label, "value": str(reading.value)}
        words = ", ".join(filter(None, (found.words, side, name, way)))
        yield {**line, "unit": reading.unit, "words": words}


def lengths(lump: Lump) -> Iterator[tuple[str, Reading, str]]:
    """Yield every length of a lump as typed: its name, the reading, how measured.

    The name is ``length 1`` for the longest, ``second reading, length 1`` and so on;
    how it was measured is tool, direction and person.
    """
    for again, size in (("", lump.size), ("second reading, ", lump.second_size)):
        if size is None:
            continue
        tool = size.tool.value.replace("_", " ")
        way = ", ".join(filter(None, (tool, size.direction, size.measured_by)))
        for number, reading in enumerate(size.dimensions, 1):
            yield f"{again}length {number}", reading, way


def _place(mark: BodyMark) -> str:
    """Say where a mark is on each of its drawings, in thousandths of the drawing."""
    whole = f"{mark.view.words} {mark.x} across, {mark.y} down"
    if mark.closer is None:
        return whole
    closer = mark.closer
    return f"{whole}; {closer.words} {closer.x} across, {closer.y} down"


def _gap_label(exam: Exam, protocol: SpeciesProtocol, gap: str) -> str:
    if gap == SCAN_GAP:
        return "Chip scan"
    if gap.startswith("vital:"):
        return answer_name(exam, protocol, gap)
    return region_label(protocol, gap, Role.TECHNICIAN)


def _why(exam: Exam, gap: str) -> str:
    if gap == SCAN_GAP:
        return reason_not_scanned(exam)
    if gap.startswith("vital:"):
        return exam.vital(gap.removeprefix("vital:")).reason
    entry = exam.entry(gap)
    struck = "; ".join(f"{one.text}: {one.reason}" for one in entry.struck)
    return "; ".join(filter(None, (entry.reason, struck)))


def harmless(cell: str) -> str:
    """Keep a spreadsheet from running a cell; a plain number stays as it is."""
    if not cell.startswith(_FORMULA_SIGNS):
        return cell
    try:
        float(cell)
    except ValueError:
        return f"'{cell}"
    return cell
