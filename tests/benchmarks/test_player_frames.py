"""How many codes a second the player really paints, and what a camera could read.

Chromium's own screencast is the camera: every painted frame is decoded by zxing-cpp.
Nothing is asserted about time; that no painted frame was blank or unreadable, and
that pictures rebuild the bundle, is.
"""

import base64
import time

import pytest
from playwright.sync_api import sync_playwright

from sync.collector import Collector
from tests.browser.codes import code_in
from tests.browser.conftest import HEADLESS_FLAGS
from tests.browser.driver import LAPTOP, PHONE, Driver, start_app
from tests.browser.handed import fill_closed, in_store, pair_with_invented_clinic
from tests.browser.prepared import prepare_folder, unlock
from tests.conftest import find_chromium

pytestmark = [pytest.mark.benchmark, pytest.mark.browser]

WATCHED_SECONDS = 8


def five_exams(vault):
    fill_closed(vault, 5)
    pair_with_invented_clinic(vault)


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_frames_painted_by_the_player(tmp_path, size):
    folder = prepare_folder(tmp_path / "exams")
    in_store(folder, five_exams)
    app = start_app(folder=folder)
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=find_chromium(), args=list(HEADLESS_FLAGS)
            )
            driver = Driver(browser.new_page(viewport=size), tmp_path)
            unlock(driver, app)
            driver.go("/hand-over")
            driver.click("hand-codes")
            driver.wait("player-code")
            driver.wait_text("player-said", "were shown once")
            painted = watch(driver)
            browser.close()
    finally:
        app.stop()
    report(size, painted)


def watch(driver):
    """Give time and picture of every frame painted while the player runs."""
    painted = []
    session = driver.page.context.new_cdp_session(driver.page)

    def keep(event):
        painted.append((event["metadata"]["timestamp"], event["data"]))
        session.send("Page.screencastFrameAck", {"sessionId": event["sessionId"]})

    session.on("Page.screencastFrame", keep)
    session.send("Page.startScreencast", {"format": "png", "everyNthFrame": 1})
    until = time.monotonic() + WATCHED_SECONDS
    while time.monotonic() < until:
        driver.page.wait_for_timeout(100)
    session.send("Page.stopScreencast")
    return painted


def report(size, painted):
    collector, codes, unreadable = Collector(), [], 0
    for at, picture in painted:
        code = code_in(base64.b64decode(picture))
        unreadable += not code
        if code and (not codes or codes[-1][1] != code):
            codes.append((at, code))
            collector.add(code)
    seconds = codes[-1][0] - codes[0][0]
    print(
        f"\n{size['width']}x{size['height']}: {len(painted)} frames painted, "
        f"{len(codes)} codes, {(len(codes) - 1) / seconds:.2f} a second, "
        f"{unreadable} unreadable"
    )
    assert unreadable == 0
    assert len(collector.finished()) == 1
