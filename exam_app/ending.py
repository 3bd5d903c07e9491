"""Leave by the usual way when the system asks the app to end.

Without this a terminal that is closed, or a computer that shuts down, ends the process
on the spot: the store is not closed and a demonstration's folder stays behind.
"""

import contextlib
import signal
import threading
from collections.abc import Iterator
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
