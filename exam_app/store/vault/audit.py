"""Read everything a journal ever kept and check that all of it authenticates.

Opening reads heads only; this reads every body too. It changes nothing.
"""

from dataclasses import dataclass

from exam_app.store.engine.files import SealedFile
from exam_app.store.engine.format import (
    HEADER_LENGTH,
    FrameKeys,
    check_header,
    is_index,
)
from exam_app.store.engine.index import TableRows, Tables, apply_line
from exam_app.store.engine.replay import (
    Replayed,
    follow,
    frames,
    index_in,
    opens,
)
from exam_app.store.engine.rewrite import Progress, silent
from exam_app.store.errors import (
    VaultDamagedError,
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
        pictures: Hashes of photographs that were kept and are not whole any more.
    """

    frames: int
    bodies: int
    damaged: tuple[tuple[str, str], ...]
    is_broken: bool
    pictures: tuple[str, ...] = ()

    @property
    def is_sound(self) -> bool:
        """Whether nothing was found."""
        return not (self.damaged or self.is_broken or self.pictures)

    @property
    def sentence(self) -> str:
        """What the person at the screen is told."""
        if self.is_sound:
            return SOUND
        what = f"{len(self.damaged)} entries" if self.damaged else "a part of the file"
        if self.pictures:
            also = f"{what} and in " if self.damaged or self.is_broken else ""
            what = f"{also}{len(self.pictures)} of the photographs"
        return (
            f"Damage was found in {what}. What opens is whole; what does not open is "
            "never shown in part. On a computer, copy the folder with the exams "
            "somewhere safe; then compare with your newest backup."
        )


def audit(
    file: SealedFile,
    keys: FrameKeys,
    end: int,
    tables: Tables,
    progress: Progress = silent,
) -> AuditReport:
    """Check a journal from its first byte to ``end``.

    Args:
        file: The open file.
        keys: Its keys.
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
                is_broken |= not _agree(found.tables, index_in(file, keys, frame))
                continue
            for line, offset in frame.lines():
                apply_line(found.tables, line, offset)
                bodies_count += bool(line.tag)
                if not opens(file, keys, line, offset):
                    damaged.append((line.table, line.document_id))
        is_broken |= found.end != end or not _agree(found.tables, tables)
    except VaultDamagedError:
        is_broken = True
    return AuditReport(count, bodies_count, tuple(damaged), is_broken)


def _agree(first: Tables, second: Tables) -> bool:
    def shown(tables: dict[str, TableRows]) -> list[object]:
        return [(name, list(rows.entries.items())) for name, rows in tables.items()]

    return shown(first) == shown(second)
