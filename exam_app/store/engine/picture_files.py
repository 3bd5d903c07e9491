"""Where sealed pictures lie: whole pieces of bytes by name, apart from the journal.

A save never touches them. A piece is there whole or not at all, whatever was cut off.
In a folder of the system each is a file of its own; ``picture_slots`` keeps them where
there are no such folders.
"""

import contextlib
import os
import re
import shutil
from pathlib import Path
from typing import Protocol

from exam_app.store.engine.files import LocalFile, flush_folder

LONGEST_PIECE = 1 << 21
NAME_LENGTH = 32
_NAME = re.compile(r"[0-9a-f]{32}")
_PART = ".part"


class PictureFiles(Protocol):
    """Sealed pieces by name, 32 hexadecimal digits; failures are ``OSError``."""

    def names(self) -> set[str]:
        """Give the name of every piece."""
        ...

    def holds(self, name: str) -> bool:
        """Whether there is a piece of this name."""
        ...

    def read(self, name: str) -> bytes | None:
        """Give a piece, at most ``LONGEST_PIECE`` bytes of it; None without one."""
        ...

    def write(self, name: str, content: bytes) -> None:
        """Keep a piece; return once it is on the medium. Its name may be taken."""
        ...

    def remove(self, name: str) -> None:
        """Remove a piece; without one nothing happens."""
        ...

    def left(self) -> int | None:
        """Give how many bytes may still be written; None where nobody knows."""
        ...

    def close(self) -> None:
        """Release what is held open."""
        ...


class PictureFolder:
    """Pieces as files of one folder, which is made with the first of them."""

    __slots__ = ("_path",)

    def __init__(self, path: Path) -> None:
        """Take the folder; it may be missing."""
        self._path = path

    def names(self) -> set[str]:
        """Give the name of every piece."""
        try:
            found = os.listdir(self._path)  # noqa: PTH208  a list, read at once
        except FileNotFoundError:
            return set()
        return {name for name in found if _NAME.fullmatch(name)}

    def holds(self, name: str) -> bool:
        """Whether there is a piece of this name."""
        return (self._path / name).is_file()

    def read(self, name: str) -> bytes | None:
        """Give a piece, at most ``LONGEST_PIECE`` bytes of it; None without one."""
        if not self.holds(name):
            return None
        with (self._path / name).open("rb") as file:
            return file.read(LONGEST_PIECE)

    def write(self, name: str, content: bytes) -> None:
        """Keep a piece: written beside, flushed, and only then given its name."""
        self._path.mkdir(mode=0o700, parents=True, exist_ok=True)
        part = self._path / (name + _PART)
        try:
            file = LocalFile(part)
            try:
                file.truncate(0)
                file.write_at(0, content)
                file.flush()
            finally:
                file.close()
            part.replace(self._path / name)
        except OSError:
            with contextlib.suppress(OSError):
                part.unlink()
            raise
        flush_folder(self._path)

    def remove(self, name: str) -> None:
        """Remove a piece, and what a cut-off write of it left."""
        for one in (name, name + _PART):
            (self._path / one).unlink(missing_ok=True)

    def left(self) -> int | None:
        """Give how many bytes are free where the folder lies."""
        place = self._path if self._path.exists() else self._path.parent
        try:
            return shutil.disk_usage(place).free
        except (OSError, AttributeError):
            # A browser's Python has no disk to ask.
            return None

    def close(self) -> None:
        """Do nothing: no file is held open."""


class NoPictures:
    """Holds none and takes none: for what is only read, and in memory."""

    __slots__ = ()

    def names(self) -> set[str]:
        """Give no name."""
        return set()

    def holds(self, _name: str) -> bool:
        """Say that there is no such piece."""
        return False

    def read(self, _name: str) -> bytes | None:
        """Give nothing."""
        return None

    def write(self, name: str, content: bytes) -> None:
        """Refuse.

        Raises:
            OSError: Always.
        """
        raise OSError(f"no place for {name[:4]} of {len(content)} bytes")

    def remove(self, _name: str) -> None:
        """Do nothing."""

    def left(self) -> int | None:
        """Say that there is no room."""
        return 0

    def close(self) -> None:
        """Do nothing."""
