"""A phone four times slower: what the browser can slow by itself, and what it cannot.

Chromium slows the page's own thread on request and refuses it for a worker, where
the app's Python runs. So the whole renderer is also stopped by the system for three
quarters of the time, in slices that are short beside what is measured.
"""

import contextlib
import json
import os
import signal
import statistics
import threading
import time
from collections.abc import Iterator
from pathlib import Path

from playwright.sync_api import CDPSession, Page

RATE = 4
_SLICE_SECONDS = 0.01
_LOOP = """() => {
  const begun = performance.now(); let sum = 0;
  for (let turn = 0; turn < 3e7; turn++) sum += turn % 7;
  return sum && performance.now() - begun;
}"""


def loop_times(page: Page) -> tuple[float, float]:
    """Give the milliseconds of one loop in the page and in the app's worker."""
    return (
        statistics.median(page.evaluate(_LOOP) for _ in range(5)),
        statistics.median(page.workers[0].evaluate(_LOOP) for _ in range(5)),
    )


def slow_page(session: CDPSession, rate: float) -> None:
    """Ask the browser to slow the page's own thread."""
    session.send("Emulation.setCPUThrottlingRate", {"rate": rate})


def slow_workers(session: CDPSession, page: Page, rate: float) -> list[str]:
    """Ask the same of the page's workers; give what each of them answered."""
    answers: list[str] = []

    def ask(event: dict) -> None:
        asked = {"id": 1, "method": "Emulation.setCPUThrottlingRate"}
        message = json.dumps({**asked, "params": {"rate": rate}})
        given = {"sessionId": event["sessionId"], "message": message}
        session.send("Target.sendMessageToTarget", given)

    def hear(event: dict) -> None:
        answer = json.loads(event["message"])
        if answer.get("id") == 1:
            answers.append(answer.get("error", {}).get("message", "done"))

    session.on("Target.attachedToTarget", ask)
    session.on("Target.receivedMessageFromTarget", hear)
    session.send(
        "Target.setAutoAttach",
        {"autoAttach": True, "waitForDebuggerOnStart": False, "flatten": False},
    )
    page.wait_for_timeout(1000)
    return answers


def renderers(group: int) -> list[int]:
    """Find the processes of one browser that draw pages, by their process group."""
    found = []
    for place in Path("/proc").iterdir():
        with contextlib.suppress(OSError, ValueError):
            is_ours = os.getpgid(int(place.name)) == group
            if is_ours and b"--type=renderer" in (place / "cmdline").read_bytes():
                found.append(int(place.name))
    return found


def memory_mb(process: int) -> dict[str, float]:
    """Read a process's resident and proportional memory, in millions of bytes."""
    lines = Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()
    sizes = {line.split()[0]: line.split()[1] for line in lines[1:]}
    return {name: int(sizes[f"{name}:"]) * 1024 / 1e6 for name in ("Rss", "Pss")}


@contextlib.contextmanager
def stopped_most_of_the_time(processes: list[int]) -> Iterator[None]:
    """Let these processes run for one part of ``RATE`` of the time."""
    ended = threading.Event()

    def alternate() -> None:
        while not ended.is_set():
            # A busy machine wakes this thread late: the rest follows what was run.
            begun = time.perf_counter()
            _signal(processes, signal.SIGCONT)
            time.sleep(_SLICE_SECONDS)
            _signal(processes, signal.SIGSTOP)
            time.sleep((time.perf_counter() - begun) * (RATE - 1))

    thread = threading.Thread(target=alternate, daemon=True)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join()
        _signal(processes, signal.SIGCONT)


def _signal(processes: list[int], number: int) -> None:
    for process in processes:
        with contextlib.suppress(ProcessLookupError):
            os.kill(process, number)
