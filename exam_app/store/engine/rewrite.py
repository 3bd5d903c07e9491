"""The two files of the journal, and writing it anew from one into the other.

The saves of the old journal become frames of many documents each, and an index, so
that a damaged index can be made again from them. Going over takes five steps, each
flushed: the idle file is written; the older head page names it, and from here on it
counts; the other page names it; the former file is emptied. A crash in between leaves
one of the two journals whole and named; the next opening finishes the steps.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from exam_app.crypto.door import random_bytes
from exam_app.store.engine.documents import Bodies
from exam_app.store.engine.files import FolderLock, SealedFile
from exam_app.store.engine.format import (
    HEADER_LENGTH,
    NEW,
    TABLE,
    TAG_LENGTH,
    FrameKeys,
    Line,
    derive_frame_keys,
    encode_changes,
    encode_header,
    placed,
    seal_frame_head,
)
from exam_app.store.engine.head import Head, Place, next_page, was_closed
from exam_app.store.engine.index import (
    TableRows,
    Tables,
    apply_line,
    chunks_of,
    encode_index,
)
from exam_app.store.engine.journal import Journal, Reserve
from exam_app.store.engine.keys import KeySlot
from exam_app.store.engine.picture_files import NoPictures, PictureFiles
from exam_app.store.engine.replay import Replayed
from exam_app.store.engine.storage import SealedStorage
from exam_app.store.errors import VaultStoppedError, save_refusal

_DOCUMENTS_IN_A_FRAME = 64
_WRITTEN_AT_ONCE = 1 << 18
Carry = Callable[[str, str, bytes], bytes]
"""Gives the sealed body, for the new file, of a table's document at a place."""
Progress = Callable[[int, int], None]
"""Told how much is done, and of how much; called from the thread that works."""
Slots = tuple[KeySlot, KeySlot]


def write_anew(
    file: SealedFile,
    keys: FrameKeys,
    tables: Mapping[str, TableRows],
    carry: Carry,
) -> Replayed:
    """Write a whole journal over what a file held, and flush it.

    Returns:
        The new journal as if it had been read.

    Raises:
        DocumentDamagedError: A body did not authenticate; the old file counts.
        OSError: The disk failed; the old file counts.
    """
    file.truncate(0)
    file.write_at(0, encode_header(keys))
    made = Replayed(end=HEADER_LENGTH)
    for name, rows in tables.items():
        _write_group(file, keys, made, [Line(TABLE, name, "", rows.next_number)], [])
        for group in chunks_of(rows.entries, _DOCUMENTS_IN_A_FRAME):
            lines, sealed = [], []
            for document_id, (row, where) in group.items():
                body = carry(name, document_id, where) if where else b""
                tag = body[-TAG_LENGTH:]
                lines.append(Line(NEW, name, document_id, len(body), tag, row))
                sealed.append(body)
            _write_group(file, keys, made, lines, sealed)
    made.index_offset = made.end
    head, chunks = encode_index(made.tables, keys.bodies)
    _write_frame(file, keys, made, head, chunks)
    file.flush()
    made.base = made.size = made.end
    made.index_tag = made.tag
    return made


def _write_group(
    file: SealedFile,
    keys: FrameKeys,
    made: Replayed,
    lines: list[Line],
    sealed: list[bytes],
) -> None:
    _write_frame(file, keys, made, encode_changes(lines), sealed)
    for line, offset in placed(lines, made.end - sum(map(len, sealed))):
        apply_line(made.tables, line, offset)


def _write_frame(
    file: SealedFile, keys: FrameKeys, made: Replayed, head: bytes, bodies: list[bytes]
) -> None:
    length = sum(map(len, bodies))
    sealed = seal_frame_head(keys, made.sequence + 1, made.tag, head, length)
    made.tag = sealed[-TAG_LENGTH:]
    made.sequence += 1
    # A part at a time: the bodies of an index are as long as a tenth of the store,
    # and to join them would hold the page.
    part = bytearray(sealed)
    for body in bodies:
        part += body
        if len(part) >= _WRITTEN_AT_ONCE:
            _write_part(file, made, part)
            part.clear()
    _write_part(file, made, part)


def _write_part(file: SealedFile, made: Replayed, part: bytearray) -> None:
    file.write_at(made.end, bytes(part))
    made.end += len(part)


def silent(_done: int, _whole: int) -> None:
    """Tell nobody."""


def carried(old: Journal, bodies: Bodies | None = None) -> Carry:
    """Open every body that is carried over; seal it anew if another key is given."""

    def carry(table: str, document_id: str, where: bytes) -> bytes:
        sealed, tag = old.read_sealed(where)
        plain = old.keys.bodies.open(table, document_id, sealed, tag)
        return bodies.seal(table, document_id, plain) if bodies else sealed

    return carry


def counted(carry: Carry, tables: Tables, progress: Progress) -> Carry:
    """Tell of every body that is carried into a new file."""
    whole = sum(
        1 for rows in tables.values() for _, where in rows.entries.values() if where
    )
    done = 0

    def carry_one(table: str, document_id: str, where: bytes) -> bytes:
        nonlocal done
        done += 1
        progress(done, whole)
        return carry(table, document_id, where)

    return carry_one


