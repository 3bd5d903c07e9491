"""Lists on paper: the day for the veterinarian, a round of a group."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from exam_app.app.forms.round_cells import Column, ColumnKind
from exam_app.app.view.round_presenter import cell_text
from exam_app.domain.exam.exam import Exam
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.wording.count_words import count_words
from exam_app.domain.wording.exam_wording import describe_value
from exam_app.domain.wording.written_record import write_record
from exam_app.language.catalogue import in_english
from exam_app.paper.fonts import Font
from exam_app.paper.sheet import PageSize, Sheet

_SIZE, _CELL = 9.0, 7.5
_TICK = 9.0
_PAD = 3.0
# Columns that a table of a portrait page has room for, the name before them.
_MOST_COLUMNS = 6
_SAID_OF_EACH = (
    "For the veterinarian's attention",
    "Findings",
    "Marks on the drawings",
    "Earlier findings",
    "Vitals",
    "Remarks (noted, not abnormal)",
    "Not examined, or only partly",
)


@dataclass(frozen=True, slots=True)
class ListLine:
    """One line of a day list: a title and what is said under it."""

    title: str
    words: tuple[str, ...] = ()


@in_english()
def day_sheet(
    title: str,
    groups: Iterable[tuple[str, Sequence[ListLine]]],
    size: PageSize,
    font: Font,
    foot: str = "",
) -> bytes:
    """Return a day list as a PDF, a box to tick before each line.

    Args:
        title: Stands above it.
        groups: Heading and lines, in the order of reading.
        size: Of the page.
        font: Everything is written in it.
        foot: Below each page.
    """
    sheet = Sheet(size, font, title, foot or title)
    sheet.text(title, 15, bold=True)
    listed = [(heading, lines) for heading, lines in groups if lines]
    for heading, lines in listed:
        sheet.heading(heading, 11)
        for line in lines:
            _tick_line(sheet, line)
    if not listed:
        sheet.text("Nothing is on this list.", _SIZE)
    return sheet.pdf()


def _tick_line(sheet: Sheet, line: ListLine) -> None:
    # A title never stands without the first of its lines.
    sheet.require(3 * _SIZE)
    frame = sheet.frame
    sheet.rectangle(frame.left, frame.at + 3, _TICK, _TICK, 0.7)
    sheet.text(line.title, 10, bold=True, indent=_TICK + 6, before=2)
    for words in line.words:
        sheet.text(words, _SIZE, indent=_TICK + 6)


@in_english()
def round_sheet(
    group: Exam,
    protocol: SpeciesProtocol,
    columns: Sequence[Column],
    rows: Sequence[Exam],
    size: PageSize,
    font: Font,
    *,
    empty: int = 0,
) -> bytes:
    """Return the round of a group as a PDF: a table, then what each row says.

    Args:
        group: The group's own exam.
        protocol: Of its species.
        columns: Of the round, in the sheet's order.
        rows: An exam for each animal.
        size: Of the page.
        font: Everything is written in it.
        empty: Rows left open, to be filled in by hand.
    """
    written = write_record(group, protocol)
    sheet = Sheet(size, font, written.title, f"Round. {written.title}")
    sheet.text(written.title, 13, bold=True)
    sheet.text(f"{count_words(len(rows), 'animal')} on this sheet", _SIZE)
    for column in columns:
        if column.sentence:
            sheet.text(f"{column.label}: {column.sentence}", _CELL)
    blank = [""] * empty
    tables = max(1, -(-len(columns) // _MOST_COLUMNS))
    each = max(1, -(-len(columns) // tables))
    for at in range(0, tables * each, each):
        some = columns[at : at + each]
        table = [
            (exam.animal.name, *(_cell(exam, protocol, column) for column in some))
            for exam in rows
        ]
        table += [("", *("" for _ in some)) for _ in blank]
        _table(sheet, ("Animal", *(_head(c) for c in some)), table)
    for exam in (group, *rows):
        _said_of(sheet, exam, protocol)
    return sheet.pdf()


def _cell(exam: Exam, protocol: SpeciesProtocol, column: Column) -> str:
    """Return what a cell says; a number never without its unit."""
    vital = protocol.vital(column.name)
    entry = exam.vital(column.name)
    if column.kind is not ColumnKind.MEASURE or vital is None or not entry.reading:
        return cell_text(exam, column)
    return describe_value(entry, vital, protocol)


def _head(column: Column) -> str:
    return f"{column.label} ({column.hint})" if column.hint else column.label


def _table(sheet: Sheet, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    width = sheet.frame.width / len(heads)
    sheet.frame.at += 6
    _cells(sheet, heads, width, is_head=True)
    for row in rows:
        if _cells(sheet, row, width):
            _cells(sheet, heads, width, is_head=True)
            _cells(sheet, row, width)


def _cells(
    sheet: Sheet, texts: Sequence[str], width: float, *, is_head: bool = False
) -> bool:
    """Write one row; True where it has to go on a new page, which then is begun."""
    size, step = _CELL, _CELL * 1.25
    lines = [sheet.wrapped(text, size, width - 2 * _PAD) for text in texts]
    high = max(18.0, max(map(len, lines)) * step + 2 * _PAD)
    frame = sheet.frame
    is_first = frame.at <= frame.top + high
    if frame.at + high > frame.bottom and not is_first and not is_head:
        sheet.new_page()
        return True
    sheet.require(high)
    frame = sheet.frame
    for number, cell in enumerate(lines):
        left = frame.left + number * width
        sheet.rectangle(left, frame.at, width, high, 0.5)
        for row, line in enumerate(cell):
            base = frame.at + _PAD + row * step + size
            sheet.write(line, left + _PAD, base, size, bold=is_head)
    frame.at += high
    return False


def _said_of(sheet: Sheet, exam: Exam, protocol: SpeciesProtocol) -> None:
    """Write what a cell has no room for, in the record's own lines."""
    written = write_record(exam, protocol)
    said = [part for part in written.sections if part.heading in _SAID_OF_EACH]
    if not said:
        return
    sheet.heading(exam.animal.name or "Unnamed", 10.5)
    for line in written.headline:
        sheet.text(line, 8.5, bold=True)
    for part in said:
        sheet.text(part.heading, 8.5, bold=True, before=2)
        sheet.items(part.lines, 8.5)
