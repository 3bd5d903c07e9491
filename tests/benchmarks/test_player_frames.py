"""How many codes a second the player really paints, and what a camera could read.

Chromium's own screencast is the camera: every painted frame is decoded by zxing-cpp.
Nothing is asserted about time; that no painted frame was blank or unreadable, and
that pictures rebuild the bundle, is.
"""

import pytest
from playwright.sync_api import sync_playwright

from sync.transport.collector import Collector
from tests.benchmarks.painted_codes import codes_of, watch
from tests.browser.conftest import launched
from tests.browser.driver import LAPTOP, PHONE, Driver, start_app
from tests.browser.handed import fill_closed, pair_with_invented_clinic
from tests.browser.prepared import in_store, prepare_folder, unlock

pytestmark = [pytest.mark.benchmark, pytest.mark.browser]


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
            browser = launched(playwright.chromium)
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


def report(size, painted):
    codes, unreadable = codes_of(painted)
    collector = Collector()
    for _, code in codes:
        collector.add(code)
    seconds = codes[-1][0] - codes[0][0]
    print(
        f"\n{size['width']}x{size['height']}: {len(painted)} frames painted, "
        f"{len(codes)} codes, {(len(codes) - 1) / seconds:.2f} a second, "
        f"{unreadable} unreadable"
    )
    assert unreadable == 0
    assert len(collector.finished()) == 1
