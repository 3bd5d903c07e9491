"""Other servers of this computer, seen by the browser that shows the app.

Browsers send cookies to every port of an address and let every port write them. What a
neighbour leaves locks nobody out, and what it is sent opens nothing.
"""

import contextlib
import http.client
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest
from playwright.sync_api import expect

from tests.browser.driver import LAPTOP, PATIENCE_MS
from tests.browser.prepared import unlock

pytestmark = pytest.mark.chromium_only("other programs' pages in the same browser")

# As many as a browser keeps for an address, and as long.
LEAVE = """() => {
  for (let n = 0; n < 200; n += 1) document.cookie = `c${n}=${"x".repeat(4_000)}`;
  document.cookie = "exam-tab=theirs";
}"""


class _Neighbour(BaseHTTPRequestHandler):
    """Answers with a page, and keeps all that it is sent."""

    def do_GET(self):
        self.server.sent.append(str(self.headers) + self.path)
        body = b"<!doctype html><title>next door</title>" + self.server.page
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_):
        """Keep no log."""


@pytest.fixture
def neighbour():
    server = ThreadingHTTPServer(("127.0.0.1", 0), _Neighbour)
    server.sent, server.page = [], b""
    threading.Thread(target=server.serve_forever, daemon=True).start()
    server.address = f"http://127.0.0.1:{server.server_address[1]}"
    yield server
    server.shutdown()
    server.server_close()


def test_cookies_of_another_port_lock_nobody_out_and_what_it_is_sent_opens_nothing(
    laptop, prepared, neighbour, open_page, monkeypatch
):
    # The neighbour reads however much the browser sends.
    monkeypatch.setattr(http.client, "_MAXLINE", 1 << 20)
    unlock(laptop, prepared)
    secret = laptop.page.evaluate("sessionStorage.getItem('exam-tab')")
    other = open_page(LAPTOP, like=laptop)
    other.page.goto(neighbour.address)
    other.page.evaluate(LEAVE)
    other.page.goto(f"{neighbour.address}/again")
    left = sum(len(c["value"]) for c in laptop.page.context.cookies())
    assert left > 600_000, "the browser kept few of the neighbour's cookies"
    # All of them go to the app's page and socket, which are answered as before.
    laptop.page.reload()
    laptop.wake_semantics()
    laptop.wait("examiner")
    # What the neighbour was sent in turn holds nothing of ours, and opens nothing.
    assert neighbour.sent
    assert secret not in "".join(neighbour.sent)
    assert "exam_" not in "".join(neighbour.sent)
    stolen = "; ".join(
        f"{c['name']}={c['value']}" for c in laptop.page.context.cookies()
    )
    assert try_socket(laptop.origin, stolen) == 403


def try_socket(origin, cookie):
    netloc = origin.split("//")[1]
    connection = http.client.HTTPConnection(netloc, timeout=20)
    headers = {
        "Origin": origin,
        "Connection": "Upgrade",
        "Upgrade": "websocket",
        "Sec-WebSocket-Version": "13",
        "Sec-WebSocket-Key": "MDEyMzQ1Njc4OWFiY2RlZg==",
        "Cookie": cookie[:500_000],
    }
    with contextlib.closing(connection):
        connection.request("GET", "/ws", headers=headers)
        return connection.getresponse().status


def test_a_neighbours_page_cannot_frame_the_app_or_run_its_files(
    laptop, prepared, neighbour
):
    origin = prepared.first_address().split("/?")[0]
    neighbour.page = (
        f'<iframe src="{origin}/"></iframe><script src="{origin}/tab.js"></script>'
    ).encode()
    refused = []
    laptop.page.on("response", lambda r: refused.append((r.url, r.status)))
    laptop.page.goto(neighbour.address)
    laptop.page.wait_for_load_state("networkidle")
    ours = {url: status for url, status in refused if url.startswith(origin)}
    assert ours
    assert set(ours.values()) == {403}


def test_a_tab_without_a_link_says_what_to_do(laptop, prepared):
    link = prepared.first_address()
    origin = link.split("/?")[0]
    laptop.page.goto(f"{origin}/animals")
    told = laptop.page.get_by_role("alert")
    expect(told).to_contain_text("press Enter where the app was started")
    expect(told).to_contain_text("Nothing was changed")
    laptop.shot("no-link-laptop")
    laptop.page.goto(link)
    laptop.wake_semantics()
    laptop.wait("unlock-secret")
    # And the link is not good a second time, which is said too.
    other = laptop.page.context.new_page()
    other.goto(link)
    expect(other.get_by_text("This link was used before")).to_be_visible()
    other.close()


def test_a_tab_says_when_the_app_has_ended_and_when_it_is_of_an_earlier_run(
    phone, tmp_path, run_app, prepared
):
    unlock(phone, prepared)
    port = phone.origin.rsplit(":", 1)[1]
    prepared.stop()
    told = phone.page.get_by_role("alert")
    expect(told).to_contain_text("does not answer", timeout=PATIENCE_MS)
    expect(told).to_contain_text("Everything marked as saved is kept")
    phone.shot("app-ended-phone")
    again = run_app("--port", port, folder=tmp_path / "exams")
    link = again.first_address()
    expect(told).to_contain_text("was started anew", timeout=60_000)
    phone.shot("earlier-run-phone")
    phone.open(link)
    phone.wait("unlock-secret")
    expect(phone.page.get_by_role("alert")).to_have_count(0)
