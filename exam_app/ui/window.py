"""Show the page: in a window of its own, in the browser, or as a printed address."""

import asyncio
import shutil
import tempfile
from pathlib import Path
from typing import ClassVar

from exam_app.domain.errors import ExamError

BROWSER_NAMES = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "msedge",
)
# The browser's own errands would leave this computer; the page makes none.
_QUIET = (
    "--no-first-run",
    "--no-default-browser-check",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-domain-reliability",
)


class NoWindowError(ExamError):
    """No Chromium was found for a window of its own, or it did not start."""

    advice: ClassVar[str] = (
        "A window of its own needs Chromium, Chrome or Edge, and none was found or "
        "it did not start. Nothing was changed. Start the app without --window to "
        "use the usual browser."
    )


def find_browser() -> Path:
    """Find an installed Chromium, Chrome or Edge on the search path.

    Raises:
        NoWindowError: There is none.
    """
    for name in BROWSER_NAMES:
        found = shutil.which(name)
        if found:
            return Path(found)
    raise NoWindowError("no Chromium on the search path")


async def show_window(browser: Path, address: str) -> None:
    """Show the page in a window without tabs, and return when it is closed.

    The window has a profile of its own that is removed afterwards.

    Raises:
        NoWindowError: The browser ended at once with an error.
    """
    with tempfile.TemporaryDirectory(
        prefix="exam-window-", ignore_cleanup_errors=True
    ) as profile:
        window = await asyncio.create_subprocess_exec(
            str(browser),
            f"--app={address}",
            f"--user-data-dir={profile}",
            "--window-size=1100,900",
            *_QUIET,
            stdout=asyncio.subprocess.DEVNULL,
            stderr=asyncio.subprocess.DEVNULL,
        )
        try:
            code = await window.wait()
        finally:
            if window.returncode is None:
                window.terminate()
                await window.wait()
    if code != 0:
        raise NoWindowError(f"the browser ended with code {code}")
