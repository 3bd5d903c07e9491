"""Several import workers, each a process of its own with a connection of its own."""

import multiprocessing
import os
import signal
import time
from collections.abc import Callable
from datetime import UTC, datetime
from multiprocessing.process import BaseProcess

from exam_app.domain.moments import Moment
from exam_app.register.errors import RegisterLostError
from exam_app.register.register_vault import open_register
from exam_app.register.worker import Worker

WAIT_SECONDS = 0.5
# More than any hand-over can end before it is set apart.
MOST_BAD_ENDS = 20
_ENDED = 0


def moment_now() -> Moment:
    """Give the present moment with this computer's offset."""
    local = datetime.now(UTC).astimezone()
    offset = local.utcoffset()
    minutes = int(offset.total_seconds() // 60) if offset else 0
    return Moment(int(local.timestamp() * 1000), minutes)


def work_alone(url: str, private: bytes, *, is_once: bool) -> int:
    """Be one worker.

    Args:
        url: Of the register, with the station's role.
        private: The station's private key.
        is_once: Whether to end once nothing waits.

    Returns:
        How many hand-overs were stored.
    """
    stored = 0

    def count(_: object) -> None:
        nonlocal stored
        stored += 1

    parent = os.getppid()
    while True:
        try:
            vault = open_register(url, private)
            break
        except RegisterLostError:
            if is_once or os.getppid() != parent:
                raise
            time.sleep(WAIT_SECONDS)
    try:
        worker = Worker(vault, moment_now, count)
        if is_once:
            worker.work_through()
        else:
            # Whoever started it may be killed and could not end it.
            worker.work_for_ever(lambda: os.getppid() != parent, WAIT_SECONDS)
    finally:
        vault.close()
    return stored


def work_together(
    url: str,
    private: bytes,
    count: int,
    *,
    is_once: bool,
    is_over: Callable[[], bool] = lambda: False,
) -> None:
    """Let so many workers import side by side; one that ends badly is begun anew.

    Returns once nothing waits, or ``is_over``.

    Raises:
        RegisterLostError: With ``is_once``, workers ended badly again and again.
    """
    begun = multiprocessing.get_context("spawn")

    def begin() -> BaseProcess:
        given = {"is_once": is_once}
        one = begun.Process(target=_child, args=(url, private), kwargs=given)
        one.start()
        return one

    workers, bad_ends = [begin() for _ in range(count)], 0
    try:
        while workers and not is_over():
            workers[0].join(WAIT_SECONDS)
            ended = [one for one in workers if one.exitcode not in (None, _ENDED)]
            bad_ends += len(ended)
            if is_once and bad_ends > MOST_BAD_ENDS:
                raise RegisterLostError("its workers end badly")
            workers = [begin() if one in ended else one for one in workers]
            workers = [one for one in workers if one.exitcode != _ENDED or not is_once]
    finally:
        _end(workers)


def _end(workers: list[BaseProcess]) -> None:
    for one in workers:
        one.terminate()
    for one in workers:
        one.join()


def _child(url: str, private: bytes, *, is_once: bool) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    work_alone(url, private, is_once=is_once)
