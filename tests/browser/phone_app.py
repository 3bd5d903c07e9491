"""The phone's app in a Chromium of its own: built, given out, killed, started again.

The browser is a process of ours, so that it can be killed like a phone that loses its
power, with everything it keeps in one folder.
"""

import contextlib
import os
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import BrowserType, Page

from exam_app.phone.building import START, Built, build_app
from exam_app.phone.errors import PartsNotFetchedError
from exam_app.phone.serving import Host, Sent, read_build
from tests.browser.driver import PHONE, Driver
from tests.conftest import find_chromium

# Python in the browser takes its time on two busy cores.
START_PATIENCE_MS = 180_000
FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    # Where kilograms are offered first; the browser's country decides.
    "--accept-lang=en-GB",
    "--lang=en-GB",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-domain-reliability",
    # No name is ever looked up: the phone has no signal.
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
    "--remote-debugging-port=0",
    f"--window-size={PHONE['width']},{PHONE['height']}",
)


# What the page says to Python goes to a worker, of which the driver hears nothing.
_HEAR_WHAT_IS_SENT = """
window.saidToPython = [];
const { postMessage } = Worker.prototype;
Worker.prototype.postMessage = function (message, ...rest) {
    if (message instanceof Uint8Array)
        window.saidToPython.push(new TextDecoder().decode(message));
    return postMessage.call(this, message, ...rest);
};
"""


class PhoneDriver(Driver):
    """Drives the app where its places stand behind the number sign.

    Its exam answers no tap within 350 ms of a part's coming up, and here that is not
    switched off: this hand looks at what has come up for as long, as a person does.
    """

    def __post_init__(self) -> None:
        """Hear also what the page says to Python."""
        super().__post_init__()
        self.page.add_init_script(_HEAR_WHAT_IS_SENT)

    def _has_sent(self, text: str) -> bool:
        asked = "text => window.saidToPython.some(one => one.includes(text))"
        return bool(self.page.evaluate(asked, text))

    def _forget_what_was_sent(self) -> None:
        self.page.evaluate("() => { window.saidToPython = []; }")

    def click(self, identifier: str) -> None:
        """Click as anywhere, and what answers a part once it can be meant for it.

        A part comes up when Python has answered the tap before, however long that took,
        so this hand looks from the moment on which it sees what it is about to tap.
        """
        if identifier.startswith(("region-", "vital-", "exam-undo", "exam-redo")):
            self.wait(identifier)
            seen = self.page.evaluate("() => performance.now()")
            self.page.wait_for_function(f"() => performance.now() > {seen + 400}")
        super().click(identifier)

    def go(self, path: str) -> None:
        """Go to a screen as the browser's own arrows do, without a reload."""
        super().go(f"/#{path}")

    def wake_semantics(self) -> None:
        """Wait for Python, then ask for the tree of labels."""
        self.page.wait_for_function(
            "() => !document.getElementById('loading')", timeout=START_PATIENCE_MS
        )
        super().wake_semantics()


@dataclass
class PhoneBrowser:
    """A Chromium whose folder outlives it.

    Attributes:
        asked: Every address a page asked for, refused by its policy or not.
        has_signal: Whether the browser has any network from its next start on.
        flags: More of its command line; a repeated one takes the place of ours.
        environment: What its process is told beside ours.
    """

    profile: Path
    browser_type: BrowserType
    shots: Path
    asked: list[str] = field(default_factory=list)
    has_signal: bool = True
    flags: tuple[str, ...] = ()
    environment: dict[str, str] = field(default_factory=dict)
    _process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start the browser and connect to it."""
        port_file = self.profile / "DevToolsActivePort"
        port_file.unlink(missing_ok=True)
        chromium = find_chromium()
        assert chromium is not None
        self._process = subprocess.Popen(
            [
                chromium,
                *FLAGS,
                *self.flags,
                f"--user-data-dir={self.profile}",
                "about:blank",
            ],
            env={**os.environ, **self.environment},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        until = time.monotonic() + 60
        while not (port_file.exists() and port_file.read_text().strip()):
            assert time.monotonic() < until, "Chromium did not start"
            time.sleep(0.1)
        port = port_file.read_text().split()[0]
        self._browser = self.browser_type.connect_over_cdp(f"http://127.0.0.1:{port}")
        self._browser.contexts[0].set_offline(not self.has_signal)
        self._browser.contexts[0].on("request", self._note)

    def page(self) -> PhoneDriver:
        """Open a page as large as a phone."""
        page: Page = self._browser.contexts[0].new_page()
        page.set_viewport_size(PHONE)
        return PhoneDriver(page, self.shots)

    def lose_signal(self) -> None:
        """Take the network away from every page, now and after each start."""
        self.has_signal = False
        self._browser.contexts[0].set_offline(True)

    def kill(self) -> None:
        """End every process of the browser at once, without a word."""
        if self._process is None:
            return
        os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait(timeout=20)
        self._process = None
        with contextlib.suppress(Exception):
            self._browser.close()

    def _note(self, request) -> None:
        self.asked.append(request.url)


class AskedFiles(dict[str, Sent]):
    """A build's files that note what is asked for, as the host itself does not.

    Attributes:
        asked: The paths, in order.
    """

    def __init__(self, files: Mapping[str, Sent]) -> None:
        super().__init__(files)
        self.asked: list[str] = []

    def get(self, path, default=None):
        """Note the path and give the file."""
        self.asked.append(path)
        return super().get(path, default)


def built_or_skipped(folder: Path, start: str = START) -> Built:
    """Build the app, or leave the test out where the index cannot be reached.

    Args:
        folder: Empty or missing.
        start: The text of the first module that the page runs.
    """
    try:
        return build_app(folder, lambda _: None, start)
    except PartsNotFetchedError as error:
        if os.environ.get("EXAM_INDEX_EXPECTED"):
            raise
        pytest.skip(f"the Python package index was not reached: {error}")


def give_out(folder: Path, port: int = 0) -> Host:
    """Give a build out on this machine until ``take_away``."""
    host = Host(AskedFiles(read_build(folder)), ("127.0.0.1", port))
    # Asked often whether it is to end: the half second of itself is waited out.
    threading.Thread(target=host.serve_forever, args=(0.02,), daemon=True).start()
    return host


def asked_of(host: Host) -> list[str]:
    """Give the paths that a host made by ``give_out`` was asked for."""
    assert isinstance(host.files, AskedFiles)
    return host.files.asked


def take_away(host: Host) -> None:
    """End the host: nothing answers any more, nor on a connection that is kept open.

    On such a one the browser looks for a newer keeper by itself, some time later.
    """
    host.shutdown()
    host.server_close()
    for connection in list(host._visits):
        with contextlib.suppress(OSError):
            connection.shutdown(socket.SHUT_RDWR)
