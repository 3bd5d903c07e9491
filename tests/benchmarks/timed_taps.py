"""Time taps inside the page: what passes until the screen has changed, part by part.

A tap counts from the finger's lifting, which is what the app answers to; the driver's
own way between down and up is left out. Each tap is followed by one on the least that
Flet can do, so that what else the machine does falls on both. Beside the time stands
what the processors worked for a tap, which another program's work changes less.
"""

import math
import os
import statistics
import time
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from exam_app.app.exam_view import GUARD_SECONDS
from tests.browser.driver import PHONE, Driver

HEAR = """
  const Plain = WebSocket;
  window.sent = window.got = null;
  window.WebSocket = class extends Plain {
    constructor(...given) {
      super(...given);
      this.addEventListener('message', () => { window.got ??= performance.now(); });
    }
    send(bytes) { window.sent ??= performance.now(); return super.send(bytes); }
  };
"""
# Given the names of what is looked at: a tap is answered once one of it has changed.
# Asked again it looks at others.
WATCH = """names => {
  const begun = Boolean(window.watched);
  window.watched = names;
  const seen = () => window.watched.map(name =>
    document.querySelector(`[flt-semantics-identifier="${name}"]`)?.outerHTML).join();
  window.lifted = window.answered = null;
  if (begun) return;
  addEventListener('pointerup', () => {
    window.lifted = performance.now(); window.answered = null; window.before = seen();
    window.sent = window.got = null;
  }, true);
  new MutationObserver(() => {
    if (window.lifted !== null && window.answered === null && seen() !== window.before)
      window.answered = performance.now();
  }).observe(document, {subtree: true, childList: true, attributes: true,
    characterData: true});
}"""
TIMES = "[sent - lifted, got - sent, answered - got, answered - lifted]"
PARTS = ("page, until it is sent", "app, until its answer", "page, drawn", "in all")
FLOOR, GOAL_MS = "the floor, a button and a text", 60


@dataclass
class TimedTaps:
    """Taps on one page, in turns with taps on the floor.

    Attributes:
        driver: Of the page.
        floor: Of the minimal app's page; its tap is ``floor``.
        taken: The times of each kind of tap, in milliseconds, in the order of PARTS.
        worked: What the browser's processes worked for each, in milliseconds.
        which: What was tapped, beside each time.
    """

    driver: Driver
    floor: Driver
    taken: dict[str, list[list[float]]] = field(
        default_factory=lambda: defaultdict(list)
    )
    worked: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    which: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))

    def tap(self, kind: str, identifier: str, *watched: str) -> None:
        """Tap, and keep what it took until one of what is watched had changed."""
        self._tap(kind, self.driver, identifier, watched)
        self._tap(FLOOR, self.floor, "floor", ("exam-progress",))

    def _tap(
        self, kind: str, driver: Driver, identifier: str, watched: tuple[str, ...]
    ) -> None:
        # A phone is touched; a mouse would first draw what it hovers over. No tap comes
        # earlier after the last one than the exam takes it for the part that has come.
        driver.wait(identifier)
        driver.page.evaluate(WATCH, list(watched))
        driver.page.wait_for_timeout(GUARD_SECONDS * 1000)
        before = _worked_ms()
        if driver.page.viewport_size == PHONE:
            driver.touch(identifier)
        else:
            driver.click(identifier)
        driver.page.wait_for_function("() => window.answered !== null", timeout=20_000)
        self.taken[kind].append(driver.page.evaluate(TIMES))
        driver.page.wait_for_timeout(GUARD_SECONDS * 1000)
        self.worked[kind].append(_worked_ms() - before)
        self.which[kind].append(identifier)

    def report(self) -> None:
        """Print every kind of tap, and how far above the floor it is."""
        width = self.driver.page.viewport_size["width"]
        print(f"\ntap to changed screen, {width} px wide, taps in turns, ", end="")
        print(f"load {os.getloadavg()[0]:.1f}:")
        floor = percentile_95(times[-1] for times in self.taken[FLOOR])
        for kind in sorted(self.taken, key=lambda kind: kind == FLOOR):
            times = self.taken[kind]
            print(f"  {kind} ({len(times)} taps)")
            for part, said in zip(PARTS, zip(*times, strict=True), strict=True):
                median, most = statistics.median(said), percentile_95(said)
                print(f"    {part}: median {median:.0f} ms, 95 % within {most:.0f} ms")
            worked = statistics.median(self.worked[kind])
            print(f"    all processes worked: median {worked:.0f} ms")
            if kind == FLOOR:
                continue
            both = zip((t[-1] for t in times), self.which[kind], strict=True)
            slowest = sorted(both, reverse=True)[:4]
            print("    slowest:", ", ".join(f"{name} {ms:.0f}" for ms, name in slowest))
            above = percentile_95(t[-1] for t in times) - floor
            print(f"    95th percentile above the floor's: {above:.0f} ms ", end="")
            print(f"(goal: <= {GOAL_MS} ms)")


def percentile_95(times) -> float:
    """Return the time within which 95 of 100 are."""
    times = sorted(times)
    return times[math.ceil(len(times) * 0.95) - 1]


def _worked_ms() -> float:
    """Tell what this process and all it has started have worked, in milliseconds."""
    return sum(map(_worked_by, _and_started(os.getpid()))) * 1000


def _worked_by(process: int) -> float:
    try:
        # The clock of another process's work, as the system numbers it.
        return time.clock_gettime((~process << 3) | 2)
    except OSError:
        return 0.0


def _and_started(process: int) -> Iterator[int]:
    yield process
    for task in Path(f"/proc/{process}/task").glob("*/children"):
        for child in task.read_text().split():
            yield from _and_started(int(child))
