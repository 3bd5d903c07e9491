"""Photographs of this store: the sealed pictures, and a row for each that is known.

A picture is kept once, however many exams name it, apart from the journal: a save never
carries one, and an opening reads none. Its row says which exams it was brought for, and
stands there before the picture does where a record names one that has not come yet.
"""

from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace

from exam_app.crypto.door import sha256
from exam_app.record.jpeg import check_picture
from exam_app.store.engine.documents import Document, read_row, stored_row
from exam_app.store.engine.format import FrameKeys
from exam_app.store.engine.picture_files import PictureFiles
from exam_app.store.engine.picture_slots import PictureSlots
from exam_app.store.engine.rewrite import Progress, silent
from exam_app.store.engine.sealed_pictures import PictureKeys
from exam_app.store.engine.tables import SealedTables
from exam_app.store.errors import (
    NoRoomForPhotographError,
    PhotographDamagedError,
    PhotographMissingError,
    VaultError,
    VaultFullError,
    VaultUnreachableError,
    save_refusal,
)

ROOM_FOR_ANSWERS = 64 * 2**20
"""Bytes that no photograph takes: they are left to the saves of exams."""
_MOST_SEALED = 8


@dataclass(frozen=True, slots=True)
class PhotographRow:
    """What is known of one photograph.

    Attributes:
        sha256: Of the picture, in hexadecimal.
        exam_ids: Exams that it was brought for; at a clinic, whose records name it.
        size: Bytes of the picture; 0 while it has not come.
        width, height: Its pixels; 0 while it has not come.
        device_id: The device it came or is awaited from; empty for an own one.
        received_ms: When the clinic said that it holds this own one, UTC milliseconds;
            0 while it has not.
        sealed_hashes: SHA-256 of the bytes it travelled in, from here or to here, in
            hexadecimal, the newest last: another device or another exam seals the
            same picture to other bytes.
    """

    sha256: str
    exam_ids: tuple[str, ...] = ()
    size: int = 0
    width: int = 0
    height: int = 0
    device_id: str = ""
    received_ms: int = 0
    sealed_hashes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PhotographSpace:
    """How much room photographs take, and how much is left.

    Attributes:
        count: Pictures kept.
        used: Their bytes.
        left: Bytes that further photographs may take, without what is kept for answers;
            None where nobody knows.
    """

    count: int
    used: int
    left: int | None


