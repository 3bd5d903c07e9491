"""What Python made of the app on a phone is used later, and never when damaged."""

import pytest

from tests.browser.phone_app import take_away
from tests.browser.phone_compiled import UNTIL_ALL_ARE_WHOLE, WHOLE
from tests.browser.phone_steps import begin_exam, set_up, unlock

pytestmark = pytest.mark.chromium_only("the browser's own storage")

DAMAGE = """async (part) => {
  const cache = await caches.open("exam-compiled");
  for (const request of await cache.keys()) {
    if (!request.url.endsWith(part)) continue;
    const kept = await cache.match(request);
    const bytes = new Uint8Array(await kept.arrayBuffer());
    bytes[bytes.length >> 1] ^= 1;
    await cache.put(request, new Response(bytes, { headers: kept.headers }));
  }
}"""
PUT_BACK = "Python's memory was put back."
SOURCES = ("/app.zip", "/pyodide/python_stdlib.zip")


def sources_read(browser):
    return [
        path for path in SOURCES if any(one.endswith(path) for one in browser.asked)
    ]


def start_again(browser, driver, expected="setup-practice"):
    browser.asked.clear()
    driver.page.reload()
    driver.wake_semantics()
    driver.wait(expected)


def test_later_starts_use_what_was_made_and_make_it_anew_where_it_is_damaged(
    phone_browser, host
):
    address = f"http://127.0.0.1:{host.port}/"
    driver = phone_browser.page()
    told = []
    driver.page.on("console", lambda message: told.append(message.text))
    driver.open(address)
    driver.wait("setup-practice")
    assert sources_read(phone_browser) == [*SOURCES]
    driver.page.evaluate(UNTIL_ALL_ARE_WHOLE)
    take_away(host)
    phone_browser.lose_signal()
    assert PUT_BACK not in told
    start_again(phone_browser, driver)
    assert sources_read(phone_browser) == []
    assert told.count(PUT_BACK) == 1, told
    # The whole way from a passphrase to an exam, with what was put back.
    set_up(driver)
    begin_exam(driver)
    start_again(phone_browser, driver, "unlock-secret")
    assert told.count(PUT_BACK) == 2
    unlock(driver)
    driver.wait("exam-progress")
    driver.page.evaluate(DAMAGE, "")
    assert driver.page.evaluate(WHOLE) == ""
    start_again(phone_browser, driver, "unlock-secret")
    assert sources_read(phone_browser) == [*SOURCES]
    assert told.count(PUT_BACK) == 2
    driver.page.evaluate(UNTIL_ALL_ARE_WHOLE)
    # Where only the memory is damaged, everything is imported as before there was one.
    driver.page.evaluate(DAMAGE, "memory")
    start_again(phone_browser, driver, "unlock-secret")
    assert sources_read(phone_browser) == []
    assert told.count(PUT_BACK) == 2
