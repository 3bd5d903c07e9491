"""An event loop where Python has no thread, no socket and no second stack.

The loop of Pyodide gives every turn back to JavaScript, so a test that has to be over
when its function returns cannot wait in it. This one is Python's own base loop; what
it lacks beside the native one is all that needs a file descriptor.
"""

import asyncio
import importlib
import time
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any


class WaitsForJavaScriptError(Exception):
    """A test waits for something that only JavaScript's own loop could bring."""


class PlainLoop(asyncio.BaseEventLoop):
    """Runs tasks and timers; it is its own selector, with nothing to select from."""

    def __init__(self) -> None:
        super().__init__()
        self._selector = self

    def select(self, seconds: float | None) -> list[Any]:
        if seconds is None:
            raise WaitsForJavaScriptError("no timer and no task could end this wait")
        time.sleep(seconds)
        return []

    def run_in_executor(
        self, _executor: object, func: Callable[..., Any], *args: object
    ) -> asyncio.Future[Any]:
        """Run it at once and in this thread, as the loop of Pyodide does."""
        future = self.create_future()
        try:
            future.set_result(func(*args))
        except Exception as error:
            future.set_exception(error)
        return future

    def _process_events(self, event_list: list[Any]) -> None:
        """Do nothing: there are none."""

    def _write_to_self(self) -> None:
        """Do nothing: nobody else could wake the loop."""


@contextmanager
def plain_loops() -> Iterator[None]:
    """Let `asyncio` make plain loops, and put the one that runs this aside."""
    running = asyncio.get_running_loop()
    task = asyncio.current_task()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        before = asyncio.get_event_loop_policy()

        class Plain(asyncio.DefaultEventLoopPolicy):
            _loop_factory = PlainLoop

        asyncio.set_event_loop_policy(Plain())
    asyncio.tasks._leave_task(running, task)
    asyncio._set_running_loop(None)
    try:
        yield
    finally:
        asyncio._set_running_loop(running)
        asyncio.tasks._enter_task(running, task)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)
            asyncio.set_event_loop_policy(before)


def derive_at_once() -> None:
    """Let Argon2id be reckoned in a second thread of Node while this one waits.

    In a browser it is awaited in pieces; `pyodide_conformance.py` holds that to the
    vectors. It is the same function of the same file here.
    """
    browser = importlib.import_module("exam_app.crypto.browser")
    js, ffi = map(importlib.import_module, ("js", "pyodide.ffi"))

    async def derive_key(secret: bytes, salt: bytes, *costs: int) -> bytes:
        both = ffi.to_js(secret), ffi.to_js(salt)
        derived: bytes = js.deriveAtOnce(*both, *costs).to_bytes()
        return derived

    browser.derive_key = derive_key
