"""A backup: one file with a head page and a journal written anew.

It is checked to the last byte after it was written, and again before anything is
restored from it. It opens with the passphrase of the day it was made.
"""

import struct
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from exam_app.crypto.door import random_bytes, sha256_of
from exam_app.store.engine.files import LocalFile, SealedFile
from exam_app.store.engine.format import FrameKeys, Mark, derive_frame_keys
from exam_app.store.engine.head import (
    PAGE_LENGTH,
    HeadPage,
    Place,
    decode_page,
    encode_page,
)
from exam_app.store.engine.index import Tables
from exam_app.store.engine.journal import Journal
from exam_app.store.engine.keys import KeySlot
from exam_app.store.engine.picture_files import (
    LONGEST_PIECE,
    NoPictures,
    PictureFiles,
)
from exam_app.store.engine.read_files import FilePart, MemoryPart
from exam_app.store.engine.replay import Replayed, replay
from exam_app.store.engine.rewrite import (
    Progress,
    carried,
    counted,
    half_of,
    silent,
    write_anew,
)
from exam_app.store.errors import (
    BackupExistsError,
    NoBackupError,
    VaultDamagedError,
    VaultTooNewError,
    VaultUnreachableError,
)
from exam_app.store.vault.audit import AuditReport, audit, let_go

# Of one without photographs, which every reader takes, and of one with them.
WITHOUT_PICTURES, WITH_PICTURES = 1, 2
LONGEST_JOURNAL = 1 << 32
_PIECE = 1 << 20
_MAGIC = b"exam-vault bkup\n"
_HEADER = struct.Struct(">16sHQ32s")
_JOURNAL_AT = _HEADER.size + PAGE_LENGTH
_PICTURE = struct.Struct(">16sI")


@dataclass(frozen=True, slots=True)
class BackupParts:
    """What stands in a backup: its head page, its journal as a file, its pictures."""

    page: HeadPage
    journal: SealedFile
    pictures: PictureFiles


def write_backup(
    file: SealedFile,
    journal: Journal,
    tables: Tables,
    slots: tuple[KeySlot, KeySlot],
    pictures: Iterable[tuple[str, bytes]] = (),
    progress: Progress = silent,
) -> AuditReport:
    """Write a backup of an open journal over what a file held, and read it back.

    Args:
        file: What is written.
        journal: The open journal.
        tables: Its state.
        slots: Open the backup.
        pictures: Name and sealed bytes of each photograph.
        progress: Told of the steps done.

    ``progress`` is told of every entry written, then of every byte read back.

    Returns:
        What a full audit of the written bytes found; sound, or the disk lies.

    Raises:
        DocumentDamagedError: An entry does not authenticate.
        OSError: The disk failed.
    """
    data_key, vault_id = journal.keys.data_key, journal.keys.vault_id
    keys = derive_frame_keys(data_key, vault_id, random_bytes(16))
    part = MemoryPart()
    told = counted(carried(journal), tables, half_of(progress, 0))
    made = write_anew(part, keys, tables, told)
    mark = Mark(made.index_offset, made.sequence, made.tag)
    page = HeadPage(1, vault_id, Place(0, keys.journal_id, mark), slots)
    head = encode_page(page, data_key)
    file.truncate(0)
    # No backup until its header is whole, which comes last.
    file.write_at(0, bytes(_HEADER.size) + head)
    for at in range(0, part.size(), _PIECE):
        # A piece at a time, so that nobody waits for one long copy.
        file.write_at(_JOURNAL_AT + at, part.read_at(at, _PIECE))
    end = _JOURNAL_AT + part.size()
    for name, sealed in pictures:
        file.write_at(end, _PICTURE.pack(bytes.fromhex(name), len(sealed)) + sealed)
        end += _PICTURE.size + len(sealed)
    has_pictures = end > _JOURNAL_AT + part.size()
    version = WITH_PICTURES if has_pictures else WITHOUT_PICTURES
    checksum = sha256_of(_pieces(file, end))
    file.write_at(0, _HEADER.pack(_MAGIC, version, part.size(), checksum))
    file.flush()
    let_go(made.tables)
    written = read_backup(file).journal
    found, report = _audit(written, keys, mark, half_of(progress, 1))
    let_go(found.tables)
    return report


