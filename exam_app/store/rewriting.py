"""Write a journal anew into the other file: only what counts, and an index.

The saves of the old journal become frames of many documents each, so that a
damaged index can be made again from them. Until a head page names the new file,
the old one counts.
"""

from collections.abc import Callable, Iterator, Mapping

from exam_app.store.bodies import Bodies
from exam_app.store.files import SealedFile
from exam_app.store.frames import (
    HEADER_LENGTH,
    TAG_LENGTH,
    FrameKeys,
    encode_header,
    frame_tag,
    seal_frame,
)
from exam_app.store.index import encode_index
from exam_app.store.lines import NEW, TABLE, Entry, Line, encode_changes
from exam_app.store.replay import Replayed
from exam_app.store.rows import TableRows, apply_line

_DOCUMENTS_IN_A_FRAME = 64

Carry = Callable[[str, str, bytes], bytes]
"""Gives the sealed body, for the new file, of a table's document at a place."""


def write_anew(
    file: SealedFile,
    keys: FrameKeys,
    bodies: Bodies,
    tables: Mapping[str, TableRows],
    carry: Carry,
) -> tuple[Replayed, int]:
    """Write a whole journal and flush it.

    Args:
        file: Its content is lost.
        keys: Of the new journal.
        bodies: Seals the index of the new journal.
        tables: What to write.
        carry: Gives each sealed body.

    Returns:
        The new journal as if it had been read, and where its index stands.

    Raises:
        DocumentDamagedError: A body did not authenticate; the old file counts.
        OSError: The disk failed; the old file counts.
    """
    file.truncate(0)
    file.write_at(0, encode_header(keys))
    made = Replayed(end=HEADER_LENGTH)
    for name, rows in tables.items():
        _write_group(file, keys, made, [Line(TABLE, name, "", rows.next_number)], [])
        for group in _groups(rows.entries):
            lines, sealed = [], []
            for document_id, (row, where) in group:
                body = carry(name, document_id, where) if where else b""
                tag = body[-TAG_LENGTH:]
                lines.append(Line(NEW, name, document_id, len(body), tag, row))
                sealed.append(body)
            _write_group(file, keys, made, lines, sealed)
    index_offset = made.end
    head, chunks = encode_index(made.tables, bodies)
    _write_frame(file, keys, made, head, b"".join(chunks))
    file.flush()
    made.base = made.size = made.end
    return made, index_offset


def _groups(entries: dict[str, Entry]) -> Iterator[list[tuple[str, Entry]]]:
    everything = list(entries.items())
    for start in range(0, len(everything), _DOCUMENTS_IN_A_FRAME):
        yield everything[start : start + _DOCUMENTS_IN_A_FRAME]


def _write_group(
    file: SealedFile,
    keys: FrameKeys,
    made: Replayed,
    lines: list[Line],
    sealed: list[bytes],
) -> None:
    joined = b"".join(sealed)
    _write_frame(file, keys, made, encode_changes(lines), joined)
    offset = made.end - len(joined)
    for line in lines:
        apply_line(made.tables, line, offset)
        if line.tag:
            offset += line.length


def _write_frame(
    file: SealedFile, keys: FrameKeys, made: Replayed, head: bytes, bodies: bytes
) -> None:
    frame = seal_frame(keys, made.sequence + 1, made.tag, head, bodies)
    file.write_at(made.end, frame)
    made.tag = frame_tag(frame, len(bodies))
    made.sequence += 1
    made.end += len(frame)
