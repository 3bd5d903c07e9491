"""Run the vectors of the door in Pyodide as a browser would; exchange files.

Run by ``pyodide_smoke.mjs`` with pytest among the wheels. The tests are those that
``pyodide_tests.py`` runs too; but here a key is derived with JavaScript's own loop
between the pieces, and what awaits it is awaited.
"""

import importlib
import sys
from pathlib import Path
from typing import Any

MODULES = ("tests/crypto/test_crypto_conformance.py",)
OPTIONS = (
    "-q",
    "-p",
    "no:cacheprovider",
    "-p",
    "no:asyncio",
    "--import-mode=importlib",
    "--noconftest",
    "-c",
    "/dev/null",
    "-W",
    "ignore::pytest.PytestUnknownMarkWarning",
)


class Awaited:
    """Keeps the tests that must be awaited out of pytest's own run."""

    def __init__(self) -> None:
        self.items: list[Any] = []
        self.passed = 0

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        inspect = importlib.import_module("inspect")
        self.items = [i for i in items if inspect.iscoroutinefunction(i.obj)]
        items[:] = [i for i in items if i not in self.items]

    def pytest_runtest_logreport(self, report: Any) -> None:  # noqa: ANN401
        self.passed += report.when == "call" and report.passed

    async def run(self) -> None:
        for item in self.items:
            callspec = getattr(item, "callspec", None)
            await item.obj(**(callspec.params if callspec else {}))
            self.passed += 1


async def run(repository: Path, exchange: Path) -> bool:
    """Say how many passed; True when none failed."""
    pytest = importlib.import_module("pytest")
    awaited = Awaited()
    paths = [str(repository / module) for module in MODULES]
    rootdir = f"--rootdir={repository}"
    code = pytest.main([*OPTIONS, rootdir, *paths], plugins=[awaited])
    await awaited.run()
    between = importlib.import_module("between_halves")
    read = await between.read(exchange / "native")
    await between.write(exchange / "browser")
    sys.stdout.write(
        f"In Pyodide {awaited.passed} vectors and rules hold; {read} things written "
        "natively were opened\n"
    )
    return int(code) == 0 and awaited.passed > 0
