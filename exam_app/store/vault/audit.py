"""Read everything a journal ever kept and check that all of it authenticates.

Opening reads heads only; this reads every body too. It changes nothing.
"""

from dataclasses import dataclass
from itertools import islice

from exam_app.language.catalogue import to_translate, tr
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

_COMPARED_AT_ONCE = 1024
SOUND = to_translate("Everything kept was read and is whole.")


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
            return tr(SOUND)
        what = tr("a part of the file")
        if self.damaged:
            what = tr("{count} entries", count=len(self.damaged))
        photographs = tr("{count} of the photographs", count=len(self.pictures))
        if self.pictures and (self.damaged or self.is_broken):
            what = tr("{what} and in {photographs}", what=what, photographs=photographs)
        elif self.pictures:
            what = photographs
        return tr(
            "Damage was found in {what}. What opens is whole; what does not open is "
            "never shown in part. On a computer, copy the folder with the exams "
            "somewhere safe; then compare with your newest backup.",
            what=what,
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
                indexed = index_in(file, keys, frame)
                is_broken |= not _agree(found.tables, indexed)
                let_go(indexed)
                continue
            for line, offset in frame.lines():
                apply_line(found.tables, line, offset)
                bodies_count += bool(line.tag)
                if not opens(file, keys, line, offset):
                    damaged.append((line.table, line.document_id))
        is_broken |= found.end != end or not _agree(found.tables, tables)
    except VaultDamagedError:
        is_broken = True
    let_go(found.tables)
    return AuditReport(count, bodies_count, tuple(damaged), is_broken)


def let_go(tables: Tables) -> None:
    """Forget tables that were made for a step, in small parts."""
    for rows in tables.values():
        rows.let_go()


def _agree(first: Tables, second: Tables) -> bool:
    if [*first] != [*second]:
        return False
    return all(_are_alike(first[name], second[name]) for name in first)


def _are_alike(first: TableRows, second: TableRows) -> bool:
    """Compare in order, some at a time: all at once would hold the page."""
    one, other = first.entries, second.entries
    rest, others = iter(one.items()), iter(other.items())
    while some := [*islice(rest, _COMPARED_AT_ONCE)]:
        if some != [*islice(others, _COMPARED_AT_ONCE)]:
            return False
    return len(one) == len(other)
