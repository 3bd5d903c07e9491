"""The folder of a whole export: files written whole or not at all, and their sums.

A file stands under its name only once all of it was written, so that a run that was
ended at any point leaves whole files and at most one that ends in ``.part``. A record's
own folder is finished by its ``SHA256SUMS``, the last file written there.
"""

import contextlib
import errno
import hashlib
import os
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import ClassVar

from exam_app.domain.errors import ExamError

SUMS = "SHA256SUMS"
PART = ".part"
_CHUNK = 1 << 20
_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_LINE = re.compile(r"([0-9a-f]{64})  (.{1,4096})")
_LONGEST_LINE = 8_192
Write = Callable[[bytes], int]


class ExportDiskFullError(ExamError):
    """The disk of an export has no room left."""

    advice: ClassVar[str] = (
        "There is no room left where the export is written. Nothing of the exams was "
        "changed, and what is written already stays. Make room, then give the same "
        "command again: it goes on where it stopped."
    )


class ExportUnwritableError(ExamError):
    """The folder of an export cannot be made, read or written."""

    advice: ClassVar[str] = (
        "The folder of the export cannot be written or read. Nothing of the exams was "
        "changed, and what is written already stays. Name another folder, or allow "
        "yourself to write there, and give the command again."
    )


class NotAnExportError(ExamError):
    """A folder holds other things than an export."""

    advice: ClassVar[str] = (
        "This folder holds other files and no export. Nothing was written. Name an "
        "empty or new folder, or the one of an earlier export."
    )


@contextmanager
def reaching_export() -> Iterator[None]:
    """Turn what the system refuses inside into errors with advice.

    Raises:
        ExportDiskFullError: No room.
        ExportUnwritableError: Anything else.
    """
    try:
        yield
    except OSError as error:
        reason = error.strerror or "the system refused"
        if error.errno in _FULL:
            raise ExportDiskFullError(reason) from error
        raise ExportUnwritableError(reason) from error


def make_folder(path: Path) -> None:
    """Make a folder that only its owner may read, and those above it."""
    if not path.is_dir():
        make_folder(path.parent)
        path.mkdir(mode=0o700, exist_ok=True)


def write_whole(path: Path, content: bytes, *, is_flushed: bool = False) -> None:
    """Write a file whole or not at all; what stood there before stays until then.

    Args:
        is_flushed: Whether it has to be on the medium before this returns.
    """
    with writing_whole(path, is_flushed=is_flushed) as write:
        write(content)


@contextmanager
def writing_whole(path: Path, *, is_flushed: bool = False) -> Iterator[Write]:
    """Give what takes the parts of a file, which stands there once all are written."""
    part = path.with_name(path.name + PART)
    try:
        flags = os.O_WRONLY | os.O_CREAT | os.O_TRUNC | getattr(os, "O_BINARY", 0)
        with open(os.open(part, flags, 0o600), "wb") as file:  # noqa: PTH123
            yield file.write
            file.flush()
            if is_flushed:
                os.fsync(file.fileno())
        part.replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink()
        raise


def sum_of(path: Path) -> str:
    """Return the SHA-256 of a file in hexadecimal, read in parts."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while part := file.read(_CHUNK):
            digest.update(part)
    return digest.hexdigest()


def sums_content(sums: Mapping[str, str]) -> bytes:
    """Return the lines that ``sha256sum -c`` reads, by name of the file."""
    return "".join(sum_line(name, sums[name]) for name in sorted(sums)).encode()


def sum_line(name: str, digest: str) -> str:
    """Return one such line."""
    return f"{digest}  {name}\n"


def read_sums(path: Path) -> Iterator[tuple[str, str]]:
    """Yield name and hash of each line, one line in memory at a time.

    Raises:
        ValueError: A line is none.
    """
    with path.open("rb") as file:
        while line := file.readline(_LONGEST_LINE):
            found = _LINE.fullmatch(line.decode().removesuffix("\n"))
            if found is None:
                raise ValueError("no line of a list of sums")
            yield found[2], found[1]


def holds_sums(folder: Path) -> bool:
    """Whether a folder has its list of sums and every file of it as listed."""
    try:
        listed = list(read_sums(folder / SUMS))
        return bool(listed) and all(
            sum_of(folder / name) == digest for name, digest in listed
        )
    except (OSError, ValueError):
        return False
