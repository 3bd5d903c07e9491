"""Looking after the stored exams: what is there, and the steps in plain words.

Plain functions; each step takes a ``Progress`` and returns what the person is told.
"""

from datetime import datetime
from pathlib import Path
from typing import ClassVar

from exam_app.app.queries.clinic_records import is_clinic
from exam_app.app.view.hand_over_presenter import standing_count
from exam_app.domain.errors import ExamError
from exam_app.domain.moments import Moment
from exam_app.exchange.erasing import backups_made
from exam_app.exchange.exchange import Exchange
from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.store.engine.read_files import MemoryPart
from exam_app.store.engine.rewrite import Progress
from exam_app.store.repositories.reports import GIVEN_TO_BROWSER, Backup, ReadLoss
from exam_app.store.vault.audit import AuditReport
from exam_app.store.vault.backup import make_backup_file
from exam_app.store.vault.vault import Vault

OPENS_WITH = to_translate(
    "It is sealed and opens with the passphrase and the recovery code of today."
)
KEY_CHANGED = to_translate(
    "Everything is sealed under a new key, and a new recovery code counts. If you did "
    "not write it down, replace the recovery code in the settings."
)
_NAMED = 5

Facts = tuple[tuple[str, str], ...]


class BackupPlaceError(ExamError):
    """A backup cannot go where the person wrote."""

    advice: ClassVar[str] = to_translate(
        "A backup cannot be written there. Nothing was written. "
        "Write a folder on another disk, from its beginning."
    )

    def __init__(self, advice: str) -> None:
        """Say what is wrong with this place, and what next."""
        super().__init__("no place for a backup")
        self.advice = advice  # type: ignore[misc]


class DamageFoundError(ExamError):
    """A full check found damage; the advice names what is concerned."""

    advice: ClassVar[str] = to_translate(
        "Damage was found in the stored exams. Nothing was changed. "
        "On a computer, copy the folder with the exams somewhere safe."
    )

    def __init__(self, advice: str) -> None:
        """Take what was found, and what next."""
        super().__init__("damage was found")
        self.advice = advice  # type: ignore[misc]


def facts(vault: Vault) -> Facts:
    """Return what is kept here as (label, text)."""
    opened, closed = len(vault.drafts.open()), vault.closed.count()
    lines = [
        (
            tr("Exams"),
            tr(
                "{closed} closed, {opened} open",
                closed=tr_plural("{count} exam", "{count} exams", closed),
                opened=tr_plural("{count} exam", "{count} exams", opened),
            ),
        ),
        (tr("Room taken by the exams"), size_words(vault.size())),
        (tr("Last backup made here"), backup_words(last_backup(vault))),
    ]
    if not is_clinic(vault):
        unsent = standing_count([row for row, _ in Exchange(vault).not_handed_over()])
        words = unsent or tr("Every closed exam was received by the clinic.")
        lines.append(
            (tr("Not handed over"), words if closed else tr("No exam is closed yet."))
        )
    if read := vault.losses.read():
        lines.append(
            (tr("Damage read about earlier"), " ".join(map(_read_words, read)))
        )
    return tuple(lines)


def _read_words(loss: ReadLoss) -> str:
    read = (
        tr("Read by {name}, {time}.", name=loss.read_by, time=loss.read_at)
        if loss.read_by
        else tr("Read, {time}.", time=loss.read_at)
    )
    return f"{loss.shown} ({read})"


def reports(vault: Vault) -> tuple[str, ...]:
    """Return what the store has found wrong by itself."""
    return tuple(filter(None, (vault.damage_report, vault.disk_report)))


def size_words(size: int) -> str:
    """Write a number of bytes for people."""
    if size < 1_000_000:
        return f"{max(1, round(size / 1000))} kB"
    if size < 1_000_000_000:
        return f"{size / 1_000_000:.1f} MB"
    return f"{size / 1_000_000_000:.1f} GB"


def backup_words(last: Backup | None) -> str:
    """Say when and where the last backup was made."""
    if last is None:
        return tr("None")
    return f"{last.at}, {last.place} ({size_words(last.size)})"


def backup_name(at: datetime) -> str:
    """Name a backup by its time; no patient and no practice stands in it."""
    return f"exams-{at:%Y-%m-%d-%H%M%S}.backup"


