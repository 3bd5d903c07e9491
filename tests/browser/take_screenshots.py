"""Take the pictures of the README from the running demonstration.

Run as ``python -m tests.browser.take_screenshots``; it writes ``assets/screenshots``.
"""

import sys

from playwright.sync_api import sync_playwright

from tests.browser.conftest import launched
from tests.browser.driver import LAPTOP, PHONE, ROOT, Driver, start_app

FOLDER = ROOT / "assets" / "screenshots"
DEMO_PIN = "1234"
# A dog whose exam is half done, and one with a whole record.
DRAFT, RECORD = "Moss", "Ridge"
_FRAMES = 60


def main() -> int:
    """Write every picture; the names are those the README shows."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    app = start_app("--demo")
    try:
        with sync_playwright() as playwright:
            browser = launched(playwright.chromium)
            driver = Driver(browser.new_page(viewport=PHONE), FOLDER)
            _enter(driver, app.first_address())
            _shot(driver, "day-phone")
            _open_draft(driver)
            _shot(driver, "exam-phone")
            driver.page.close()
            driver = Driver(browser.new_page(viewport=LAPTOP), FOLDER)
            _enter(driver, app.new_address())
            record = driver.page.locator(
                '[flt-semantics-identifier^="day-closed-"]', has_text=RECORD
            ).first
            record.wait_for(state="attached")
            driver.click(record.get_attribute("flt-semantics-identifier") or "")
            driver.wait("record-signed")
            _shot(driver, "record-laptop")
            browser.close()
    finally:
        app.stop()
    return 0


def _shot(driver: Driver, name: str) -> None:
    # What is there is drawn some frames later.
    driver.frames(_FRAMES)
    driver.shot(name)


def _enter(driver: Driver, address: str) -> None:
    driver.open(address)
    entered = driver.find("examiner").or_(driver.find("lock-pin"))
    entered.first.wait_for(state="attached")
    if driver.find("lock-pin").count():
        driver.type("lock-pin", DEMO_PIN)
        driver.click("lock-open")
    driver.wait("day-new")


def _open_draft(driver: Driver) -> None:
    # The list is longer than a phone: what lies far below is not in the tree yet.
    driver.page.mouse.move(PHONE["width"] / 2, PHONE["height"] / 2)
    draft = driver.page.locator(
        '[flt-semantics-identifier^="day-draft-"]', has_text=DRAFT
    ).first
    for _ in range(20):
        if draft.count():
            break
        driver.page.mouse.wheel(0, 240)
        driver.frames(1)
    draft.wait_for(state="attached")
    driver.click(draft.get_attribute("flt-semantics-identifier") or "")
    driver.wait("exam-progress")


if __name__ == "__main__":
    sys.exit(main())
