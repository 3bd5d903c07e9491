"""Files that are only read: opened without the right to write, a piece at a time.

Nothing here creates, changes or locks a file, so write-protected media serve. Only
ordinary files are read: a pipe would never end, and a device is no file of ours.
"""

import os
import stat
from pathlib import Path

from exam_app.store.engine.files import HasHoles, SealedFile, next_data
from exam_app.store.errors import (
    UnreadableFileError,
)

_SECTOR = 512
_OPENING: int = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


class _Unwritten:
    """The half of a file that is only read and that somebody else closes."""

    __slots__ = ()

    def write_at(self, offset: int, content: bytes) -> None:
        """Refuse; whoever opens a file to read writes nothing."""
        raise OSError(f"{len(content)} bytes at {offset} of a file that is only read")

    def truncate(self, size: int) -> None:
        """Refuse likewise."""
        raise OSError(f"cut to {size} of a file that is only read")

    def flush(self) -> None:
        """Do nothing."""

    def close(self) -> None:
        """Do nothing."""


class ReadFile(_Unwritten):
    """An ordinary file of the system, without the right to write it."""

    __slots__ = ("_descriptor",)

    def __init__(self, path: Path) -> None:
        """Open the file.

        Raises:
            UnreadableFileError: It is missing, or no ordinary file.
        """
        self._descriptor = -1
        try:
            # Looked at first: opening a device alone may do something.
            is_file = stat.S_ISREG(path.stat().st_mode)
            self._descriptor = os.open(path, _OPENING) if is_file else -1
        except (OSError, ValueError) as error:
            raise UnreadableFileError("the file cannot be opened") from error
        if not is_file or not stat.S_ISREG(os.fstat(self._descriptor).st_mode):
            self.close()
            raise UnreadableFileError("no ordinary file")

    def read_at(self, offset: int, length: int) -> bytes:
        """Read up to ``length`` bytes; fewer only at the end of the file."""
        os.lseek(self._descriptor, offset, os.SEEK_SET)
        parts = []
        # The buffer is as large as what is there, not as what is asked for.
        length = min(length, max(0, self.size() - offset))
        while length > 0 and (part := os.read(self._descriptor, length)):
            parts.append(part)
            length -= len(part)
        return parts[0] if len(parts) == 1 else b"".join(parts)

    def next_data(self, offset: int) -> int:
        """Give the first written place from ``offset`` on; the size without one."""
        return next_data(self._descriptor, offset)

    def size(self) -> int:
        """Give the size in bytes."""
        return os.fstat(self._descriptor).st_size

    def close(self) -> None:
        """Release the file; calling again does nothing."""
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1


class FilePart(_Unwritten):
    """A part of another file, as a file."""

    __slots__ = ("_file", "_length", "_start")

    def __init__(self, file: SealedFile, start: int, length: int) -> None:
        """Begin at ``start``; closing is left to whoever opened the file."""
        self._file, self._start, self._length = file, start, length

    def read_at(self, offset: int, length: int) -> bytes:
        """Read up to ``length`` bytes; fewer only at the end of the part."""
        length = min(length, self._length - offset)
        return self._file.read_at(self._start + offset, length) if length > 0 else b""

    def size(self) -> int:
        """Give the size in bytes."""
        return self._length


class ForgivingFile(_Unwritten):
    """Another file, with zeros where its medium cannot be read."""

    __slots__ = ("_file",)

    def __init__(self, file: SealedFile) -> None:
        """Read from an open file; closing is left to whoever opened it."""
        self._file = file

    def read_at(self, offset: int, length: int) -> bytes:
        """Read up to ``length`` bytes; fewer only at the end of the file."""
        try:
            return self._file.read_at(offset, length)
        except OSError:
            end = min(offset + length, self.size())
            cuts = [*range(offset, end, _SECTOR), max(offset, end)]
            return b"".join(map(self._piece, cuts, cuts[1:]))

    def next_data(self, offset: int) -> int:
        """Give the first written place from ``offset`` on; the size without one."""
        file = self._file
        return file.next_data(offset) if isinstance(file, HasHoles) else offset

    def size(self) -> int:
        """Give the size in bytes."""
        return self._file.size()

    def _piece(self, start: int, end: int) -> bytes:
        try:
            return self._file.read_at(start, end - start)
        except OSError:
            return bytes(end - start)


class GrownFile(_Unwritten):
    """A file that is only read, with what is written behind its end kept in memory."""

    __slots__ = ("_added", "_file", "_length")

    def __init__(self, file: SealedFile) -> None:
        """Grow from the end that an open file has now."""
        self._file, self._length = file, file.size()
        self._added = bytearray()

    def read_at(self, offset: int, length: int) -> bytes:
        """Read up to ``length`` bytes; fewer only at the end."""
        below = max(0, min(length, self._length - offset))
        found = self._file.read_at(offset, below) if below else b""
        start = max(0, offset - self._length)
        return found + bytes(self._added[start : start + length - below])

    def write_at(self, offset: int, content: bytes) -> None:
        """Keep ``content`` behind the end of the file; refuse to change the file."""
        start = offset - self._length
        if start < 0:
            super().write_at(offset, content)
        self._added[start : start + len(content)] = content

    def truncate(self, size: int) -> None:
        """Forget what was written behind ``size``; refuse to cut the file."""
        if size < self._length:
            super().truncate(size)
        del self._added[size - self._length :]

    def size(self) -> int:
        """Give the size in bytes."""
        return self._length + len(self._added)


class MemoryPart(GrownFile):
    """A file in memory; what is written to it lasts as long as it does."""

    __slots__ = ()

    def __init__(self, content: bytes = b"") -> None:
        """Start with some bytes."""
        self._length, self._added = 0, bytearray(content)