def backup_path(typed: str, at: datetime, own_folder: Path) -> Path:
    """Return the file that a backup is written to.

    Args:
        typed: A folder, or a file in one.
        at: Names the file in a folder.
        own_folder: Where the exams themselves lie.

    Raises:
        BackupPlaceError: It is no place for a backup; its advice says why.
    """
    if not typed.strip():
        raise BackupPlaceError(
            tr("Write where the backup goes. Nothing was written yet.")
        )
    path = Path(typed.strip()).expanduser()
    if not path.is_absolute():
        raise BackupPlaceError(
            tr(
                "Write the folder from its beginning, as the system shows it. "
                "Nothing was written."
            )
        )
    path = path / backup_name(at) if path.is_dir() else path
    if not path.parent.is_dir():
        raise BackupPlaceError(
            tr(
                "There is no such folder now. Nothing was written. "
                "Connect the disk, or write another folder."
            )
        )
    if path.resolve().is_relative_to(own_folder.resolve()):
        raise BackupPlaceError(
            tr(
                "That is the folder of the exams themselves: what harms them would "
                "harm the backup. Nothing was written. Write a folder on another disk."
            )
        )
    return path


def check(vault: Vault, progress: Progress) -> str:
    """Read and check everything, and say that all is whole.

    Raises:
        DamageFoundError: Something is not; its advice names what is concerned.
    """
    report = vault.audit(progress)
    words = checked_words(vault, report)
    if not report.is_sound:
        raise DamageFoundError(words)
    return words


def checked_words(vault: Vault, report: AuditReport) -> str:
    """Say what a full check found, with the exams that are concerned by name."""
    if report.is_sound:
        entries = tr_plural(
            "{count} sealed entry", "{count} sealed entries", report.bodies
        )
        whole = tr(
            "{entries} were opened, and {saves} follow one another without a gap.",
            entries=entries,
            saves=tr_plural("{count} save", "{count} saves", report.frames),
        )
        return f"{report.sentence} {whole}"
    named = dict.fromkeys(name for one in report.damaged if (name := _name(vault, one)))
    shown = ", ".join([*named][:_NAMED])
    if not named:
        return report.sentence
    more = len(named) - _NAMED
    concerned = (
        tr("Concerned: {names} and {count} more.", names=shown, count=more)
        if more > 0
        else tr("Concerned: {names}.", names=shown)
    )
    return f"{report.sentence} {concerned}"


def _name(vault: Vault, damaged: tuple[str, str]) -> str:
    table, key = damaged
    exam_id = key.split(":", 1)[0]
    if table == "closed":
        rows = vault.closed.revisions(exam_id)
        return next(
            (tr("the closed exam of {name}", name=row.name) for row in rows), ""
        )
    if table == "drafts":
        shown = vault.drafts.shown(exam_id)
        return tr("the open exam of {name}", name=shown.name) if shown else ""
    return ""


def make_room(vault: Vault, progress: Progress) -> str:
    """Write the files anew and say what it gave."""
    before = vault.size()
    vault.rewrite(progress)
    now = vault.size()
    if now >= before:
        # An index comes along, which a small store feels.
        return tr(
            "Nothing was there to leave out. The files take {size}.",
            size=size_words(now),
        )
    return tr(
        "The files were written anew, without what was replaced or removed. "
        "They take {now} now; before it was {before}.",
        now=size_words(now),
        before=size_words(before),
    )


def back_up_to(vault: Vault, path: Path, at: Moment, progress: Progress) -> str:
    """Make a backup file and say where it is."""
    size = make_backup_file(vault.back_up, path, progress)
    vault.note_backup(at, str(path), size)
    return tr(
        "Backup made and read back: {path} ({size}). {opens} Keep it on another disk.",
        path=path,
        size=size_words(size),
        opens=tr(OPENS_WITH),
    )


def back_up_bytes(vault: Vault, at: Moment, progress: Progress) -> bytes:
    """Make a backup in memory, to be offered to the browser."""
    part = MemoryPart()
    vault.back_up(part, progress)
    content = part.read_at(0, part.size())
    vault.note_backup(at, GIVEN_TO_BROWSER, len(content))
    return content


def offered_words(name: str, size: int) -> str:
    """Say what became of a backup that the browser got."""
    return tr(
        "Backup made, read back and given to the browser as {name} "
        "({size}). {opens} Look whether the browser has kept it, "
        "then put it on another disk.",
        name=name,
        size=size_words(size),
        opens=tr(OPENS_WITH),
    )


def last_backup(vault: Vault) -> Backup | None:
    """Return the last backup, or None."""
    return next(reversed(backups_made(vault)), None)
