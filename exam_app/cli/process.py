"""One run of the app as its system sees it: how it ends, how fast its log grows.

A terminal that is closed, or a computer that shuts down, would end the process on the
spot: the store is not closed and a demonstration's folder stays behind. And libraries
log a line, some a whole traceback, for things that others can cause as often as they
like: twenty records pass at once, then one a minute; the next that passes says how
many were left out.
"""

import contextlib
import logging
import signal
import threading
import time
from collections.abc import Callable, Iterator
from types import FrameType

_ASKED = ("SIGTERM", "SIGHUP")


@contextlib.contextmanager
def ended_by_signals() -> Iterator[None]:
    """Turn the system's requests to end into ``SystemExit`` while inside.

    The exit code is 128 and the number of the signal, as shells know it. What is
    ignored, as under ``nohup``, stays ignored.
    """
    names = [name for name in _ASKED if hasattr(signal, name)]
    numbers = [signal.Signals[name] for name in names]
    heard = [one for one in numbers if signal.getsignal(one) is not signal.SIG_IGN]
    if threading.current_thread() is not threading.main_thread():
        heard = []
    before = [(number, signal.signal(number, _end)) for number in heard]
    try:
        yield
    finally:
        for number, handler in before:
            signal.signal(number, handler)


def _end(number: int, _frame: FrameType | None) -> None:
    if number != signal.SIGTERM:
        # The server that runs inside listens to this one and ends its pages first.
        signal.raise_signal(signal.SIGTERM)
        return
    # Nothing interrupts the tidying up that follows.
    signal.signal(number, signal.SIG_IGN)
    raise SystemExit(128 + number)


AT_ONCE = 20
SECONDS_EACH = 60.0


class FewLines(logging.Filter):
    """Lets few records pass a handler."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        """Start with all places free.

        Args:
            clock: Seconds, never going back.
        """
        super().__init__()
        self._clock = clock
        self._free = float(AT_ONCE)
        self._since = clock()
        self._left_out = 0

    def filter(self, record: logging.LogRecord) -> bool:
        """Say whether a record is written."""
        now = self._clock()
        self._free = min(AT_ONCE, self._free + (now - self._since) / SECONDS_EACH)
        self._since = now
        if self._free < 1:
            self._left_out += 1
            return False
        self._free -= 1
        if self._left_out:
            record.msg = f"{record.getMessage()} ({self._left_out} lines left out)"
            record.args = None
            self._left_out = 0
        return True
