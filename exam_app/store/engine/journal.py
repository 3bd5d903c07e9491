"""The journal as it is written: one frame, one write and one flush for each save."""

import contextlib
import errno
from collections.abc import Callable, Sequence
from typing import NamedTuple

from exam_app.crypto.door import random_bytes
from exam_app.language.catalogue import to_translate
from exam_app.store.engine.documents import WHERE
from exam_app.store.engine.files import SealedFile
from exam_app.store.engine.format import (
    TAG_LENGTH,
    FrameKeys,
    Line,
    Mark,
    encode_changes,
    frame_tag,
    placed,
    seal_frame,
)
from exam_app.store.engine.replay import Replayed
from exam_app.store.errors import (
    FULL_ERRORS,
    DocumentDamagedError,
    VaultStoppedError,
    save_refusal,
)

RESERVE_LENGTH = 1 << 18
DISK_FULL = to_translate(
    "The device is full. Saving goes on in a small space kept for this. Free some "
    "space on it today, then close the app and open it again."
)
_UNREFUNDED = errno.EFBIG
_FRAMES_UNTIL_REWRITE = 4000
_BYTES_UNTIL_REWRITE = 1 << 22


class Reserve:
    """A small file that is given up when the disk is full, so that saving goes on.

    It holds random bytes, since zeros would take no room on some file systems. Where a
    file system keeps its own counsel about room, it helps less; nothing relies on it.

    Attributes:
        report: What the person at the screen should know, or None.
    """

    __slots__ = ("_file", "report")

    def __init__(self, file: SealedFile) -> None:
        """Take an open file; nothing is written before ``fill``."""
        self._file = file
        self.report: str | None = None

    def fill(self) -> None:
        """Set the space aside; where it does not fit, say so in ``report``."""
        try:
            held = self._file.size()
            if held < RESERVE_LENGTH:
                self._file.write_at(held, random_bytes(RESERVE_LENGTH - held))
                self._file.flush()
        except OSError as error:
            if error.errno in FULL_ERRORS:
                self.report = DISK_FULL

    def gives_way(self, error: OSError) -> bool:
        """Give the space up after a write that found the disk full.

        Returns:
            Whether there was any, so that the write may be tried again.
        """
        if error.errno not in FULL_ERRORS or error.errno == _UNREFUNDED:
            return False
        self.report = DISK_FULL
        with contextlib.suppress(OSError):
            if self._file.size():
                self._file.truncate(0)
                self._file.flush()
                return True
        return False

    def close(self) -> None:
        """Release the file."""
        self._file.close()


class Change(NamedTuple):
    """One document as it is saved next.

    Attributes:
        verb: One of the verbs of ``Line``.
        table: Its table.
        document_id: Empty for a whole table.
        row: JSON of the fields kept in the head; may be empty.
        body: JSON of the other fields; may be empty.
    """

    verb: bytes
    table: str
    document_id: str = ""
    row: bytes = b""
    body: bytes = b""


class Journal:
    """One open journal at its end.

    Attributes:
        before_save: Called before each save until it takes itself away.
        is_stopped: Whether the disk failed: nothing is written till the next opening.
        index_tag: Of the index that its tables start from; empty without one.
    """

    def __init__(
        self, file: SealedFile, keys: FrameKeys, found: Replayed, reserve: Reserve
    ) -> None:
        """Go on where reading ended; nothing is written yet."""
        self.file = file
        self.keys = keys
        self.sequence = found.sequence
        self.tag = found.tag
        self.end = found.end
        self._base = found.base
        self._index_offset = found.index_offset
        self.index_tag = found.index_tag
        self._frames = found.frames
        self._dirty_tail = found.size > found.end
        self.is_stopped = False
        self._reserve = reserve
        self.before_save: Callable[[], None] | None = None

    def append(self, changes: Sequence[Change]) -> list[tuple[Line, int]]:
        """Write one save; return once it is on the medium.

        Returns:
            Each change as a line with the offset of its sealed body.

        Raises:
            VaultFullError: No room, not even in the reserve; may be tried again.
            VaultStoppedError: The disk failed now or earlier; never tried again.
        """
        if self.is_stopped:
            raise VaultStoppedError("an earlier save failed")
        if self.before_save is not None:
            self.before_save()
        lines, sealed = [], []
        for verb, table, document_id, row, plain in changes:
            body = self.keys.bodies.seal(table, document_id, plain) if plain else b""
            tag = body[-TAG_LENGTH:]
            lines.append(Line(verb, table, document_id, len(body), tag, row))
            sealed.append(body)
        bodies = b"".join(sealed)
        frame = seal_frame(
            self.keys, self.sequence + 1, self.tag, encode_changes(lines), bodies
        )
        self._write(frame)
        offset = self.end + len(frame) - len(bodies)
        self.tag = frame_tag(frame, len(bodies))
        self.sequence += 1
        self.end += len(frame)
        self._frames += 1
        return list(placed(lines, offset))

    def read_sealed(self, where: bytes) -> tuple[bytes, bytes]:
        """Give the sealed body that stands there, and its tag.

        Raises:
            DocumentDamagedError: The disk refused to read it.
        """
        offset, length, tag = WHERE.unpack(where)
        try:
            return self.file.read_at(offset, length), tag
        except OSError as error:
            raise DocumentDamagedError("the disk did not read a document") from error

    def mark(self) -> Mark:
        """Give what the head page should know."""
        return Mark(self._index_offset, self.sequence, self.tag)

    def is_due(self) -> bool:
        """Whether writing the journal anew would pay."""
        allowed = max(_BYTES_UNTIL_REWRITE, self._base)
        return self._frames > _FRAMES_UNTIL_REWRITE or self.end - self._base > allowed

    def _write(self, frame: bytes) -> None:
        try:
            try:
                self._place(frame)
            except OSError as error:
                if not self._reserve.gives_way(error):
                    raise
                self._place(frame)
        except OSError as error:
            refusal = save_refusal(error)
            self.is_stopped = isinstance(refusal, VaultStoppedError)
            self._cut_tail()
            raise refusal from error
        try:
            self.file.flush()
        except OSError as error:
            # What a failed flush left on the medium is unknown, and a second flush
            # would report success without writing.
            self.is_stopped = True
            raise save_refusal(error) from error
        self._dirty_tail = False

    def _place(self, frame: bytes) -> None:
        if self._dirty_tail:
            self.file.truncate(self.end)
        self._dirty_tail = True
        self.file.write_at(self.end, frame)

    def _cut_tail(self) -> None:
        # Tried again before the next write if it fails now.
        if not self.is_stopped:
            with contextlib.suppress(OSError):
                self.file.truncate(self.end)
                self._dirty_tail = False
