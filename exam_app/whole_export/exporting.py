"""Everything kept here, written as files that are read without the app.

One record at a time is in memory. A run may be ended at any point, by a person, the
system or a full disk: the same call goes on, checks by its sums what was finished and
writes only what is missing, damaged or made from something else by now.

Private notes and owner details are written only when asked for. Open exams are no
records and are not in it.
"""

import asyncio
from collections.abc import Awaitable, Callable, Iterator
from dataclasses import dataclass
from functools import partial
from importlib.resources import files
from pathlib import Path

from exam_app.app.queries.kept_records import RecordReader, record_reader
from exam_app.crypto.door import sha256
from exam_app.domain.moments import Moment
from exam_app.export.record_json import SCHEMA_NAME, schema_json
from exam_app.export.tables import as_csv
from exam_app.language.catalogue import in_english
from exam_app.paper.font_file import sheet_font
from exam_app.paper.printing import paper_size, practice_line
from exam_app.record.errors import RecordError
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.vault import Vault
from exam_app.whole_export.animal_tables import animal_table, owner_table
from exam_app.whole_export.contents import (
    FIRST_LINE,
    GO_ON,
    KEYS,
    LEFT_OUT,
    PICTURES,
    PROTOCOLS,
    README,
    README_PAGE,
    UNFINISHED,
    UNREAD,
    Exported,
    Wanted,
    folder_of,
    keys_json,
    left_out_words,
)
from exam_app.whole_export.folder import (
    SUMS,
    NotAnExportError,
    holds_sums,
    make_folder,
    reaching_export,
    read_sums,
    sum_line,
    sum_of,
    sums_content,
    write_whole,
    writing_whole,
)
from exam_app.whole_export.record_files import (
    MADE_FROM,
    TABLE,
    Paper,
    files_of,
    is_made_from,
    listed_photographs,
    listed_protocol,
    made_from,
    named_lines,
    note_files,
    picture_of,
    read_written,
)
from exam_app.whole_export.signed_list import LIST_SIGNED, sign_list

_ABOVE = "../../../"
Tell = Callable[["Exported"], None]
Part = Callable[[], None]


async def _at_once(part: Part) -> None:
    await asyncio.sleep(0)
    part()


@dataclass(frozen=True, slots=True)
class Pace:
    """How an export shares the store with others who work.

    Attributes:
        in_turn: Runs a part that reads the store, one record at the most.
        beside: Runs a part that reads and writes the folder alone.
        is_stopped: Asked before each record.
    """

    in_turn: Callable[[Part], Awaitable[None]] = _at_once
    beside: Callable[[Part], Awaitable[None]] = _at_once
    is_stopped: Callable[[], bool] = lambda: False


async def export_all(
    vault: Vault,
    folder: Path,
    at: Moment,
    wanted: Wanted | None = None,
    tell: Tell = lambda _: None,
    pace: Pace | None = None,
) -> Exported:
    """Write everything kept here into a folder, or go on with it.

    Args:
        folder: New, empty, or of an earlier export.
        at: The present moment, for the signed list.
        tell: Called after each record.
        pace: How it shares the store with others.

    Returns:
        What was done; where it was stopped, ``is_stopped`` and what is written stays.

    Raises:
        NotAnExportError: The folder holds something else.
        ExportDiskFullError: No room; what is written stays.
        ExportUnwritableError: The folder cannot be read or written.
        ResourceMissingError: The installation has no font to print with.
    """
    paper = Paper(await sheet_font(), paper_size(vault), practice_line(vault))
    with reaching_export():
        run = _Run(vault, folder, wanted or Wanted(), tell, paper)
        return await run.go(at, pace or Pace())


