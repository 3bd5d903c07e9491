"""The app as it is, but with passphrases that cost almost nothing to derive.

Only tests start this; the app itself has no switch for it. The environment can
shorten the time until the lock, and name a file that says whether the disk is full:
"once" until room was made, "always" whatever is done.
"""

import errno
import os
import sys
from pathlib import Path

from exam_app.__main__ import Costs, main
from exam_app.app import session
from exam_app.crypto.door import DerivationBounds, KeyDerivation
from exam_app.store.engine.files import LocalFile
from tests.browser import failing_screens

CHEAP = KeyDerivation(memory_kib=64, passes=1, lanes=1)
CHEAP_COSTS = Costs(CHEAP, DerivationBounds(CHEAP, KeyDerivation()))


def fill_disk(switch: Path) -> None:
    """Let writes fail as on a full disk while the file ``switch`` says so."""
    write_at, truncate = LocalFile.write_at, LocalFile.truncate

    def failing(file: LocalFile, offset: int, content: bytes) -> None:
        if switch.exists() and switch.read_text() in ("once", "always"):
            raise OSError(errno.ENOSPC, "the test's disk is full")
        write_at(file, offset, content)

    def giving_room(file: LocalFile, size: int) -> None:
        if size == 0 and switch.exists() and switch.read_text() == "once":
            switch.write_text("there is room again")
        truncate(file, size)

    LocalFile.write_at = failing  # type: ignore[method-assign]
    LocalFile.truncate = giving_room  # type: ignore[method-assign]


def run() -> int:
    """Run the command line as the environment asks for."""
    if "TEST_FULL_DISK" in os.environ:
        fill_disk(Path(os.environ["TEST_FULL_DISK"]))
    failing_screens.add_routes()
    if "TEST_LOCK_AFTER" in os.environ:
        session.LOCK_AFTER_SECONDS = float(os.environ["TEST_LOCK_AFTER"])
    return main(None, CHEAP_COSTS)


if __name__ == "__main__":
    sys.exit(run())
