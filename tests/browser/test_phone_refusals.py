"""What the phone's page says where the app cannot be kept, instead of starting it."""

import pytest

from tests.browser.driver import PHONE

pytestmark = pytest.mark.chromium_only("the static app on a phone")

# What a browser of that kind would not have; the page itself is the built one.
LACKING = {
    "a private window or one inside another app": (
        "delete Navigator.prototype.serviceWorker",
        "normal window",
    ),
    "no private storage": (
        "delete StorageManager.prototype.getDirectory",
        "too old",
    ),
    "an older WebAssembly": ("delete WebAssembly.Exception", "too old"),
    "an address without https": (
        "Object.defineProperty(window, 'isSecureContext', {value: false})",
        "must begin with https",
    ),
}


@pytest.mark.parametrize(("script", "words"), LACKING.values(), ids=LACKING.keys())
def test_a_browser_that_cannot_keep_exams_is_told_so_and_what_to_do(
    chromium, built, host, shots, script, words
):
    context = chromium.new_context(viewport=PHONE)
    page = context.new_page()
    page.add_init_script(script)
    page.goto(f"http://127.0.0.1:{host.port}/")
    told = page.locator("#told")
    told.filter(has_text=words).wait_for()
    assert "Nothing was changed" in told.inner_text()
    assert context.service_workers == []
    page.screenshot(path=shots / "phone-refused.png")
    context.close()
