"""The app over https as a phone gets it: from ``phone serve``, by its own authority.

Debian's certutil puts the authority where Chromium looks for those a person trusts; the
browser has a home of its own, so nothing is trusted on this computer.
"""

import os
import shutil
import signal
import socket
import subprocess
import sys

import pytest
from playwright.sync_api import Error

from exam_app.cli.phone import own_address
from tests.browser.driver import ROOT
from tests.browser.phone_app import PhoneBrowser
from tests.browser.phone_steps import begin_exam, open_draft, set_up, unlock

pytestmark = pytest.mark.chromium_only("a service worker over https")

# No loopback name: under this one only https is safe enough for a browser.
NAME = "exam-host.test"
# The computer does not know this name either: it stands for its address.
PLACE = own_address()
RULES = f"MAP {NAME} {PLACE}, MAP * ~NOTFOUND, EXCLUDE {PLACE}, EXCLUDE 127.0.0.1"


class Served:
    """The command ``phone serve`` over a build, in a process of its own."""

    def __init__(self, build, folder):
        self.port = two_free_ports()
        command = ["-m", "exam_app", "--data", folder, "phone", "serve", build]
        self.process = subprocess.Popen(
            [sys.executable, *command, "--name", NAME, "--port", str(self.port)],
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"},
        )
        self.printed = []
        for line in self.process.stdout:
            self.printed.append(line)
            if line.startswith("The app:"):
                break
        self.authority = folder / "phone-host" / NAME / "authority.crt"

    @property
    def address(self):
        return f"https://{NAME}:{self.port}/"

    def end(self):
        self.process.send_signal(signal.SIGINT)
        said, _ = self.process.communicate(timeout=30)
        return said


def two_free_ports():
    """Find a port whose next one is free too; certificates are given out there."""
    for _ in range(50):
        with socket.socket() as first, socket.socket() as second:
            first.bind(("", 0))
            port = first.getsockname()[1]
            try:
                second.bind(("", port + 1))
            except (OSError, OverflowError):
                continue
            return port
    raise AssertionError("no two free ports")


def trust(home, authority):
    """Trust an authority for web servers, as a person does in the settings."""
    store = home / ".pki" / "nssdb"
    store.mkdir(parents=True)
    place = ["-d", f"sql:{store}"]
    subprocess.run(["certutil", *place, "-N", "--empty-password"], check=True)
    entry = ["-A", "-n", "exam", "-t", "C,,", "-i", str(authority)]
    subprocess.run(["certutil", *place, *entry], check=True)


@pytest.fixture
def served(built, tmp_path):
    if shutil.which("certutil") is None:
        if os.environ.get("EXAM_INDEX_EXPECTED"):
            pytest.fail("certutil is missing: install libnss3-tools")
        pytest.skip("certutil is missing (Debian: libnss3-tools)")
    served = Served(built.folder, tmp_path / "clinic")
    yield served
    if served.process.poll() is None:
        served.end()


@pytest.fixture
def browser_at(chromium, tmp_path, shots, monkeypatch):
    """Give browsers with a home of their own, which know the host's name."""
    browsers = []

    def at(home):
        profile = tmp_path / f"profile {home.name}"
        profile.mkdir()
        browser = PhoneBrowser(profile, chromium.browser_type, shots)
        browser.environment = {"HOME": str(home)}
        browser.flags = (f"--host-resolver-rules={RULES}",)
        browser.start()
        browsers.append(browser)
        return browser

    yield at
    for browser in browsers:
        browser.kill()


def test_over_https_the_app_comes_to_those_who_trust_its_host_and_starts_without_it(
    served, browser_at, tmp_path
):
    stranger = browser_at(tmp_path / "stranger")
    with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        stranger.page().page.goto(served.address)
    stranger.kill()

    trust(tmp_path / "trusting", served.authority)
    phone = browser_at(tmp_path / "trusting")
    driver = phone.page()
    driver.open(served.address)
    assert driver.page.evaluate("isSecureContext")
    set_up(driver)
    begin_exam(driver)
    assert "go on without it" in served.end()
    with pytest.raises(OSError, match="refused"):
        socket.create_connection(("127.0.0.1", served.port), timeout=5)

    phone.kill()
    phone.has_signal = False
    phone.start()
    driver = phone.page()
    driver.open(served.address)
    unlock(driver)
    driver.shot("phone-https-offline")
    open_draft(driver)
    driver.wait_text("exam-progress", "0 of ")
    foreign = [a for a in phone.asked if not a.startswith(ours(served))]
    assert not foreign, f"the page asked for something outside: {foreign}"


def ours(served):
    return (served.address, f"blob:{served.address}", "data:", "about:blank")