class _Run:
    """One run of an export."""

    def __init__(
        self, vault: Vault, folder: Path, wanted: Wanted, tell: Tell, paper: Paper
    ) -> None:
        self.vault = vault
        self.folder = folder
        self.wanted = wanted
        self.tell = tell
        self.paper = paper
        self.found = Exported()
        self.rows: list[ClosedExam] = []
        self.tops: list[str] = []
        self.pictures: set[str] = set()
        self.protocols: set[str] = set()

    async def go(self, at: Moment, pace: Pace) -> Exported:
        await pace.in_turn(self._begin)
        read = record_reader(self.vault)
        for row in self.rows:
            if pace.is_stopped():
                self.found.is_stopped = True
                return self.found
            await pace.in_turn(partial(self._record, row, read))
            self.tell(self.found)
        await pace.in_turn(self._keep_tops)
        await pace.beside(self._list_all)
        await pace.in_turn(partial(self._sign, at))
        return self.found

    @in_english()
    def _begin(self) -> None:
        marker = self.folder / README
        if self.folder.exists() and any(self.folder.iterdir()):
            known = marker.is_file() and marker.read_bytes()
            if not known or not known.startswith(FIRST_LINE.encode()):
                raise NotAnExportError("other files")
        make_folder(self.folder)
        write_whole(marker, README_PAGE.encode())
        write_whole(self.folder / UNFINISHED, GO_ON.encode())
        before = [self.folder / LIST_SIGNED, self.folder / SUMS]
        for path in (*before, *(self.folder / UNREAD).glob("*")):
            path.unlink(missing_ok=True)
        self.rows = self.vault.closed.everything()
        self.found.total = len(self.rows)
        self.found.drafts = len(self.vault.drafts.open())

    @in_english()
    def _record(self, row: ClosedExam, read: RecordReader) -> None:
        place = self.folder / folder_of(row)
        expected = made_from(
            self.vault, row, self.paper, with_private=self.wanted.private_notes
        )
        if not self._is_finished(place, expected):
            self._write(row, place, expected, read)
            self.found.written += 1
        self.found.done += 1

    def _is_finished(self, place: Path, expected: str) -> bool:
        """Whether a record's files are there, whole, and what they would be now."""
        try:
            text = (place / MADE_FROM).read_text("utf-8")
        except (OSError, ValueError):
            return False
        if not is_made_from(self.vault, text, expected) or not holds_sums(place):
            return False
        if not self._has_protocol(listed_protocol(text)):
            return False
        self._note_pictures(listed_photographs(text))
        return True

    def _has_protocol(self, content_hash: str) -> bool:
        if content_hash in self.protocols or not content_hash:
            return bool(content_hash)
        path = self.folder / PROTOCOLS / content_hash
        if path.is_file() and sum_of(path) == content_hash:
            self.protocols.add(content_hash)
        return content_hash in self.protocols

    def _note_pictures(self, found: Iterator[tuple[str, bool]]) -> None:
        for key, is_here in found:
            (self.pictures if is_here else self.found.no_picture).add(key)

    def _write(
        self, row: ClosedExam, place: Path, expected: str, read: RecordReader
    ) -> None:
        make_folder(place)
        # From here on the folder counts as unfinished, whatever stood in it.
        (place / SUMS).unlink(missing_ok=True)
        signed = self.vault.closed.get(row.exam_id, row.record_hash) or b""
        try:
            kept = read(row.exam_id, row.record_hash)
        except RecordError as error:
            self._write_unread(row, signed, error)
            return
        if kept is None:
            return
        self._keep_protocol(kept.loaded.content_hash, kept.loaded.content)
        named = [(one.sha256, self._picture(one.sha256)) for one in kept.exam.photos]
        private = self.wanted.private_notes
        written = read_written(
            self.vault, kept, signed, self.paper, with_private=private
        )
        sums: dict[str, str] = {}
        stale = {path.name for path in place.iterdir()}
        every = (*files_of(written), *note_files(self.vault, row.exam_id))
        beside = named_lines(self.vault, kept, named)
        made = (expected + beside).encode()
        for name, content in (*every, (MADE_FROM, made)):
            write_whole(place / name, content)
            sums[name] = sha256(content).hex()
        for name in stale - sums.keys():
            (place / name).unlink()
        for key, is_here in named:
            if is_here:
                sums[f"{_ABOVE}{PICTURES}/{key}.jpg"] = key
        write_whole(place / SUMS, sums_content(sums))

    def _write_unread(self, row: ClosedExam, signed: bytes, error: RecordError) -> None:
        self.found.unread += 1
        place = self.folder / folder_of(row)
        for path in place.iterdir():
            path.unlink()
        place.rmdir()
        make_folder(self.folder / UNREAD)
        named = self.folder / UNREAD / row.record_hash
        write_whole(named.with_suffix(".cose"), signed)
        why = f"{type(error).__name__}\n{error.advice}\n"
        write_whole(named.with_suffix(".txt"), why.encode())

    def _keep_protocol(self, content_hash: str, content: bytes) -> None:
        if not self._has_protocol(content_hash):
            make_folder(self.folder / PROTOCOLS)
            write_whole(self.folder / PROTOCOLS / content_hash, content)
            self.protocols.add(content_hash)

    def _picture(self, key: str) -> bool:
        """Write a picture, unless it is there whole; say whether it is there."""
        path = self.folder / PICTURES / f"{key}.jpg"
        if key not in self.pictures and not (path.is_file() and sum_of(path) == key):
            picture = picture_of(self.vault, key)
            if picture is None:
                self.found.no_picture.add(key)
                return False
            make_folder(path.parent)
            write_whole(path, picture)
        self.pictures.add(key)
        return True

    @in_english()
    def _keep_tops(self) -> None:
        """Write what stands beside the records, and name it."""
        vault, folder = self.vault, self.folder
        page = files("exam_app.export").joinpath("FORMAT.md").read_bytes()
        contents = {
            SCHEMA_NAME: schema_json(),
            "FORMAT.md": page,
            KEYS: keys_json(vault),
            LEFT_OUT: left_out_words(self.found, self.wanted).encode(),
        }
        for name, content in contents.items():
            write_whole(folder / name, content)
        tables = {"animals.csv": animal_table(vault)}
        if self.wanted.owners:
            tables["owners.csv"] = owner_table(vault)
        else:
            (folder / "owners.csv").unlink(missing_ok=True)
        for name, lines in tables.items():
            with writing_whole(folder / name) as write:
                for line in lines:
                    write(line)
        self.tops = [README, "records.csv", *contents, *tables]

    @in_english()
    def _list_all(self) -> None:
        """Join the tables of the records, and list every file with its hash."""
        folder = self.folder
        self._join_tables()
        unread = sorted(path.name for path in (folder / UNREAD).glob("*"))
        tops = [
            *self.tops,
            *(f"{PROTOCOLS}/{key}" for key in self.protocols),
            *(f"{UNREAD}/{name}" for name in unread),
        ]
        with writing_whole(folder / SUMS, is_flushed=True) as write:
            for name in sorted(tops):
                write(sum_line(name, sum_of(folder / name)).encode())
            for key in sorted(self.pictures):
                write(sum_line(f"{PICTURES}/{key}.jpg", key).encode())
            for place in self._folders():
                for name, digest in read_sums(folder / place / SUMS):
                    if not name.startswith(_ABOVE):
                        write(sum_line(f"{place}/{name}", digest).encode())
                own = sum_of(folder / place / SUMS)
                write(sum_line(f"{place}/{SUMS}", own).encode())

    @in_english()
    def _sign(self, at: Moment) -> None:
        seed = self.vault.settings.get("signing_key")
        signed, self.found.key = sign_list(sum_of(self.folder / SUMS), at, seed)
        write_whole(self.folder / LIST_SIGNED, signed, is_flushed=True)
        (self.folder / UNFINISHED).unlink(missing_ok=True)

    def _join_tables(self) -> None:
        """Write the rows of all records as one table."""
        head = as_csv(())
        with writing_whole(self.folder / "records.csv") as write:
            write(head)
            for place in self._folders():
                write((self.folder / place / TABLE).read_bytes().removeprefix(head))

    def _folders(self) -> Iterator[str]:
        """Yield the folder of each record that was written, in the store's order."""
        for row in self.rows:
            place = folder_of(row)
            if (self.folder / place / SUMS).is_file():
                yield place
