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
    """
    begun = multiprocessing.get_context("spawn")

    def begin() -> BaseProcess:
        given = {"is_once": is_once}
        one = begun.Process(target=_child, args=(url, private), kwargs=given)
        one.start()
        return one

    workers = [begin() for _ in range(count)]
    try:
        while workers and not is_over():
            for place, one in enumerate(workers):
                one.join(WAIT_SECONDS / count)
                if one.exitcode not in (None, _ENDED):
                    workers[place] = begin()
            if is_once:
                workers = [one for one in workers if one.exitcode != _ENDED]
    finally:
        for one in workers:
            one.terminate()
        for one in workers:
            one.join()


def _child(url: str, private: bytes, *, is_once: bool) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    work_alone(url, private, is_once=is_once)
