"""How long the browser keeps the exams: the app repeats what the browser says."""

import pytest

from tests.browser.phone_app import take_away
from tests.browser.phone_steps import begin_exam, set_up, start_offline, unlock

pytestmark = pytest.mark.chromium_only("the browser's own storage")

ANSWER = "() => navigator.storage.persisted()"
PATIENCE_MS = 60_000
# The app itself, in a browser whose private storage is refused until it is allowed.
# The error is the one a browser gives; where site data is blocked the page itself
# stops before Python is asked.
REFUSED = """
import js
from pyodide.ffi import create_proxy
from exam_app.ui.server.phone_page import start


def refuse():
    return js.Promise.reject(js.DOMException.new("refused", "SecurityError"))


def allow(event):
    js.Reflect.deleteProperty(js.navigator.storage, "getDirectory")


js.navigator.storage.getDirectory = create_proxy(refuse)
channel = js.BroadcastChannel.new("test-storage")
channel.onmessage = create_proxy(allow)
start()
"""
ALLOW = "() => new BroadcastChannel('test-storage').postMessage('allowed')"


def allow_lasting_storage(driver, address):
    """Answer the page's request for lasting storage as a person would: yes."""
    session = driver.page.context.new_cdp_session(driver.page)
    given = {"origin": address.rstrip("/"), "permissions": ["durableStorage"]}
    session.send("Browser.grantPermissions", given)


def test_what_the_browser_says_of_lasting_storage_stands_on_the_screen(
    phone_browser, host
):
    address = f"http://127.0.0.1:{host.port}/"
    driver = phone_browser.page()
    driver.open(address)
    set_up(driver)
    assert driver.page.evaluate(ANSWER) is False
    driver.wait("day-new")
    # Nothing is kept only here yet, so nothing is warned of.
    assert not driver.has("day-room")
    begin_exam(driver)
    driver.go("/settings/upkeep")
    driver.wait_text("upkeep-facts", "Not for good")
    driver.wait_text("upkeep-facts", "taken by the exams and the app itself")
    driver.shot("phone-care-not-lasting")
    driver.go("/day")
    driver.wait_text("day-room", "may clear what is kept only here")
    driver.shot("phone-day-not-lasting")
    allow_lasting_storage(driver, address)
    driver.page.reload()
    driver.wake_semantics()
    driver.page.wait_for_function(ANSWER, timeout=PATIENCE_MS)
    unlock(driver)
    driver.wait("day-new")
    assert not driver.has("day-room")
    driver.go("/settings/upkeep")
    driver.wait_text("upkeep-facts", "For good")
    driver.shot("phone-care-lasting")


def test_refused_storage_is_told_and_the_app_goes_on_once_it_is_allowed(
    phone_browser, give_out_started
):
    driver = phone_browser.page()
    driver.open(give_out_started(REFUSED))
    driver.wait_text("refusal", "does not let the app keep exams")
    driver.wait_text("refusal", "Nothing was changed")
    driver.shot("phone-storage-refused")
    driver.click("refusal-close")
    driver.wait_text("refusal", "does not let the app keep exams")
    driver.page.evaluate(ALLOW)
    driver.click("refusal-close")
    driver.wait("setup-practice")


KEPT = """async () => (await (await caches.open("exam-files")).keys()).length"""
DRAWN_BY = """() => performance.getEntriesByType("resource").map((entry) =>
    new URL(entry.name).pathname).filter((path) => path.startsWith("/canvaskit/"))"""


def test_a_phone_without_graphics_draws_the_other_way_and_starts_so_without_signal(
    phone_browser, host
):
    address = f"http://127.0.0.1:{host.port}/"
    driver = phone_browser.page()
    driver.open(address)
    driver.wait("setup-practice")
    assert "/canvaskit/skwasm.wasm" in driver.page.evaluate(DRAWN_BY)
    kept = driver.page.evaluate(KEPT)
    phone_browser.kill()
    phone_browser.flags = ("--disable-3d-apis",)
    phone_browser.start()
    driver = phone_browser.page()
    driver.open(address)
    driver.wait("setup-practice")
    assert "/canvaskit/canvaskit.wasm" in driver.page.evaluate(DRAWN_BY)
    assert driver.page.evaluate(KEPT) == kept + 3
    take_away(host)
    driver = start_offline(phone_browser, address)
    driver.wait("setup-practice")
    assert "/canvaskit/canvaskit.wasm" in driver.page.evaluate(DRAWN_BY)