class Photographs:
    """The photographs of one open store."""

    def __init__(
        self, tables: SealedTables, files: PictureFiles, keys: Callable[[], FrameKeys]
    ) -> None:
        """Use the table of photographs and the place of the sealed pictures.

        Args:
            tables: The open tables.
            files: Where sealed pictures lie.
            keys: Gives the store's keys as they are now.
        """
        self._table = tables.open_table("photographs", body_fields=())
        self._files = files
        self._frame_keys = keys
        self._made: PictureKeys | None = None

    def add(self, exam_id: str, picture: bytes, device_id: str = "") -> PhotographRow:
        """Keep a prepared picture for an exam; the same one again is kept once.

        Args:
            exam_id: The exam that names it, or will; empty where none does yet.
            picture: As prepared; its bytes are what the record's hash is of.
            device_id: The device it came from; empty for one taken here.

        Raises:
            NotAPhotographError: It is no prepared picture; nothing was kept.
            NoRoomForPhotographError: It would take the room kept for answers.
            VaultError: The disk failed; nothing was kept.
        """
        pixels = check_picture(picture)
        key = sha256(picture).hex()
        # So that nobody takes the file for a stray before its row is there.
        with self._table.sealed.saving:
            known = self.row(key) or PhotographRow(key, device_id=device_id)
            if not self._is_whole(key):
                self._write(key, picture)
            row = replace(
                known,
                exam_ids=_with(known.exam_ids, exam_id),
                size=len(picture),
                width=pixels.width,
                height=pixels.height,
            )
            self._put(row)
        return row

    def get(self, sha256_hex: str) -> bytes:
        """Give a picture, opened and compared with its hash.

        Raises:
            PhotographMissingError: It is not here.
            PhotographDamagedError: Its file was damaged, or is another's.
            VaultUnreachableError: The disk refused to read it.
        """
        return self._keys().open(sha256_hex, self._read(sha256_hex))

    def has(self, sha256_hex: str) -> bool:
        """Whether a picture is here; it is not opened."""
        return self._files.holds(self._keys().name(sha256_hex))

    def here(self, rows: Iterable[PhotographRow]) -> list[PhotographRow]:
        """Give those of the rows whose pictures are here, by one look at the place."""
        keys = self._keys()
        with _reaching():
            names = self._files.names()
        return [row for row in rows if keys.name(row.sha256) in names]

    def missing(self, hashes: Iterable[str]) -> tuple[str, ...]:
        """Return those of the hashes whose pictures are not here, in their order."""
        return tuple(key for key in dict.fromkeys(hashes) if not self.has(key))

    def row(self, sha256_hex: str) -> PhotographRow | None:
        """Give what is known of one, or None."""
        kept = self._table.fetch(sha256_hex)
        return None if kept is None else _row(sha256_hex, kept)

    def rows(self) -> list[PhotographRow]:
        """Give what is known of each, in the order they came."""
        return [_row(key, stored) for key, stored in self._table.rows()]

    def expect(self, exam_id: str, hashes: Iterable[str], device_id: str) -> None:
        """Note that a record names photographs, here or not; part of the caller's save.

        Args:
            exam_id: The record's exam.
            hashes: As the record names them.
            device_id: The device whose record it is.
        """
        for key in dict.fromkeys(hashes):
            known = self.row(key)
            row = known or PhotographRow(key, device_id=device_id)
            named = replace(row, exam_ids=_with(row.exam_ids, exam_id))
            if named != known:
                self._put(named)

    def mark_received(self, hashes: Iterable[str], when_ms: int) -> None:
        """Note that the clinic holds own photographs; part of the caller's save.

        Args:
            hashes: Of any photographs; those that are not known here are passed over.
            when_ms: UTC milliseconds; 0 where the clinic holds them no more.
        """
        for key in hashes:
            known = self.row(key)
            if known is not None and bool(known.received_ms) is not bool(when_ms):
                self._put(replace(known, received_ms=when_ms))

    def mark_sealed(self, sha256_hex: str, sealed_hash: str) -> None:
        """Note the bytes that a photograph travelled in, from here or to here."""
        known = self.row(sha256_hex)
        if known is not None and sealed_hash not in known.sealed_hashes:
            hashes = (*known.sealed_hashes, sealed_hash)[-_MOST_SEALED:]
            self._put(replace(known, sealed_hashes=hashes))

    def came_in(self) -> frozenset[str]:
        """Give the hashes of the bytes in which the photographs here travelled."""
        rows = [row for row in self._kept() if row.sealed_hashes]
        return frozenset(one for row in self.here(rows) for one in row.sealed_hashes)

    def unnamed(self) -> list[PhotographRow]:
        """Give the pictures that came and that no record here names, oldest first."""
        return [row for row in self._kept() if row.device_id and not row.exam_ids]

    def unsent(self, exam_id: str = "") -> list[PhotographRow]:
        """Give the own pictures that the clinic has not said it holds, oldest first.

        Args:
            exam_id: Of this exam only; of all without one.
        """
        return [
            row
            for row in self._kept()
            if not (row.device_id or row.received_ms)
            and (not exam_id or exam_id in row.exam_ids)
        ]

    def space(self) -> PhotographSpace:
        """Say how much room photographs take and how much is left for more."""
        sizes = [row.size for row in self._kept()]
        left = self._files.left()
        room = None if left is None else max(0, left - ROOM_FOR_ANSWERS)
        return PhotographSpace(len(sizes), sum(sizes), room)

    def note_left(self, left: int | None) -> None:
        """Take what a place of its own answered of its room, in bytes."""
        if isinstance(self._files, PictureSlots):
            self._files.known_left = left

    def settle(
        self, exam_id: str, named: Collection[str], *, rows_only: bool = False
    ) -> None:
        """Let go of pictures that were brought for an exam and that it does not name.

        For an exam that was closed, or is gone: an open one may yet take a change back.
        A picture that another exam was brought is kept.

        Args:
            exam_id: The exam.
            named: Hashes that its records name.
            rows_only: Whether it is part of the caller's save, which may fail: the
                files are strays after it, for ``clear_strays``.
        """
        for row in self.rows():
            if exam_id in row.exam_ids and row.sha256 not in named:
                others = tuple(one for one in row.exam_ids if one != exam_id)
                if others:
                    self._put(replace(row, exam_ids=others))
                elif rows_only:
                    self._table.discard(row.sha256)
                else:
                    self.drop(row.sha256)

    def drop(self, sha256_hex: str) -> None:
        """Remove a picture and its row; first the row, so that no row lacks one."""
        self._table.discard(sha256_hex)
        with _reaching():
            self._files.remove(self._keys().name(sha256_hex))

    def sealed(self) -> Iterator[tuple[str, bytes]]:
        """Yield the name and sealed bytes of every picture that is whole."""
        keys = self._keys()
        for row in self._kept():
            try:
                sealed = self._read(row.sha256)
                keys.open(row.sha256, sealed)
            except (PhotographMissingError, VaultUnreachableError):
                continue
            yield keys.name(row.sha256), sealed

    def seal_also(self, data_key: bytes, progress: Progress = silent) -> None:
        """Seal every whole picture under another data key too, beside the first.

        Whichever of the two keys counts in the end, its pictures are there; what the
        other one named are strays.

        Raises:
            VaultFullError: Both do not fit; nothing was changed.
            VaultError: The disk failed; nothing was changed.
        """
        old, new = self._keys(), PictureKeys(data_key, self._frame_keys().vault_id)
        rows, made = self._kept(), list[str]()
        try:
            for done, row in enumerate(rows, 1):
                with suppress(PhotographMissingError):
                    self._write(row.sha256, self.get(row.sha256), new)
                    made.append(new.name(row.sha256))
                progress(done, len(rows))
        except VaultError as error:
            with _reaching():
                for name in {*made} - {old.name(row.sha256) for row in rows}:
                    self._files.remove(name)
            if isinstance(error, NoRoomForPhotographError):
                raise VaultFullError("no room for both seals") from error
            raise

    def bring(self, files: PictureFiles, keys: PictureKeys) -> int:
        """Bring the pictures of the rows here from another place; give how many lack.

        Args:
            files: Where they lie, only read.
            keys: What they are sealed with there.
        """
        lacking = 0
        for row in self._kept():
            try:
                sealed = files.read(keys.name(row.sha256)) or b""
                self._write(row.sha256, keys.open(row.sha256, sealed))
            except (VaultError, OSError):
                lacking += 1
        return lacking

    def damaged(self) -> tuple[str, ...]:
        """Read every picture that was kept; return the hashes of those not whole."""
        kept = (row.sha256 for row in self._kept())
        return tuple(key for key in kept if not self._is_whole(key))

    def _kept(self) -> list[PhotographRow]:
        return [row for row in self.rows() if row.size]

    def clear_strays(self) -> int:
        """Remove files that no row is of, left by what was cut off; give how many."""
        keys = self._keys()
        with self._table.sealed.saving, _reaching():
            strays = self._files.names() - {keys.name(r.sha256) for r in self.rows()}
            for name in strays:
                self._files.remove(name)
        return len(strays)

    def _keys(self) -> PictureKeys:
        keys = self._frame_keys()
        if self._made is None or self._made.data_key != keys.data_key:
            self._made = PictureKeys(keys.data_key, keys.vault_id)
        return self._made

    def _read(self, sha256_hex: str) -> bytes:
        try:
            sealed = self._files.read(self._keys().name(sha256_hex))
        except OSError as error:
            raise VaultUnreachableError("the disk did not read a picture") from error
        if sealed is None:
            raise PhotographMissingError(sha256_hex[:12])
        return sealed

    def _is_whole(self, sha256_hex: str) -> bool:
        try:
            self.get(sha256_hex)
        except (PhotographMissingError, VaultUnreachableError):
            return False
        return True

    def _write(
        self, sha256_hex: str, picture: bytes, keys: PictureKeys | None = None
    ) -> None:
        keys, left = keys or self._keys(), self._files.left()
        if left is not None and left - len(picture) < ROOM_FOR_ANSWERS:
            raise NoRoomForPhotographError("the rest is kept for answers")
        try:
            name = keys.name(sha256_hex)
            self._files.write(name, keys.seal(sha256_hex, picture))
            written = self._files.read(name) or b""
        except OSError as error:
            if isinstance(save_refusal(error), VaultFullError):
                raise NoRoomForPhotographError("the disk is full") from error
            raise VaultUnreachableError("a picture was not written") from error
        try:
            keys.open(sha256_hex, written)
        except PhotographDamagedError as error:
            raise VaultUnreachableError("a picture does not read back") from error

    def _put(self, row: PhotographRow) -> None:
        stored = {k: v for k, v in stored_row(row).items() if v and k != "sha256"}
        self._table.put(row.sha256, stored)


@contextmanager
def _reaching() -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise VaultUnreachableError("the place of the pictures refused") from error


def _with(exam_ids: tuple[str, ...], exam_id: str) -> tuple[str, ...]:
    is_new = bool(exam_id) and exam_id not in exam_ids
    return (*exam_ids, exam_id) if is_new else exam_ids


def _row(sha256_hex: str, stored: Document) -> PhotographRow:
    return read_row(PhotographRow, stored, sha256=sha256_hex)
