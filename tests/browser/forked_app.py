"""Start the app in a process forked from one that has imported everything already.

Importing takes seconds on a busy machine, and every browser test starts an app of its
own. A forked process has run nothing of the app yet: what a test does in it no other
test sees. Its end and its streams are those of ``subprocess.Popen``.
"""

import multiprocessing
import os
import subprocess
import sys
from collections.abc import Sequence
from typing import IO

# What a started app would import, and what each process made this way looks for.
_IMPORTED = [
    "pytest",
    "uvicorn",
    "flet_web.fastapi",
    "exam_app.ui.shell.app",
    "exam_app.ui.server.local_server",
    "tests.browser.cheap_app",
    "tests.browser.every_screen",
]
CAN_FORK = "forkserver" in multiprocessing.get_all_start_methods()


class ForkedApp:
    """One running app, with the part of ``subprocess.Popen`` that tests use.

    Attributes:
        stdin: What is typed to it.
        stdout: What it prints.
        stderr: Its errors, or None where they go to this process's own.
    """

    def __init__(self, arguments: Sequence[str], *, stderr: bool = False) -> None:
        context = multiprocessing.get_context("forkserver")
        context.set_forkserver_preload(_IMPORTED)
        theirs, self.stdin = _pipe_to()
        self.stdout, printed = _pipe_from()
        self.stderr, complained = _pipe_from() if stderr else (None, os.dup(2))
        ends = [_Descriptor(end) for end in (theirs, printed, complained)]
        self._process = context.Process(
            target=_run, args=(list(arguments), dict(os.environ), ends)
        )
        self._process.start()
        for end in (theirs, printed, complained):
            os.close(end)

    @property
    def pid(self) -> int:
        """Its number among the processes of this computer."""
        return self._process.pid or 0

    def terminate(self) -> None:
        """Ask it to end."""
        self._process.terminate()

    def kill(self) -> None:
        """End it at once."""
        self._process.kill()

    def poll(self) -> int | None:
        """Give its exit code, or None while it runs."""
        return self._process.exitcode

    def wait(self, timeout: float | None = None) -> int:
        """Wait for its end and give its exit code.

        Raises:
            subprocess.TimeoutExpired: It still runs after ``timeout`` seconds.
        """
        self._process.join(timeout)
        code = self._process.exitcode
        if code is None:
            raise subprocess.TimeoutExpired("the forked app", timeout or 0)
        return code


class _Descriptor:
    """An open file that reaches the forked process under a number of its own."""

    def __init__(self, number: int) -> None:
        self.number = number

    def __reduce__(self) -> tuple[object, ...]:
        return _detach, (multiprocessing.reduction.DupFd(self.number),)


def _detach(duplicate) -> int:
    return duplicate.detach()


def _pipe_to() -> tuple[int, IO[str]]:
    reading, writing = os.pipe()
    return reading, os.fdopen(writing, "w")


def _pipe_from() -> tuple[IO[str], int]:
    reading, writing = os.pipe()
    return os.fdopen(reading), writing


def _run(arguments: list[str], environment: dict[str, str], ends: list[int]) -> None:
    for number, end in enumerate(ends):
        os.dup2(end, number)
        os.close(end)
    sys.stdin = os.fdopen(0)
    sys.stdout = os.fdopen(1, "w", buffering=1)
    sys.stderr = os.fdopen(2, "w", buffering=1)
    os.environ.clear()
    os.environ.update(environment)
    sys.argv = ["exam-app", *arguments]
    # Only here: the process that starts the app has no need of it.
    from tests.browser.cheap_app import run

    sys.exit(run())
