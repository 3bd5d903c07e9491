"""Share a whole run out among the cores, its walks in a browser last.

What a test counted and what could not run stands in the last lines.
"""

import gc
import os
import shutil
import signal
import sys
from pathlib import Path
from typing import Any

import pytest

from tests import register_server, repeated_walks, samples, turns

if sys.dont_write_bytecode:
    # Tests start dozens of programs, and each would compile all that it imports.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sys.dont_write_bytecode = False

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    # A shell has its background commands ignore it, and so would every program that a
    # test starts to interrupt.
    signal.signal(signal.SIGINT, signal.default_int_handler)

# Wherever tests run, the app's first screens speak English.
os.environ["LC_ALL"] = "C.UTF-8"

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")
NO_CHROMIUM = "no Chromium on this machine"
# Which share of what takes turns this run takes, what does, and what is said of it.
TURN = pytest.StashKey[int | None]()
TAKE_TURNS = pytest.StashKey[set[pytest.Item]]()
TOLD = pytest.StashKey[str]()
# By the time they take; every other one is shorter.
LONG_WALKS = ("test_phone.py", "test_whole_exam.py", "test_clinic.py")


@pytest.fixture(scope="session")
def register():
    """A register in a server of its own; many tests have a clinic each in it."""
    register_server.require()
    from tests import register_places

    with register_server.shared() as server:
        yield register_places.make(server)


def _of_store(request):
    return None if request.param == "folder" else request.getfixturevalue("register")


@pytest.fixture(params=["folder", "register"])
def clinic_register(request):
    """None for a clinic's store in a folder, then a register for one."""
    return _of_store(request)


@pytest.fixture(
    params=["folder", pytest.param("register", marks=pytest.mark.exhaustive)]
)
def each_store(request):
    """As ``clinic_register``, where the register is asked for by name."""
    return _of_store(request)


def find_chromium() -> str | None:
    """Give the path of a Chromium on this machine, or None."""
    return next(filter(None, map(shutil.which, CHROMIUM_NAMES)), None)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(
    config: pytest.Config, items: list[pytest.Item]
) -> None:
    for item in items:
        if Path(item.path).parent.name == "browser" and not _is_in_process(item):
            item.add_marker(pytest.mark.browser)
            if not item.get_closest_marker("everyday_in_chromium"):
                item.add_marker(pytest.mark.exhaustive)
    config.stash[TAKE_TURNS] = turns.mark(
        items, config.stash[TURN], is_whole=samples.is_whole
    )
    for item in items:
        if samples.is_whole and getattr(item.obj, "is_hypothesis_test", False):
            item.add_marker(pytest.mark.exhaustive)
    # The browser's driver keeps an event loop in this thread, in which tests with
    # a loop of their own could not start any more.
    items.sort(key=_turn)


def _turn(item: pytest.Item) -> tuple[bool, int]:
    """Put walks in a browser last, the longest of them first.

    Otherwise one core ends with a long walk while the others have none.
    """
    if item.get_closest_marker("browser") is None:
        return False, 0
    name = item.path.name
    return True, LONG_WALKS.index(name) if name in LONG_WALKS else len(LONG_WALKS)


def _is_in_process(item: pytest.Function) -> bool:
    if not {"walked_in", "chromium"} & set(item.fixturenames):
        return True
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
        # One more than cores: a walk waits for its browser as long as it computes.
        option.numprocesses = (os.cpu_count() or 1) + 1


@pytest.hookimpl(trylast=True)
def pytest_collection_finish(session: pytest.Session) -> None:
    # What stands until the end is not looked through again and again; first what
    # Hypothesis keeps, which it would miss among what is no longer looked through.
    samples.first_example()
    gc.collect()
    gc.freeze()
    # A walk makes and drops thousands of controls, few of them in circles.
    gc.set_threshold(100_000, 20, 100)
    config = session.config
    take_turns = config.stash[TAKE_TURNS]
    taken = sum(item in take_turns for item in session.items)
    turn = config.stash[TURN]
    is_told = turn is not None or (samples.is_whole and taken)
    said = turns.told(taken, len(take_turns), turn) if is_told else ""
    if hasattr(config, "workeroutput"):
        config.workeroutput["told"] = said
    config.stash[TOLD] = said
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
    samples.begin(config.option.markexpr)
    is_all = config.args_source is config.ArgsSource.TESTPATHS
    own = turns.asked_turn() if is_all and not samples.is_whole else None
    config.stash[TURN] = getattr(config, "workerinput", {"turn": own})["turn"]
    if "not benchmark" in config.option.markexpr:
        # Only a power cut can show what it is for, and those are played in memory.
        os.fsync = lambda _: None


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: Any) -> None:
    """Let every process of a run take the same turn."""
    node.workerinput["turn"] = node.config.stash[TURN]


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:
    node.config.stash[TOLD] = getattr(node, "workeroutput", {}).get("told", "")


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Show what the tests that passed have printed: their counts."""
    passed = terminalreporter.stats.get("passed", [])
    printed = [(r.nodeid, r.capstdout.strip("\n")) for r in passed if r.capstdout]
    if printed:
        terminalreporter.section("counts")
    for name, text in printed:
        terminalreporter.write_line(f"{name.rpartition('::')[2]}\n{text}")
    if said := terminalreporter.config.stash.get(TOLD, ""):
        terminalreporter.section("turns")
        terminalreporter.write_line(said)


def pytest_unconfigure(config: pytest.Config) -> None:
    reporter = config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter else []
    count = sum(NO_CHROMIUM in str(report.longrepr) for report in skipped)
    if count:
        sys.stdout.write(f"NOT RUN: {count} browser tests\n")
