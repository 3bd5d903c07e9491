"""Bound how fast the log grows, whatever makes it grow.

Libraries log a line, some a whole traceback, for things that others can cause as often
as they like. Twenty records pass at once, then one a minute; the next that passes says
how many were left out.
"""

import logging
import time
from collections.abc import Callable

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
