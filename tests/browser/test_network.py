"""Nothing leaves this computer: asked of the browser itself, and of the server."""

import http.client
import json
import re
import subprocess
import urllib.request
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser

from tests.browser.conftest import launched
from tests.browser.driver import LAPTOP, Driver
from tests.browser.prepared import unlock

pytestmark = pytest.mark.chromium_only("the browser is asked what it sent")


def test_browsers_own_log_holds_connections_to_this_computer_only(
    chromium: Browser, tmp_path, prepared, shots
):
    log = tmp_path / "net.json"
    own = launched(chromium.browser_type, f"--log-net-log={log}")
    driver = Driver(own.new_page(viewport=LAPTOP), shots)
    unlock(driver, prepared)
    driver.click("examiner")
    driver.click("people-open")
    # Signs that the first font lacks ask for others: they must be answered here.
    driver.type("person-name", "♀ ♂ → ✓ ☐ ★ 日")
    driver.click("sheet-close")
    driver.gone("sheet")
    driver.click("examiner")
    driver.wait("sheet")
    own.close()
    addresses, asked = read_log(log)
    netloc = urlsplit(driver.origin).netloc
    assert addresses == {netloc}
    # The browser's own errands name no page as their origin.
    from_page = {url for url, origin in asked if "127.0.0.1" in origin}
    assert len(from_page) > 5, "the log is not the one of this page"
    foreign = [url for url in from_page if not url.startswith(_LOCAL)]
    assert not foreign


_LOCAL = ("http://127.0.0.1:", "ws://127.0.0.1:", "data:", "blob:")


def read_log(log) -> tuple[set[str], set[tuple[str, str]]]:
    """Read Chromium's log: addresses connected to, requests and who began them."""
    content = json.loads(log.read_text())
    names = {v: k for k, v in content["constants"]["logEventTypes"].items()}
    addresses, asked = set(), set()
    for event in content["events"]:
        name, found = names[event["type"]], event.get("params", {})
        if name == "TCP_CONNECT_ATTEMPT" and "address" in found:
            addresses.add(found["address"])
        if name == "URL_REQUEST_START_JOB" and "url" in found:
            asked.add((found["url"], str(found.get("initiator", ""))))
    return addresses, asked


@pytest.fixture
def served(prepared):
    address = prepared.first_address()
    return prepared, address, urlsplit(address).netloc


def ask(netloc, path="/", method="GET", **headers):
    connection = http.client.HTTPConnection(netloc, timeout=20)
    given = {name.replace("_", "-"): value for name, value in headers.items()}
    connection.request(method, path, headers=given)
    answer = connection.getresponse()
    answer.text = "" if answer.status == 101 else answer.read().decode()
    connection.close()
    return answer


def test_real_server_refuses_foreign_callers_and_used_tokens(served):
    app, address, netloc = served
    path = address.split(netloc, 1)[1]
    assert ask(netloc, path, Host="evil.example").status == 403
    assert ask(netloc, path, Origin="http://evil.example").status == 403
    assert ask(netloc, path).status == 200
    assert ask(netloc, path).status == 403, "the token worked twice"
    page = ask(netloc)
    assert page.status == 200
    assert page.getheader("access-control-allow-origin") is None
    assert page.getheader("set-cookie") is None
    assert "'unsafe-inline'" not in script_rule(page)
    assert "'unsafe-eval'" not in script_rule(page)
    for closed in ("/docs", "/redoc", "/openapi.json"):
        assert ask(netloc, closed).status == 404
    link = app.new_address().split(netloc, 1)[1]
    secret = re.search(r'"exam-tab", "([^"]+)"', ask(netloc, link).text)[1]
    upgrade = {
        "Connection": "Upgrade",
        "Upgrade": "websocket",
        "Sec_WebSocket_Version": "13",
        "Sec_WebSocket_Key": "MDEyMzQ1Njc4OWFiY2RlZg==",
    }
    place, own = f"/ws?tab={secret}", f"http://{netloc}"
    assert ask(netloc, place, **upgrade).status == 403, "no Origin"
    foreign = ask(netloc, place, Origin="http://evil.example", **upgrade)
    assert foreign.status == 403
    guessed = ask(netloc, "/ws?tab=guess", Origin=own, **upgrade)
    assert guessed.status == 403
    assert ask(netloc, place, Origin=own, **upgrade).status == 101
    assert app.process.poll() is None


def script_rule(answer) -> str:
    policy = answer.getheader("content-security-policy")
    return next(p for p in policy.split("; ") if p.startswith("script-src"))


def test_server_listens_on_this_computer_only(served):
    _app, _address, netloc = served
    port = netloc.split(":")[1]
    own = subprocess.run(
        ["hostname", "-I"], capture_output=True, text=True, check=False
    ).stdout.split()
    outside = [a for a in own if ":" not in a and not a.startswith("127.")]
    if not outside:
        pytest.skip("this machine has no other address to try")
    with pytest.raises(OSError, match=r"refused|timed out|unreachable"):
        urllib.request.urlopen(f"http://{outside[0]}:{port}/", timeout=5)
