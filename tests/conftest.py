"""Share a whole run out among the cores, its walks in a browser last.

What a test counted and what could not run stands in the last lines.
"""

import shutil
import sys
from pathlib import Path

import pytest
from hypothesis import settings

from tests import repeated_walks

# Times are measured in benchmarks and never fail a test on a busy machine; the
# examples are the same in every run, so that a failure can be seen again.
settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")
NO_CHROMIUM = "no Chromium on this machine"


def find_chromium() -> str | None:
    """Give the path of a Chromium on this machine, or None."""
    return next(filter(None, map(shutil.which, CHROMIUM_NAMES)), None)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if Path(item.path).parent.name == "browser" and not _is_in_process(item):
            item.add_marker(pytest.mark.browser)
            if not item.get_closest_marker("everyday_in_chromium"):
                item.add_marker(pytest.mark.exhaustive)
    # The browser's driver keeps an event loop in this thread, in which tests with
    # a loop of their own could not start any more.
    items.sort(key=lambda item: item.get_closest_marker("browser") is not None)


def _is_in_process(item: pytest.Item) -> bool:
    given = getattr(item, "callspec", None)
    return given is not None and given.params.get("walked_in") == "in_process"


def reason_for_chromium(item: pytest.Item) -> str:
    """Say why a walk cannot run in this process; empty where it can.

    Raises:
        UsageError: It is marked without a reason.
    """
    marked = item.get_closest_marker("chromium_only")
    if marked is None:
        return ""
    if len(marked.args) != 1 or not str(marked.args[0]).strip():
        raise pytest.UsageError(f"{item.nodeid} is chromium_only without a reason")
    return str(marked.args[0])


@pytest.hookimpl(tryfirst=True)
def pytest_runtestloop(session: pytest.Session) -> bool | None:
    reasons = {i.nodeid: reason_for_chromium(i) for i in session.items}
    if not session.config.getoption("--why-chromium"):
        return None
    for name, reason in reasons.items():
        if reason:
            sys.stdout.write(f"\n{name}: {reason}")
    return True


@pytest.hookimpl(tryfirst=True)
def pytest_cmdline_main(config: pytest.Config) -> None:
    option = config.option
    measures = "benchmark" in option.markexpr.replace("not benchmark", "")
    is_apart = measures or option.why_chromium or option.collectonly or option.usepdb
    is_whole = config.args_source is config.ArgsSource.TESTPATHS and not is_apart
    is_worker = hasattr(config, "workerinput")
    if is_whole and not is_worker and getattr(option, "numprocesses", 0) is None:
        option.numprocesses = "logical"


@pytest.hookimpl(trylast=True)
def pytest_collection_finish(session: pytest.Session) -> None:
    if find_chromium():
        return
    for item in session.items:
        if item.get_closest_marker("browser"):
            item.add_marker(pytest.mark.skip(reason=NO_CHROMIUM))


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--why-chromium",
        action="store_true",
        help="say of every walk that runs in Chromium only why, and run nothing",
    )


def pytest_configure(config: pytest.Config) -> None:
    config.pluginmanager.register(repeated_walks)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Show what the tests that passed have printed: their counts."""
    passed = terminalreporter.stats.get("passed", [])
    printed = [(r.nodeid, r.capstdout.strip("\n")) for r in passed if r.capstdout]
    if printed:
        terminalreporter.section("counts")
    for name, text in printed:
        terminalreporter.write_line(f"{name.rpartition('::')[2]}\n{text}")


def pytest_unconfigure(config: pytest.Config) -> None:
    reporter = config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter else []
    count = sum(NO_CHROMIUM in str(report.longrepr) for report in skipped)
    if count:
        sys.stdout.write(f"NOT RUN: {count} browser tests\n")