def half_of(progress: Progress, before: int) -> Progress:
    """Tell of one half of all work; ``before`` halves, 0 or 1, were done already."""
    return lambda done, whole: progress(before * whole + done, 2 * whole)


@dataclass(frozen=True, slots=True)
class VaultFiles:
    """The open files of a vault, and the lock that keeps them from others.

    Attributes:
        head: ``vault.head``.
        journals: ``vault.a`` and ``vault.b``.
        reserve: Given up when the disk is full.
        lock: Released last.
        lists: ``vault.lists``; None where nothing large was kept at the opening.
        pictures: Where sealed pictures lie; never written with the journal.
    """

    head: Head
    journals: tuple[SealedFile, SealedFile]
    reserve: Reserve
    lock: FolderLock
    lists: SealedFile | None = None
    pictures: PictureFiles = field(default_factory=NoPictures)

    def close(self) -> None:
        """Release all of them."""
        for file in (*self.journals, self.reserve, self.head, self.lists):
            if file is not None:
                file.close()
        self.pictures.close()
        self.lock.release()


def begin_journal(
    files: VaultFiles,
    live: int,
    data_key: bytes,
    vault_id: bytes,
    tables: Tables,
    carry: Carry,
) -> tuple[Journal, Replayed, Place]:
    """Write a journal into one of the files; nothing names it yet.

    Returns:
        The open journal, its state, and its place for a head page.

    Raises:
        OSError: The disk failed.
    """
    keys = derive_frame_keys(data_key, vault_id, random_bytes(16))
    file = files.journals[live]
    made = write_anew(file, keys, tables, carry)
    journal = Journal(file, keys, made, files.reserve)
    return journal, made, Place(live, keys.journal_id, journal.mark())


def write_again(
    files: VaultFiles,
    storage: SealedStorage,
    data_key: bytes,
    slots: Slots | None = None,
    progress: Progress = silent,
) -> None:
    """Write the journal anew into the other file and go over to it.

    Args:
        files: The open files; the pages of the head will name the new journal.
        storage: Goes over to the new journal.
        data_key: Seals the new journal; another than before seals every body anew.
        slots: Key slots for ``data_key``, if it is another.
        progress: Told of every body that is carried over.

    Raises:
        DocumentDamagedError: A body does not authenticate; the old journal counts.
        VaultError: The disk failed. Which journal counts shows at the next
            opening; both hold the same.
    """
    old = storage.journal()
    if old.is_stopped:
        raise VaultStoppedError("an earlier save failed")
    page = files.head.newest()

    def go_over(tables: Tables) -> tuple[Journal, Tables]:
        bodies = Bodies(data_key, page.vault_id) if slots else None
        told = counted(carried(old, bodies), tables, progress)
        journal, made, place = begin_journal(
            files, 1 - page.place.live, data_key, page.vault_id, tables, told
        )
        try:
            files.head.write_older(next_page(page, slots, place), data_key)
        except OSError:
            # Which of the two counts is unknown, so neither may grow.
            old.is_stopped = True
            raise
        return journal, made.tables

    try:
        storage.renew(go_over)
        finish_going_over(files, data_key)
    except OSError as error:
        raise save_refusal(error) from error


def finish_going_over(files: VaultFiles, data_key: bytes) -> bool:
    """Make both pages name the same journal, and empty the other file.

    Returns:
        Whether anything had to be done.

    Raises:
        OSError: The disk failed; the next opening tries again.
    """
    head, page = files.head, files.head.newest()
    idle = files.journals[1 - page.place.live]
    is_open = head.needs_repair()
    if is_open:
        head.write_older(next_page(page), data_key)
    if idle.size():
        idle.truncate(0)
        idle.flush()
        return True
    return is_open


def write_mark(head: Head, journal: Journal) -> None:
    """Tell the head page how far the journal goes, so that a loss is noticed."""
    if head.newest().place.mark != journal.mark():
        _write_page(head, journal, is_closing=False)


def write_closing_mark(head: Head, journal: Journal) -> None:
    """Tell the head page that nothing is saved behind its mark any more."""
    page = head.newest()
    is_said = was_closed(page, journal.keys.data_key)
    if page.place.mark != journal.mark() or not is_said:
        _write_page(head, journal, is_closing=True)


def reopen_before_saving(head: Head, journal: Journal) -> None:
    """Have the head page say so before the first save behind a closing mark."""

    def say() -> None:
        if not was_closed(head.newest(), journal.keys.data_key) or _write_page(
            head, journal, is_closing=False
        ):
            journal.before_save = None

    journal.before_save = say


def _write_page(head: Head, journal: Journal, *, is_closing: bool) -> bool:
    # What a failed flush left in the head is unknown: it is read anew at an opening.
    if journal.is_stopped or head.is_unsure:
        return False
    page = head.newest()
    place = replace(page.place, mark=journal.mark())
    key = journal.keys.data_key
    try:
        head.write_older(next_page(page, place=place), key, is_closing=is_closing)
    except OSError:
        return False
    return True
