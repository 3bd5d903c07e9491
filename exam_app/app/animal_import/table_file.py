"""A CSV file of unknown origin, read whole or refused, in bounded memory.

Encoding and separator are what the caller says and are never guessed. Nothing larger
than ``LARGEST_FILE`` is opened to be read, and nothing but an ordinary file.
"""

import csv
import io
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.engine.read_files import ReadFile
from exam_app.store.vault.folder import reaching

LARGEST_FILE = 16 * 2**20
MOST_ROWS, MOST_COLUMNS, LONGEST_CELL = 20_000, 100, 1_000
# By the name a person gives, Python's name.
ENCODINGS = {
    "utf-8": "utf-8-sig",
    "utf-16": "utf-16",
    "windows-1252": "cp1252",
    "iso-8859-1": "latin-1",
}
SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}


class TableTooLargeError(ExamError):
    """A table has more bytes, rows or columns than are taken in at once."""

    advice: ClassVar[str] = to_translate(
        "This table is larger than can be taken in at once: at most 16 MiB, 20 000 "
        "rows and 100 columns. Nothing was taken in. Split it, and take in the parts."
    )


class TableEncodingError(ExamError):
    """The bytes of a table are not of the encoding that was named."""

    advice: ClassVar[str] = to_translate(
        "The table is not written in the encoding that was named (UTF-8 if none was). "
        "Nothing was taken in, since names would be spoiled. Save it as UTF-8, or name "
        "its encoding."
    )


class TableShapeError(ExamError):
    """A file is no table: no header, a double column, a quote that does not end."""

    advice: ClassVar[str] = to_translate(
        "This file cannot be read as a table. Nothing was taken in. Look at the line "
        "that is named: each column needs a name of its own in the first line, quotes "
        "have to end, and the separator has to be the one that was named."
    )


@dataclass(frozen=True, slots=True)
class TableRow:
    """One row: the line it ends on in the file, counted from 1, and its cells."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table with the names of its columns, each once."""

    header: tuple[str, ...]
    rows: tuple[TableRow, ...]


def read_table(path: Path, encoding: str = "utf-8", separator: str = "comma") -> Table:
    """Read a whole CSV file.

    Args:
        encoding: One of ``ENCODINGS``.
        separator: One of ``SEPARATORS``.

    Raises:
        UnreadableFileError: It is missing, or no ordinary file.
        TableTooLargeError, TableEncodingError, TableShapeError: See each error.
    """
    with closing(ReadFile(path)) as file, reaching():
        if file.size() > LARGEST_FILE:
            raise TableTooLargeError(tr("more than {most} bytes", most=LARGEST_FILE))
        content = file.read_at(0, LARGEST_FILE)
    return table_of(content, encoding, separator)


def table_of(
    content: bytes, encoding: str = "utf-8", separator: str = "comma"
) -> Table:
    """Read the content of a CSV file; as ``read_table``."""
    try:
        text = content.decode(ENCODINGS[encoding])
    except UnicodeError as error:
        line = content.count(b"\n", 0, getattr(error, "start", 0)) + 1
        raise TableEncodingError(tr("line {line}", line=line)) from error
    lines = csv.reader(
        io.StringIO(text, newline=""), delimiter=SEPARATORS[separator], strict=True
    )
    rows = _rows(lines)
    first = next(rows, None)
    header = _header(first.cells if first else ())
    return Table(header, tuple(rows))


def _rows(lines: Any) -> Iterator[TableRow]:  # noqa: ANN401 - a reader of csv
    count = 0
    while True:
        try:
            cells = next(lines)
        except StopIteration:
            return
        except csv.Error as error:
            raise TableShapeError(
                tr("line {line}: {fault}", line=lines.line_num, fault=error)
            ) from error
        if not any(cell.strip() for cell in cells):
            continue
        count += 1
        if count > MOST_ROWS + 1 or len(cells) > MOST_COLUMNS:
            raise TableTooLargeError(tr("line {line}", line=lines.line_num))
        yield TableRow(lines.line_num, tuple(cells))


def _header(cells: tuple[str, ...]) -> tuple[str, ...]:
    names = tuple(cell.strip() for cell in cells)
    if not any(names):
        raise TableShapeError(tr("line 1: no names of columns"))
    named = [name for name in names if name]
    doubled = sorted({name for name in named if named.count(name) > 1})
    if doubled:
        raise TableShapeError(
            tr("line 1: the column {name} stands twice", name=repr(doubled[0]))
        )
    if any(len(name) > LONGEST_CELL for name in names):
        raise TableShapeError(tr("line 1: the name of a column is too long"))
    return names


def cell_problem(cell: str) -> str:
    """Say why a cell is not taken in; empty where it is."""
    if len(cell) > LONGEST_CELL:
        return tr("a cell of more than {most} characters", most=LONGEST_CELL)
    if not all(sign.isprintable() for sign in cell):
        return tr("a cell with control characters or line ends")
    is_signed = cell.startswith(("+", "-")) and len(cell) > 1
    if cell.startswith(("=", "@")) or (is_signed and not _is_number(cell[1:])):
        return tr("a cell that a spreadsheet would run: {cell}", cell=cell[:40])
    return ""


def _is_number(text: str) -> bool:
    """Whether it is a number or a telephone number without its sign."""
    return bool(text) and all(sign.isdigit() or sign in " ()/.-," for sign in text)
