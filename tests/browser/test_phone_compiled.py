"""What Python compiled on a phone is used at later starts, and never when damaged."""

import pytest

from tests.browser.phone_app import take_away
from tests.browser.phone_compiled import UNTIL_BOTH_ARE_WHOLE, WHOLE

pytestmark = pytest.mark.chromium_only("the browser's own storage")

DAMAGE = """async () => {
  const cache = await caches.open("exam-compiled");
  for (const request of await cache.keys()) {
    const kept = await cache.match(request);
    const bytes = new Uint8Array(await kept.arrayBuffer());
    bytes[bytes.length >> 1] ^= 1;
    await cache.put(request, new Response(bytes, { headers: kept.headers }));
  }
}"""
SOURCES = ("/app.zip", "/pyodide/python_stdlib.zip")


def sources_read(browser):
    return [
        path for path in SOURCES if any(one.endswith(path) for one in browser.asked)
    ]


def start_again(browser, driver):
    browser.asked.clear()
    driver.page.reload()
    driver.wake_semantics()
    driver.wait("setup-practice")


def test_later_starts_use_what_was_compiled_and_make_it_anew_where_it_is_damaged(
    phone_browser, host
):
    address = f"http://127.0.0.1:{host.port}/"
    driver = phone_browser.page()
    driver.open(address)
    driver.wait("setup-practice")
    assert sources_read(phone_browser) == [*SOURCES]
    driver.page.evaluate(UNTIL_BOTH_ARE_WHOLE)
    take_away(host)
    phone_browser.lose_signal()
    start_again(phone_browser, driver)
    assert sources_read(phone_browser) == []
    driver.page.evaluate(DAMAGE)
    assert driver.page.evaluate(WHOLE) == ""
    start_again(phone_browser, driver)
    assert sources_read(phone_browser) == [*SOURCES]
    driver.page.evaluate(UNTIL_BOTH_ARE_WHOLE)
