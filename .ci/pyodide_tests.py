"""Run the flat tests on Python 3.14 in Pyodide, with the primitives of a browser.

Run by ``pyodide_smoke.mjs`` with the phone's own wheels and pytest's. Everything in
``tests/test_*.py`` runs as natively, warnings as errors, except what is named below
with its reason; what is named and not found, and what is left out without being
named, is a failure. Arguments for pytest after the folders run those tests alone.
"""

import importlib
import os
import sys
from collections import Counter
from pathlib import Path
from typing import Any

# Fewer than this, and something was not collected.
FLOOR = 0
# Drawn examples of a test that does not ask for a number itself; natively 100.
EXAMPLES = 20

LEFT_OUT: dict[str, tuple[str, ...]] = {}

OPTIONS = (
    "-q",
    "-p",
    "no:cacheprovider",
    "-p",
    "no:faulthandler",
    "--capture=sys",
    "--durations=15",
)


class Choice:
    """Leaves out what is named, and counts what happens to the rest."""

    def __init__(self) -> None:
        self.passed = 0
        self.left_out: Counter[str] = Counter()
        self.unforeseen: list[str] = []
        self.unused = {name for names in LEFT_OUT.values() for name in names}

    def pytest_configure(self) -> None:
        # After conftest.py, and not before pytest itself has met the library.
        hypothesis = importlib.import_module("hypothesis")
        hypothesis.settings.register_profile(
            "phone",
            deadline=None,
            derandomize=True,
            max_examples=EXAMPLES,
            suppress_health_check=[hypothesis.HealthCheck.too_slow],
        )
        hypothesis.settings.load_profile("phone")

    def reason_for(self, name: str) -> str:
        for reason, names in LEFT_OUT.items():
            for start in names:
                if name.startswith(start):
                    self.unused.discard(start)
                    return reason
        return ""

    def pytest_ignore_collect(self, collection_path: Path) -> bool | None:
        module = collection_path.name
        if collection_path.is_dir() or "::" in module:
            return None
        reason = self.reason_for(module)
        if reason:
            self.left_out[f"{reason}: the whole of {module}"] += 1
        return True if reason else None

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        kept = []
        for item in items:
            reason = self.reason_for(item.nodeid.removeprefix("tests/"))
            if reason:
                self.left_out[reason] += 1
            else:
                kept.append(item)
        items[:] = kept

    def pytest_runtest_logreport(self, report: Any) -> None:  # noqa: ANN401
        self.passed += report.when == "call" and report.passed
        if not report.skipped:
            return
        reason = str(report.longrepr[2]).removeprefix("Skipped: ")
        self.left_out[reason] += 1
        if not reason.startswith("needs "):
            self.unforeseen.append(f"{report.nodeid}: {reason}")

    def pytest_collectreport(self, report: Any) -> None:  # noqa: ANN401
        if report.skipped:
            self.unforeseen.append(f"{report.nodeid}: {report.longrepr[2]}")


def prepare() -> None:
    """Make loops, key derivation and absent libraries such that tests can run."""
    importlib.import_module("pyodide_absent").stand_in()
    importlib.import_module("pyodide_loop").derive_at_once()


async def run(repository: Path, _exchange: Path) -> bool:
    """Say how many passed and what was left out; True when all is as it should be."""
    prepare()
    pytest = importlib.import_module("pytest")
    asked = sys.argv[1:]
    os.chdir(repository)
    paths = sorted(str(path) for path in Path("tests").glob("test_*.py"))
    choice = Choice()
    with importlib.import_module("pyodide_loop").plain_loops():
        code = pytest.main([*OPTIONS, *(asked or paths)], plugins=[choice])
    for reason, count in sorted(choice.left_out.items()):
        sys.stdout.write(f"  left out {count:4}  {reason}\n")
    for line in choice.unforeseen:
        sys.stdout.write(f"  not foreseen: {line}\n")
    whole = not asked
    for name in sorted(choice.unused) if whole else ():
        sys.stdout.write(f"  named, but not there: {name}\n")
    sys.stdout.write(
        f"In Pyodide {choice.passed} tests pass, {sum(choice.left_out.values())} are "
        "left out\n"
    )
    good = int(code) == 0 and not choice.unforeseen
    return good and (not whole or (choice.passed >= FLOOR and not choice.unused))
