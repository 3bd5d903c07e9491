"""The app as it is, but with passphrases that cost almost nothing to derive.

Only tests start this; the app itself has no switch for it. The environment can
shorten the time until the lock, say how many bytes no photograph takes, and name a file
that says whether the disk is full: "once" until room was made, "always" whatever is
done.
"""

import contextlib
import errno
import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from unittest import mock

from exam_app.__main__ import Costs, main
from exam_app.app import exam_view, session
from exam_app.crypto.door import DerivationBounds, KeyDerivation
from exam_app.store.engine.files import LocalFile
from exam_app.store.repositories import photographs
from exam_app.ui.shell import routes
from tests.browser import failing_screens

CHEAP = KeyDerivation(memory_kib=64, passes=1, lanes=1)
CHEAP_COSTS = Costs(CHEAP, DerivationBounds(CHEAP, KeyDerivation()))


@contextlib.contextmanager
def as_environment_asks() -> Iterator[None]:
    """Let the app be as the environment asks for, and as it was afterwards."""
    with contextlib.ExitStack() as changed:

        def put(owner: object, name: str, value: object) -> None:
            changed.enter_context(mock.patch.object(owner, name, value))

        if "TEST_FULL_DISK" in os.environ:
            write_at, truncate = _on_disk_filled_by(Path(os.environ["TEST_FULL_DISK"]))
            put(LocalFile, "write_at", write_at)
            put(LocalFile, "truncate", truncate)
        # Walks tap faster than any hand; one of them asks for the guard as it is.
        put(exam_view, "GUARD_SECONDS", float(os.environ.get("TEST_GUARD", "0")))
        if "TEST_ROOM_FOR_ANSWERS" in os.environ:
            room = int(os.environ["TEST_ROOM_FOR_ANSWERS"])
            put(photographs, "ROOM_FOR_ANSWERS", room)
        if "TEST_LOCK_AFTER" in os.environ:
            put(session, "LOCK_AFTER_SECONDS", float(os.environ["TEST_LOCK_AFTER"]))
        put(routes, "ROUTES", (*routes.ROUTES, failing_screens.ROUTE))
        yield


def _on_disk_filled_by(
    switch: Path,
) -> tuple[Callable[..., None], Callable[..., None]]:
    """Make writes that fail as on a full disk while the file ``switch`` says so."""
    write_at, truncate = LocalFile.write_at, LocalFile.truncate

    def failing(file: LocalFile, offset: int, content: bytes) -> None:
        if switch.exists() and switch.read_text() in ("once", "always"):
            raise OSError(errno.ENOSPC, "the test's disk is full")
        write_at(file, offset, content)

    def giving_room(file: LocalFile, size: int) -> None:
        if size == 0 and switch.exists() and switch.read_text() == "once":
            switch.write_text("there is room again")
        truncate(file, size)

    return failing, giving_room


def run() -> int:
    """Run the command line as the environment asks for."""
    with as_environment_asks():
        return main(None, CHEAP_COSTS)


if __name__ == "__main__":
    sys.exit(run())
