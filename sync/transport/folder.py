"""Writing into a shared folder: a stick, a network folder, one that a tool syncs.

One writer to a sub-folder, nothing is ever changed after it was written, and a name
is the hash of its content. So whatever copies, delays or doubles files can be no
worse than slow: ``sync.transport.folder_reading`` reads by content alone.

    <root>/device-<device id>/                     what a device hands over
    <root>/clinic-<clinic id>/for-<device id>/     what the clinic sends back

The clinic reads ``FolderReader(root, skipped=clinic_folder(…).parent.name)``, a
device ``FolderReader(root, within="clinic-…/for-…")``.
"""

import contextlib
import errno
import os
import re
import tempfile
from enum import StrEnum
from hashlib import sha256
from pathlib import Path

from sync.errors import FolderError

_PART = ".part"
_CANNOT_FLUSH = {errno.EINVAL, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS}
_ID = re.compile(r"[0-9a-f][0-9a-f-]{0,63}")


class Ending(StrEnum):
    """The ending of a name: a hint for people; the content says what it is."""

    BUNDLE = ".exam-bundle"
    RECEIPT = ".exam-receipt"
    DAY_PACK = ".exam-day-pack"
    CARD = ".exam-card"
    PHOTOGRAPH = ".exam-photograph"
    PHOTOGRAPHS = ".exam-photographs"


def device_folder(root: Path, device_id: str) -> Path:
    """Give the sub-folder that this device alone writes.

    Raises:
        ValueError: The id has other characters than hexadecimal digits and hyphens.
    """
    return root / f"device-{_checked(device_id)}"


def clinic_folder(root: Path, clinic_id: str, device_id: str) -> Path:
    """Give the sub-folder in which this clinic alone writes, for this device.

    Raises:
        ValueError: An id has other characters than hexadecimal digits and hyphens.
    """
    return root / f"clinic-{_checked(clinic_id)}" / f"for-{_checked(device_id)}"


class FolderWriter:
    """The one writer of a sub-folder."""

    __slots__ = ("_path",)

    def __init__(self, path: Path) -> None:
        """Take the sub-folder; it is made when something is put there."""
        self._path = path

    def put(self, content: bytes, ending: str) -> str:
        """Write content under the name of its hash; again is no change.

        Returns:
            The name of the file.

        Raises:
            FolderError: The folder is full, gone, or may not be written. What was
                there before is unharmed.
        """
        name = sha256(content).hexdigest() + Ending(ending)
        target = self._path / name
        try:
            self._path.mkdir(parents=True, exist_ok=True)
            if not _holds(target, content):
                _write(target, content)
            _flush_folder(self._path)
        except OSError as error:
            raise FolderError(error.strerror or "the system refused") from error
        return name

    def try_out(self) -> None:
        """Find out whether something can be written, and leave nothing there.

        Raises:
            FolderError: The folder cannot be made or may not be written.
        """
        try:
            self._path.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=self._path) as file:
                file.write(b"exam")
                file.flush()
        except OSError as error:
            raise FolderError(error.strerror or "the system refused") from error


def _checked(identifier: str) -> str:
    if not _ID.fullmatch(identifier):
        msg = "an id has hexadecimal digits and hyphens only"
        raise ValueError(msg)
    return identifier


def _holds(target: Path, content: bytes) -> bool:
    """Whether the file is there whole, not cut off by an earlier fault."""
    try:
        return target.stat().st_size == len(content) and target.read_bytes() == content
    except FileNotFoundError:
        return False


def _write(target: Path, content: bytes) -> None:
    part = target.with_name(target.name + _PART)
    try:
        _write_flushed(part, content)
        try:
            part.replace(target)
        except OSError:
            # Some network folders and object stores rename badly or not at all. A
            # reader that meets the file half written waits for the rest.
            _write_at_once(target, content)
    finally:
        with contextlib.suppress(OSError):
            part.unlink()


def _write_at_once(target: Path, content: bytes) -> None:
    try:
        _write_flushed(target, content)
    except OSError:
        # Otherwise the next attempt would find it in memory and call it written.
        with contextlib.suppress(OSError):
            target.unlink()
        raise


def _write_flushed(path: Path, content: bytes) -> None:
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        _flush(file.fileno())


def _flush_folder(folder: Path) -> None:
    """Put the new name on the medium, where the system can."""
    try:
        descriptor = os.open(folder, os.O_RDONLY)
    except OSError:
        # Some systems open no folders.
        return
    try:
        _flush(descriptor)
    finally:
        os.close(descriptor)


def _flush(descriptor: int) -> None:
    """Put what was written on the medium, unless this folder knows no flushing.

    Raises:
        OSError: The medium failed: what was written may be lost.
    """
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in _CANNOT_FLUSH:
            raise
