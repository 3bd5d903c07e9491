"""A small file that is given up when the disk is full, so that saving goes on.

It holds random bytes, since zeros would take no room on some file systems. Where a
file system keeps its own counsel about room, it helps less; nothing relies on it.
"""

import contextlib
import errno

from exam_app.crypto.door import random_bytes
from exam_app.store.errors import FULL_ERRORS
from exam_app.store.files import SealedFile

RESERVE_LENGTH = 1 << 18
DISK_FULL = (
    "The device is full. Saving goes on in a small space kept for this. Free some "
    "space on it today, then close the app and open it again."
)
_UNREFUNDED = errno.EFBIG


class Reserve:
    """The reserve of one vault.

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
