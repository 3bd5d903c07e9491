"""Order the browser's tests last, and say plainly when they could not run."""

import shutil
import sys
from pathlib import Path

import pytest
from hypothesis import settings

# Times are measured in benchmarks and never fail a test on a busy machine; the
# examples are the same in every run, so that a failure can be seen again.
settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")
_not_run = pytest.StashKey[int]()


def find_chromium() -> str | None:
    """Give the path of a Chromium on this machine, or None."""
    return next(filter(None, map(shutil.which, CHROMIUM_NAMES)), None)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if Path(item.path).parent.name == "browser":
            item.add_marker(pytest.mark.browser)
            # Two more tries, counted in the summary: on two busy cores a frame that
            # never came is told from a fault only by looking again.
            item.add_marker(pytest.mark.flaky(reruns=2))
    # The browser's driver keeps an event loop in this thread, in which tests with
    # a loop of their own could not start any more.
    items.sort(key=lambda item: item.get_closest_marker("browser") is not None)


@pytest.hookimpl(trylast=True)
def pytest_collection_finish(session: pytest.Session) -> None:
    if find_chromium():
        return
    waiting = [i for i in session.items if i.get_closest_marker("browser")]
    session.config.stash[_not_run] = len(waiting)
    for item in waiting:
        item.add_marker(pytest.mark.skip(reason="no Chromium on this machine"))


def pytest_unconfigure(config: pytest.Config) -> None:
    count = config.stash.get(_not_run, 0)
    if count:
        sys.stdout.write(f"NOT RUN: {count} browser tests\n")
