"""Take out of a damaged journal whatever still authenticates."""

from dataclasses import dataclass

from exam_app.store.bodies import Bodies
from exam_app.store.errors import DocumentDamagedError, VaultError
from exam_app.store.files import SealedFile
from exam_app.store.frames import PREFIX_LENGTH, FrameKeys, open_head
from exam_app.store.index import decode_index
from exam_app.store.lines import MOVE, NEW, PUT, Line, is_index, place_of, placed_lines
from exam_app.store.replay import find_frames
from exam_app.store.rows import Tables, apply_line


@dataclass(frozen=True, slots=True)
class Salvaged:
    """What was found.

    Attributes:
        tables: Rows and places of every document that opens.
        lost_frames: Gaps in the chain, each at least one save.
        lost: Table and id of documents of which no version opens.
        older: Table and id of documents of which only an older version opens.
    """

    tables: Tables
    lost_frames: int
    lost: tuple[tuple[str, str], ...]
    older: tuple[tuple[str, str], ...]

    @property
    def sentence(self) -> str:
        """What the person is told."""
        kept = sum(len(rows.entries) for rows in self.tables.values())
        return (
            f"{kept} entries were taken out whole. {len(self.lost)} are lost, of "
            f"{len(self.older)} only an older version opened, and {self.lost_frames} "
            "places of the file could not be read. Compare with your newest backup."
        )


def salvage(file: SealedFile, keys: FrameKeys, bodies: Bodies) -> Salvaged:
    """Read every frame that authenticates, wherever it stands.

    Args:
        file: The damaged journal; it is only read.
        keys: Of this journal.
        bodies: Opens its bodies.
    """
    heads = _heads(file, keys)
    tables: Tables = {}
    failed: dict[tuple[str, str], bool] = {}
    for sequence in sorted(heads):
        for line, offset in _lines(file, bodies, *heads[sequence]):
            key = line.table, line.document_id
            if _opens(file, bodies, line, offset):
                apply_line(tables, line, offset)
                failed.pop(key, None)
            else:
                rows = tables.get(line.table)
                failed[key] = rows is not None and line.document_id in rows.entries
    gaps = max(heads, default=0) - len(heads)
    lost = tuple(key for key, has_older in failed.items() if not has_older)
    older = tuple(key for key, has_older in failed.items() if has_older)
    return Salvaged(tables, gaps, lost, older)


def _heads(file: SealedFile, keys: FrameKeys) -> dict[int, tuple[bytes, int]]:
    found: dict[int, tuple[bytes, int]] = {}
    for offset, prefix in find_frames(file, keys, 0):
        start = offset + PREFIX_LENGTH
        head = open_head(keys, prefix, file.read_at(start, prefix.head_length))
        if head is not None:
            found.setdefault(prefix.sequence, (head, start + prefix.head_length))
    return found


def _lines(
    file: SealedFile, bodies: Bodies, head: bytes, offset: int
) -> list[tuple[Line, int]]:
    lines: list[tuple[Line, int]] = []
    try:
        if not is_index(head):
            return list(placed_lines(head, offset))
        for name, rows in decode_index(head, file, offset, bodies).items():
            for document_id, (row, where) in rows.entries.items():
                at, length, tag = place_of(where)
                lines.append((Line(PUT, name, document_id, length, tag, row), at))
    except VaultError:
        # What an index says stands in the frames before it too.
        return lines
    return lines


def _opens(file: SealedFile, bodies: Bodies, line: Line, offset: int) -> bool:
    if line.verb not in (NEW, PUT, MOVE) or not line.tag:
        return True
    try:
        sealed = file.read_at(offset, line.length)
        bodies.open(line.table, line.document_id, sealed, line.tag)
    except DocumentDamagedError:
        return False
    return True
