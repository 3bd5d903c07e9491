"""What a person is told about the store itself: losses, and backups made of it."""

import re
from dataclasses import dataclass

from exam_app.language.catalogue import in_english, to_translate, tr, tr_plural
from exam_app.store.engine.documents import Document, read_row, stored_row
from exam_app.store.engine.tables import SealedTables

GIVEN_TO_BROWSER = to_translate(
    "given to the browser; whether it was kept is not known here"
)
_NUMBER = re.compile("[0-9]+")


def saves_missing(count: int) -> str:
    """Say that saves which were kept once are not there any more."""
    return tr_plural(
        "The last save is missing: the file was damaged or cut at its end, or an older "
        "copy of it was put back. Everything before is whole and shown. Check the "
        "exams you changed last, and restore a backup elsewhere to compare.",
        "The last {count} saves are missing: the file was damaged or cut at its end, "
        "or an older copy of it was put back. Everything before is whole and shown. "
        "Check the exams you changed last, and restore a backup elsewhere to compare.",
        count,
    )


def shown(*sentences: str | None) -> str | None:
    """Join sentences, which are English, in the language that was chosen."""
    return " ".join(_shown(text) for text in sentences if text) or None


def _shown(sentence: str) -> str:
    number = _NUMBER.search(sentence)
    count = int(number[0]) if number else 1
    with in_english():
        is_of_saves = sentence == saves_missing(count)
    return saves_missing(count) if is_of_saves else tr(sentence)


@dataclass(frozen=True, slots=True)
class ReadLoss:
    """A loss that a person has read of: by name, and local date and time."""

    sentence: str
    read_by: str
    read_at: str

    @property
    def shown(self) -> str:
        """The sentence in the language that was chosen."""
        return shown(self.sentence) or ""


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup that was made.

    Attributes:
        at: Local date and time, as shown.
        size: In bytes.
        when_ms: UTC milliseconds; None in what earlier versions remembered.
        key: Its row's; empty for one that is not kept yet.
    """

    at: str
    where: str
    size: int
    when_ms: int | None = None
    key: str = ""

    @property
    def place(self) -> str:
        """Where it went, as shown."""
        is_known = self.where == GIVEN_TO_BROWSER
        return tr(self.where) if is_known else self.where


class LossReports:
    """What was found lost, oldest first, until a person has read it in the app.

    A report is saved before the head's mark goes on, so that no crash and no command in
    between makes it disappear; read ones stay, with who read them and when.
    """

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of reports."""
        self._table = tables.open_table("loss_reports", body_fields=())

    def keep(self, key: str, sentence: str) -> None:
        """Keep a report as unread; the same loss again changes nothing.

        Args:
            key: Names the loss, as by the mark that was not reached.
            sentence: What the person is told.
        """
        if self._table.fetch(key) is None:
            self._table.put(key, {"sentence": sentence, "is_read": False})

    def unread(self) -> list[str]:
        """Give the sentences that nobody has read in the app yet."""
        return [str(row["sentence"]) for row in self._rows() if not row["is_read"]]

    def read(self) -> list[ReadLoss]:
        """Give those that were read."""
        return [read_row(ReadLoss, row) for row in self._rows() if row["is_read"]]

    def mark_read(self, by: str, at: str) -> None:
        """Note that a person has read all of them, in one save.

        Args:
            by: The person's name, as known at the screen; may be empty.
            at: Local date and time, as shown.
        """
        with self._table.sealed.transaction():
            for key, row in self._table.rows():
                if not row["is_read"]:
                    read = {"is_read": True, "read_by": by, "read_at": at}
                    self._table.put(key, {**row, **read})

    def _rows(self) -> list[Document]:
        return [row for _, row in self._table.rows()]


class BackupsMade:
    """When and where each backup went, oldest first."""

    def __init__(self, tables: SealedTables) -> None:
        """Use the table of backups."""
        self._table = tables.open_table("backups", body_fields=())

    def keep(self, backup: Backup) -> None:
        """Keep that a backup was made."""
        row = stored_row(backup)
        del row["key"]
        self._table.put(str(self._table.sealed.next_number("backups")), row)

    def all(self) -> list[Backup]:
        """Give every backup that is not known to be destroyed."""
        return [
            read_row(Backup, row, key=key)
            for key, row in self._table.rows()
            if not row.get("destroyed_by")
        ]

    def mark_destroyed(self, key: str, by: str) -> None:
        """Keep that a person says a backup exists no more."""
        kept = self._table.fetch(key)
        if kept is not None:
            self._table.put(key, {**kept, "destroyed_by": by})
