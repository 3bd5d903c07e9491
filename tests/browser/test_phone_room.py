"""A phone without room, and one that may keep nothing: told, and nothing is lost."""

import json

import pytest

from tests.browser.phone_steps import (
    begin_exam,
    rows_unanswered,
    set_up,
    unlock,
)

pytestmark = pytest.mark.chromium_only("the browser's own storage")

# Chromium's own preference for "block all cookies and site data".
SITE_DATA_BLOCKED = {"profile": {"default_content_setting_values": {"cookies": 2}}}


# The app itself; whether its files have room is told from outside. That a browser's
# own quota gives this error is shown with the store alone.
START = """
import errno
import js
from pyodide.ffi import create_proxy
from exam_app.store.engine.browser_files import BrowserFile
from exam_app.ui.server.phone_page import start

said = []
channel = js.BroadcastChannel.new("test-room")
channel.onmessage = create_proxy(lambda event: said.append(event.data))
write_at = BrowserFile.write_at


def write_if_room(file, offset, content):
    if said and said[-1] == "full":
        raise OSError(errno.ENOSPC, "the test's phone is full")
    write_at(file, offset, content)


BrowserFile.write_at = write_if_room
start()
"""
SAY = "said => new BroadcastChannel('test-room').postMessage(said)"


def test_a_full_phone_says_so_keeps_what_was_saved_and_saves_again_with_room(
    phone_browser, give_out_started
):
    driver = phone_browser.page()
    driver.open(give_out_started(START))
    set_up(driver)
    begin_exam(driver)
    first, second = rows_unanswered(driver)
    driver.click(first)
    driver.wait_text("saved", "Saved")
    driver.wait_text("exam-progress", "1 of ")
    driver.page.evaluate(SAY, "full")
    driver.click(second)
    driver.wait_text("told", "everything before it is")
    driver.wait_text("saved", "Not saved")
    driver.shot("phone-full")
    driver.page.evaluate(SAY, "room")
    driver.click("exam-undo")
    # The room that was kept for this was given up for the refused save.
    driver.wait_text("refusal", "small space kept for this")
    driver.shot("phone-room-again")
    driver.click("refusal-close")
    driver.wait_text("saved", "Saved")
    driver.wait_text("exam-progress", "1 of ")
    driver.page.reload()
    driver.wake_semantics()
    unlock(driver)
    driver.wait("exam-progress")
    driver.wait_text("exam-progress", "1 of ")


def test_a_browser_that_may_keep_nothing_is_told_so(phone_browser, host):
    phone_browser.kill()
    preferences = phone_browser.profile / "Default" / "Preferences"
    preferences.parent.mkdir(parents=True, exist_ok=True)
    kept = json.loads(preferences.read_text()) if preferences.exists() else {}
    for group, values in SITE_DATA_BLOCKED.items():
        kept.setdefault(group, {}).update(values)
    preferences.write_text(json.dumps(kept))
    phone_browser.start()
    page = phone_browser.page().page
    page.goto(f"http://127.0.0.1:{host.port}/")
    told = page.locator("#told")
    told.filter(has_text="may keep nothing").wait_for()
    page.screenshot(path=phone_browser.shots / "phone-keeps-nothing.png")
    assert page.locator("#again").is_visible()
