"""The app's own window is sent on from a private file, in a real Chromium."""

import os
import socket
import subprocess
import sys
import time
from urllib.error import URLError
from urllib.request import urlopen

import pytest

from tests.browser.driver import CHEAP_APP, ROOT, Driver
from tests.browser.prepared import prepare_folder
from tests.conftest import find_chromium

pytestmark = pytest.mark.chromium_only("a window of its own")


def test_own_window_opens_the_app_without_its_link_on_the_process_list(
    chromium, tmp_path, shots
):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    program = tmp_path / "bin" / "chromium"
    program.parent.mkdir()
    program.write_text(
        f"#!/bin/sh\nexec {find_chromium()} --headless=new --no-sandbox --disable-gpu "
        f'--remote-debugging-port={port} "$@"\n'
    )
    program.chmod(0o755)
    path = f"{program.parent}{os.pathsep}{os.environ['PATH']}"
    folder = prepare_folder(tmp_path / "exams")
    with subprocess.Popen(
        [sys.executable, str(CHEAP_APP), "--data", str(folder), "--window"],
        env={**os.environ, "PATH": path, "PYTHONPATH": str(ROOT)},
    ) as app:
        try:
            browser = connect(chromium, port)
            driver = Driver(browser.contexts[0].pages[0], shots)
            driver.wake_semantics()
            driver.wait("unlock-secret")
            assert driver.origin.startswith("http://127.0.0.1:")
            assert "?t=" not in process_list()
            browser.close()
        finally:
            app.terminate()
            app.wait(timeout=20)


def connect(chromium, port):
    until = time.monotonic() + 60
    while True:
        try:
            urlopen(f"http://127.0.0.1:{port}/json/version", timeout=5).close()
        except (URLError, ConnectionError):
            assert time.monotonic() < until, "the window did not start"
            time.sleep(0.1)
        else:
            return chromium.browser_type.connect_over_cdp(f"http://127.0.0.1:{port}")


def process_list():
    return subprocess.run(
        ["ps", "axww", "-o", "args"], capture_output=True, text=True, check=True
    ).stdout