def read_backup(file: SealedFile) -> BackupParts:
    """Read a backup: magic, version, length, checksum, then its head page.

    It is read a piece at a time, and its journal only when it is asked for.

    Raises:
        NoBackupError: It is none, or not whole.
        VaultTooNewError: A newer version wrote it.
        OSError: The file could not be read.
    """
    size = file.size()
    header = file.read_at(0, _HEADER.size)
    if len(header) < _HEADER.size or not header.startswith(_MAGIC):
        raise NoBackupError("not a backup")
    _, version, length, checksum = _HEADER.unpack(header)
    if version > WITH_PICTURES:
        raise VaultTooNewError("backup of a newer version")
    end = _JOURNAL_AT + length
    is_fitting = size >= end if version == WITH_PICTURES else size == end
    if not is_fitting or length > LONGEST_JOURNAL:
        raise NoBackupError("the backup is cut, longer or too large")
    if sha256_of(_pieces(file, size)) != checksum:
        raise NoBackupError("the backup is damaged")
    page = decode_page(file.read_at(_HEADER.size, PAGE_LENGTH))
    if page is None:
        raise NoBackupError("the backup has no head page")
    pictures = BackedUpPictures(FilePart(file, end, size - end))
    return BackupParts(page, FilePart(file, _JOURNAL_AT, length), pictures)


def _pieces(file: SealedFile, end: int) -> Iterator[bytes]:
    """Yield what stands behind the header of a backup."""
    for at in range(_HEADER.size, end, _PIECE):
        yield file.read_at(at, min(_PIECE, end - at))


class BackedUpPictures(NoPictures):
    """The pictures in a backup, only read; what follows a wrong length is not found."""

    __slots__ = ("_file", "_places")

    def __init__(self, file: SealedFile) -> None:
        """Find the pictures in the last part of a backup."""
        self._file = file
        self._places: dict[str, tuple[int, int]] = {}
        at = 0
        while len(head := file.read_at(at, _PICTURE.size)) == _PICTURE.size:
            name, length = _PICTURE.unpack(head)
            at += _PICTURE.size
            self._places[name.hex()] = at, length
            at += length

    def names(self) -> set[str]:
        """Give the name of every picture."""
        return {*self._places}

    def holds(self, name: str) -> bool:
        """Whether there is a picture of this name."""
        return name in self._places

    def read(self, name: str) -> bytes | None:
        """Give a picture as it is sealed, as much of it as a sealed one can have."""
        at, length = self._places.get(name, (0, 0))
        return self._file.read_at(at, min(length, LONGEST_PIECE)) if at else None


def open_backup(parts: BackupParts, data_key: bytes) -> tuple[FrameKeys, Replayed]:
    """Read and check everything in a backup.

    Raises:
        NoBackupError: Something in it does not authenticate.
    """
    page = parts.page
    keys = derive_frame_keys(data_key, page.vault_id, page.place.journal_id)
    try:
        found, report = _audit(parts.journal, keys, page.place.mark)
    except VaultDamagedError as error:
        raise NoBackupError("the journal of the backup is damaged") from error
    if not report.is_sound or found.missing or found.end != found.size:
        raise NoBackupError("an entry of the backup is damaged")
    return keys, found


def _audit(
    file: SealedFile, keys: FrameKeys, mark: Mark, progress: Progress = silent
) -> tuple[Replayed, AuditReport]:
    found = replay(file, keys, mark)
    return found, audit(file, keys, found.end, found.tables, progress)


def make_backup_file(
    back_up: Callable[[SealedFile, Progress], None],
    path: Path,
    progress: Progress = silent,
) -> int:
    """Write a backup into a new file and read it back.

    Returns:
        Its size in bytes.

    Raises:
        BackupExistsError: Something of that name is there; it was not touched.
        VaultUnreachableError: Nothing can be written there.
        VaultError: Refused, as by ``back_up``; the unfinished file was removed.
    """
    try:
        is_taken = path.exists()
    except OSError as error:
        raise VaultUnreachableError("the backup cannot be looked for") from error
    if is_taken:
        raise BackupExistsError("the file exists")
    try:
        file = LocalFile(path)
        try:
            back_up(file, progress)
            return file.size()
        finally:
            file.close()
    except OSError as error:
        path.unlink(missing_ok=True)
        raise VaultUnreachableError("the backup cannot be written there") from error
    except BaseException:
        path.unlink(missing_ok=True)
        raise
