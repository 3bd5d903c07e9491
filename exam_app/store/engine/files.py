"""The file seam: a file that is read, written and flushed at offsets.

No rename and no lock call is needed on the file itself, so that a browser's private
files fit behind the same six methods. A file is opened before anything is built on
it; only opening is awaited. ``flush`` returns after the bytes are on the medium.
"""

import contextlib
import errno
import os
import sys
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import Protocol, runtime_checkable

from exam_app.store.errors import VaultInUseError

_BINARY: int = getattr(os, "O_BINARY", 0)


if sys.platform == "win32":
    import msvcrt
elif sys.platform != "emscripten":
    import fcntl


class SealedFile(Protocol):
    """One open file. Offsets and lengths are bytes; failures are ``OSError``."""

    def read_at(self, offset: int, length: int) -> bytes:
        """Read up to ``length`` bytes; fewer only at the end of the file."""
        ...

    def write_at(self, offset: int, content: bytes) -> None:
        """Write all of ``content`` at ``offset``, growing the file if needed."""
        ...

    def flush(self) -> None:
        """Return once everything written is on the medium."""
        ...

    def truncate(self, size: int) -> None:
        """Cut or extend the file to ``size`` bytes."""
        ...

    def size(self) -> int:
        """Give the size in bytes."""
        ...

    def close(self) -> None:
        """Release the file without flushing."""
        ...


Opener = Callable[[Path], Awaitable[SealedFile]]


@dataclass(frozen=True, slots=True)
class Room:
    """What a place of its own answers about how it keeps files; None is no answer.

    Attributes:
        is_lasting: Whether only a person clears it, never the place by itself.
        used: Bytes taken, by the files and by the app itself.
        most: Bytes that may be taken altogether; a rough figure.
    """

    is_lasting: bool | None = None
    used: int | None = None
    most: int | None = None


@runtime_checkable
class OwnPlace(Protocol):
    """An opener whose files do not lie in the system's folders."""

    def peek(self, path: Path, length: int) -> tuple[int, bytes]:
        """Give a file's size and its first bytes, 0 for one that is missing."""
        ...

    async def room(self) -> Room:
        """Ask the place how it keeps its files; it answers anew each time."""
        ...


def peek(opener: Opener, path: Path, length: int) -> tuple[int, bytes]:
    """Give the size and the first bytes of a file where an opener keeps its files."""
    own = opener.peek if isinstance(opener, OwnPlace) else peek_file
    return own(path, length)


def peek_file(path: Path, length: int) -> tuple[int, bytes]:
    """Give the size and the first bytes of a file, 0 for one that is missing.

    What is no file, as a pipe that nobody writes to, counts as missing.
    """
    if not path.is_file():
        return 0, b""
    with path.open("rb") as file:
        return path.stat().st_size, file.read(length)


@runtime_checkable
class HasHoles(Protocol):
    """A file that knows where it has never been written and reads as zeros."""

    def next_data(self, offset: int) -> int:
        """Give the first written place from ``offset`` on; the size without one."""
        ...


def next_data(descriptor: int, offset: int) -> int:
    """Answer ``HasHoles.next_data`` where the system can; else ``offset``."""
    try:
        return os.lseek(descriptor, offset, os.SEEK_DATA)
    except OSError as error:
        # Nothing written follows; any other error means that holes are not known.
        is_end = error.errno == errno.ENXIO
        return max(offset, os.fstat(descriptor).st_size) if is_end else offset
    except AttributeError:
        return offset


class LocalFile:
    """A file of the operating system, unbuffered, readable by its owner only."""

    __slots__ = ("_raw", "_turn")

    def __init__(self, path: Path) -> None:
        """Open the file, creating it empty if it is missing."""
        # A reader may run beside the writer; both move the same position.
        self._turn = Lock()
        is_new = not path.exists()
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT | _BINARY, 0o600)
        self._raw = open(descriptor, "r+b", buffering=0)  # noqa: SIM115, PTH123
        if is_new:
            flush_folder(path.parent)

    def read_at(self, offset: int, length: int) -> bytes:
        """Read up to ``length`` bytes; fewer only at the end of the file."""
        parts = []
        with self._turn:
            self._raw.seek(offset)
            while length > 0:
                part = self._raw.read(length)
                if not part:
                    break
                parts.append(part)
                length -= len(part)
        return b"".join(parts)

    def write_at(self, offset: int, content: bytes) -> None:
        """Write all of ``content`` at ``offset``, however often the system stops."""
        rest = memoryview(content)
        with self._turn:
            self._raw.seek(offset)
            while rest:
                rest = rest[self._raw.write(rest) :]

    def next_data(self, offset: int) -> int:
        """Give the first written place from ``offset`` on; the size without one."""
        with self._turn:
            return next_data(self._raw.fileno(), offset)

    def flush(self) -> None:
        """Return once everything written is on the medium."""
        _flush_descriptor(self._raw.fileno())

    def truncate(self, size: int) -> None:
        """Cut or extend the file to ``size`` bytes."""
        self._raw.truncate(size)

    def size(self) -> int:
        """Give the size in bytes."""
        return os.fstat(self._raw.fileno()).st_size

    def close(self) -> None:
        """Release the file without flushing."""
        self._raw.close()


async def open_file(path: Path) -> SealedFile:
    """Open a file of this folder, creating it empty if it is missing.

    Raises:
        OSError: The system refused.
    """
    return LocalFile(path)


class FolderLock:
    """The single writer of a folder, held from construction to ``release``.

    A file of its own is locked, since a lock on a content file would be lost if
    that file were ever replaced. The system drops the lock when a process dies.
    """

    __slots__ = ("_descriptor",)

    def __init__(self, folder: Path, *, is_reader: bool = False) -> None:
        """Take the lock or refuse at once.

        Args:
            folder: That of the files.
            is_reader: Whether nothing will be written: then readers go together, and
                where no lock file can be opened there is no writer either.

        Raises:
            VaultInUseError: Another holder, in this process or another.
            OSError: The folder cannot be written.
        """
        path, flags = folder / "vault.lock", os.O_RDWR | os.O_CREAT | _BINARY
        try:
            flags = os.O_RDONLY | _BINARY if is_reader else flags
            self._descriptor = os.open(path, flags, 0o600)
        except OSError:
            if not is_reader:
                raise
            self._descriptor = -1
            return
        try:
            _lock_descriptor(self._descriptor, is_shared=is_reader)
        except OSError as error:
            self.release()
            raise VaultInUseError("the folder is locked by another holder") from error

    def release(self) -> None:
        """Give the lock up; calling again does nothing."""
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1


def flush_folder(folder: Path) -> None:
    """Put the folder's list of names on the medium, where the system can."""
    if sys.platform in ("win32", "emscripten"):
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):
            # Some file systems refuse this on a folder and need none.
            os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _flush_descriptor(descriptor: int) -> None:
    if sys.platform not in ("win32", "emscripten") and hasattr(fcntl, "F_FULLFSYNC"):
        # Apple's fsync, on phones too, leaves the bytes in the drive's own cache.
        with contextlib.suppress(OSError):
            fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
            return
    os.fsync(descriptor)


def _lock_descriptor(descriptor: int, *, is_shared: bool) -> None:
    if sys.platform == "win32":
        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
    elif sys.platform != "emscripten":
        # A browser's private file refuses a second opening by itself.
        way = fcntl.LOCK_SH if is_shared else fcntl.LOCK_EX
        fcntl.flock(descriptor, way | fcntl.LOCK_NB)
