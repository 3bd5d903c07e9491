"""Fetch the Python packages of the browser, by the very files that were tried."""

import subprocess
import sys
from pathlib import Path

from exam_app.phone.errors import PartsNotFetchedError

LIST = Path(__file__).with_name("wheels.txt")
# The platform tag of the Pyodide that lies in the web client's own package.
_OPTIONS = (
    "--quiet",
    "--disable-pip-version-check",
    "--no-deps",
    "--only-binary=:all:",
    "--require-hashes",
    "--python-version=3.14",
    "--implementation=cp",
    "--abi=cp314",
    "--abi=abi3",
    "--abi=none",
    "--platform=pyemscripten_2026_0_wasm32",
)


def fetch_wheels(folder: Path) -> list[Path]:
    """Fetch every wheel of the list with pip, checked by its SHA-256.

    Args:
        folder: Where they are put; must exist. What pip has kept is not fetched again.

    Returns:
        The wheels, in the order of their names.

    Raises:
        PartsNotFetchedError: No network, no pip, or another file than the one tried.
    """
    command = [sys.executable, "-m", "pip", "download", *_OPTIONS]
    command += ["--dest", str(folder), "--requirement", str(LIST)]
    done = subprocess.run(  # noqa: S603  our own list, no shell
        command, capture_output=True, text=True, check=False
    )
    wheels = sorted(folder.glob("*.whl"))
    wanted = [line for line in LIST.read_text("utf-8").splitlines() if "==" in line]
    if done.returncode or len(wheels) != len(wanted):
        lines = done.stderr.strip().splitlines() or ["no answer"]
        raise PartsNotFetchedError(lines[-1])
    return wheels
