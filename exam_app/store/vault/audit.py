"""Read everything a journal ever kept and check that all of it authenticates.

Opening reads heads only; this reads every body too. It changes nothing.
"""

from dataclasses import dataclass

from exam_app.store.engine.documents import Bodies
from exam_app.store.engine.files import SealedFile
from exam_app.store.engine.format import (
    HEADER_LENGTH,
    FrameKeys,
    check_header,
    is_index,
    placed_lines,
)
from exam_app.store.engine.index import TableRows, Tables, decode_index
from exam_app.store.engine.journal import Journal
from exam_app.store.engine.replay import Replayed, apply_frame, follow, frames
from exam_app.store.engine.rewrite import Progress, silent
from exam_app.store.errors import (
    DocumentDamagedError,
    VaultDamagedError,
    VaultUnreachableError,
)

SOUND = "Everything kept was read and is whole."


@dataclass(frozen=True, slots=True)
class AuditReport:
    """What a full audit found.

    Attributes:
        frames: Whole frames, in a chain from the first.
        bodies: Sealed documents that were opened, replaced ones too.
        damaged: Table and id of every document that does not authenticate.
        is_broken: The chain ends early, or says another thing than the open vault.
    """

    frames: int
    bodies: int
    damaged: tuple[tuple[str, str], ...]
    is_broken: bool

    @property
    def is_sound(self) -> bool:
        """Whether nothing was found."""
        return not self.damaged and not self.is_broken

    @property
    def sentence(self) -> str:
        """What the person at the screen is told."""
        if self.is_sound:
            return SOUND
        what = f"{len(self.damaged)} entries" if self.damaged else "a part of the file"
        return (
            f"Damage was found in {what}. What opens is whole; what does not open is "
            "never shown in part. On a computer, copy the folder with the exams "
            "somewhere safe; then compare with your newest backup."
        )


def audit(
    file: SealedFile,
    keys: FrameKeys,
    bodies: Bodies,
    end: int,
    tables: Tables,
    progress: Progress = silent,
) -> AuditReport:
    """Check a journal from its first byte to ``end``.

    Args:
        file: The open file.
        keys: Of this journal.
        bodies: Opens the bodies.
        end: Where the last save ended.
        tables: The state as it is open now.
        progress: Told how many bytes of all were read.

    Raises:
        OSError: The file could not be read.
    """
    found = Replayed()
    damaged: list[tuple[str, str]] = []
    count = bodies_count = 0
    is_broken = False
    try:
        check_header(keys, file.read_at(0, HEADER_LENGTH))
        for frame in frames(file, keys, HEADER_LENGTH, end):
            if not follow(found, frame):
                break
            count += 1
            progress(found.end, end)
            if is_index(frame.head):
                at = frame.bodies_offset
                index = decode_index(frame.head, file, at, bodies)
                is_broken |= not _agree(found.tables, index)
                continue
            apply_frame(found.tables, frame, file, bodies)
            for line, offset in placed_lines(frame.head, frame.bodies_offset):
                if line.tag:
                    bodies_count += 1
                    sealed = file.read_at(offset, line.length)
                    try:
                        bodies.open(line.table, line.document_id, sealed, line.tag)
                    except DocumentDamagedError:
                        damaged.append((line.table, line.document_id))
        is_broken |= found.end != end or not _agree(found.tables, tables)
    except VaultDamagedError:
        is_broken = True
    return AuditReport(count, bodies_count, tuple(damaged), is_broken)


def audit_open(
    journal: Journal, tables: Tables, progress: Progress = silent
) -> AuditReport:
    """Check an open journal.

    Raises:
        VaultUnreachableError: The disk refused to read.
    """
    keys, bodies = journal.keys, journal.bodies
    try:
        return audit(journal.file, keys, bodies, journal.end, tables, progress)
    except OSError as error:
        raise VaultUnreachableError("the disk refused to read") from error


def _agree(first: Tables, second: Tables) -> bool:
    def shown(tables: dict[str, TableRows]) -> list[object]:
        return [(name, list(rows.entries.items())) for name, rows in tables.items()]

    return shown(first) == shown(second)
