"""Name the walks that were repeated, and fail when too many were.

A repetition is allowed in ``.ci/run`` alone: on two busy cores a frame that never came
is told from a fault only by looking again. More than a few of them are a fault: more
than two of a hundred walks, and more than three in one run, since each part of
``.ci/run`` is too small for a share alone.
"""

import pytest

MOST_REPEATED_PERCENT = 2
MOST_REPEATED = 3


def repeated_in(config: pytest.Config) -> list[str]:
    """Give the names of the tests that were run again, each once."""
    reporter = config.pluginmanager.get_plugin("terminalreporter")
    again = reporter.stats.get("rerun", []) if reporter else []
    return list(dict.fromkeys(report.nodeid for report in again))


def are_too_many(repeated: int, walks: int) -> bool:
    """Whether more were repeated than may be, of so many walks."""
    return repeated > max(MOST_REPEATED, walks * MOST_REPEATED_PERCENT / 100)


@pytest.hookimpl(tryfirst=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    too_many = are_too_many(len(repeated_in(session.config)), session.testscollected)
    if too_many and session.exitstatus == pytest.ExitCode.OK:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


@pytest.hookimpl(trylast=True)
def pytest_unconfigure(config: pytest.Config) -> None:
    for name in repeated_in(config):
        print(f"REPEATED: {name}")  # noqa: T201
