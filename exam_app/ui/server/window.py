"""Show the page: in a window of its own or in the usual browser.

The one-time link is never an argument of another program, since everybody on a
computer may read what its programs were started with. What a browser is given is the
address of a file that this user alone can read, and that sends the browser on.
"""

import asyncio
import contextlib
import os
import shutil
import tempfile
import webbrowser
from collections.abc import Iterator
from pathlib import Path
from typing import ClassVar

from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import chosen, tr

BROWSER_NAMES = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "msedge",
)
_SENT_ON = (
    "<!doctype html><html lang={language}><meta charset=utf-8>"
    "<meta name=referrer content=no-referrer>"
    '<meta http-equiv=refresh content="0;url={address}">'
    "<title>{title}</title><p>{words}"
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


@contextlib.contextmanager
def redirecting_file(address: str) -> Iterator[str]:
    """Keep a file that sends a browser on to a one-time link.

    Args:
        address: The link.

    Yields:
        The file's own address, which tells nothing. File and folder are readable by
        this user alone, and gone afterwards.
    """
    with tempfile.TemporaryDirectory(
        prefix="exam-link-", ignore_cleanup_errors=True
    ) as folder:
        place = Path(folder) / "open.html"
        opened = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(opened, "w", encoding="utf-8") as file:
            words = {"title": tr("Exam"), "words": tr("Opening…")}
            file.write(_SENT_ON.format(language=chosen(), address=address, **words))
        yield place.as_uri()


async def show_in_browser(address: str, seconds: float) -> bool:
    """Open the page in the usual browser, and wait as long as its link is good.

    Args:
        address: The one-time link.
        seconds: How long that is.

    Returns:
        False, and at once, where no browser was found.
    """
    with redirecting_file(address) as link:
        if not await asyncio.to_thread(webbrowser.open, link):
            return False
        await asyncio.sleep(seconds)
    return True


def find_browser() -> Path:
    """Find an installed Chromium, Chrome or Edge on the search path.

    Raises:
        NoWindowError: There is none.
    """
    found = next(filter(None, map(shutil.which, BROWSER_NAMES)), None)
    if found is None:
        raise NoWindowError("no Chromium on the search path")
    return Path(found)


async def show_window(browser: Path, address: str) -> None:
    """Show the page in a window without tabs, and return when it is closed.

    The window has a profile of its own that is removed afterwards.

    Args:
        browser: As from ``find_browser``.
        address: The one-time link.

    Raises:
        NoWindowError: The browser ended at once with an error.
    """
    with (
        redirecting_file(address) as link,
        tempfile.TemporaryDirectory(
            prefix="exam-window-", ignore_cleanup_errors=True
        ) as profile,
    ):
        window = await asyncio.create_subprocess_exec(
            str(browser),
            f"--app={link}",
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
