"""The local page answers only its own tab; every other caller is turned away."""

import base64
import hashlib

import pytest

from exam_app.ui.guard import TOKEN_SECONDS, Guard
from exam_app.ui.page_policy import content_policy, script_hashes

HOST = "127.0.0.1:8000"
PAGE = b"<html><script>let a = 1;</script><script src='x.js'></script></html>"
OPEN_TO_ALL = (b"access-control-allow-origin", b"*")


class Answer:
    """What a caller got: status, headers and body, or a closed websocket."""

    def __init__(self):
        self.messages = []

    async def send(self, message):
        self.messages.append(message)

    @property
    def status(self):
        return self.messages[0].get("status")

    @property
    def headers(self):
        return {k.decode().lower(): v.decode() for k, v in self.messages[0]["headers"]}

    @property
    def body(self):
        return b"".join(m.get("body", b"") for m in self.messages[1:])

    @property
    def was_closed(self):
        return self.messages[0]["type"] == "websocket.close"


async def _page(scope, _receive, send):
    if scope["type"] == "websocket":
        await send({"type": "websocket.accept"})
        return
    headers = [(b"content-type", b"text/html; charset=utf-8"), OPEN_TO_ALL]
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    await send({"type": "http.response.body", "body": PAGE[:20], "more_body": True})
    await send({"type": "http.response.body", "body": PAGE[20:]})


class Clock:
    """A clock that goes only when told."""

    now = 1000.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def guard(clock):
    return Guard(_page, HOST, b"a font", clock)


async def ask(guard, path="/", *, kind="http", query="", **headers):
    headers.setdefault("host", HOST)
    answer = Answer()

    async def receive():
        return {"type": "websocket.connect"}

    scope = {
        "type": kind,
        "path": path,
        "query_string": query.encode(),
        "headers": [(k.encode(), v.encode()) for k, v in headers.items() if v],
    }
    await guard(scope, receive, answer.send)
    return answer


async def enter(guard):
    query = guard.new_address().split("?", 1)[1]
    welcome = await ask(guard, query=query)
    assert welcome.status == 303
    return welcome.headers["set-cookie"].split(";")[0]


async def test_token_is_exchanged_for_a_cookie_with_another_secret(guard):
    address = guard.new_address()
    welcome = await ask(guard, query=address.split("?", 1)[1])
    cookie = welcome.headers["set-cookie"]
    assert welcome.headers["location"] == "/"
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert address.split("t=")[1] not in cookie


async def test_token_opens_once(guard):
    query = guard.new_address().split("?", 1)[1]
    assert (await ask(guard, query=query)).status == 303
    assert (await ask(guard, query=query)).status == 403


async def test_token_in_letters_beyond_ascii_is_refused_and_nothing_else(guard):
    guard.new_address()
    answer = await ask(guard, query="t=%C3%A9%E2%82%AC")
    assert answer.status == 403


async def test_token_is_refused_after_thirty_seconds(guard, clock):
    query = guard.new_address().split("?", 1)[1]
    clock.now += TOKEN_SECONDS
    assert (await ask(guard, query=query)).status == 403


async def test_every_token_opens_within_its_own_thirty_seconds(guard, clock):
    first = guard.new_address().split("?", 1)[1]
    clock.now += TOKEN_SECONDS - 1
    second = guard.new_address().split("?", 1)[1]
    assert (await ask(guard, query=first)).status == 303
    assert (await ask(guard, query=second)).status == 303


async def test_nothing_is_served_without_the_cookie(guard):
    assert (await ask(guard)).status == 403
    assert (await ask(guard, query="t=")).status == 403
    assert (await ask(guard, cookie="exam_0000=guess")).status == 403


async def test_two_runs_do_not_accept_each_others_cookies(guard):
    other = Guard(_page, HOST, b"")
    cookie = await enter(guard)
    name = cookie.split("=")[0]
    assert name != (await enter(other)).split("=")[0]
    assert (await ask(other, cookie=cookie)).status == 403


@pytest.mark.parametrize(
    "host", ["localhost:8000", "127.0.0.1", "127.0.0.1:8001", "evil.example", ""]
)
async def test_false_host_is_refused_even_with_the_cookie(guard, host):
    cookie = await enter(guard)
    assert (await ask(guard, host=host, cookie=cookie)).status == 403


@pytest.mark.parametrize("origin", ["http://evil.example", "null", f"https://{HOST}"])
async def test_foreign_origin_is_refused_even_with_the_cookie(guard, origin):
    cookie = await enter(guard)
    assert (await ask(guard, origin=origin, cookie=cookie)).status == 403
    refused = await ask(guard, "/ws", kind="websocket", origin=origin, cookie=cookie)
    assert refused.was_closed


async def test_websocket_needs_origin_and_cookie(guard):
    cookie, own = await enter(guard), f"http://{HOST}"
    missing_origin = await ask(guard, "/ws", kind="websocket", cookie=cookie)
    missing_cookie = await ask(guard, "/ws", kind="websocket", origin=own)
    both = await ask(guard, "/ws", kind="websocket", origin=own, cookie=cookie)
    assert missing_origin.was_closed
    assert missing_cookie.was_closed
    assert both.messages == [{"type": "websocket.accept"}]


@pytest.mark.parametrize(
    "path", ["/docs", "/docs/", "/redoc", "/openapi.json", "/upload", "/oauth_callback"]
)
async def test_generated_pages_are_closed(guard, path):
    cookie = await enter(guard)
    assert (await ask(guard, path, cookie=cookie)).status == 404


async def test_page_allows_its_own_scripts_by_hash_and_nobody_to_read_it(guard):
    answer = await ask(guard, cookie=await enter(guard))
    digest = base64.b64encode(hashlib.sha256(b"let a = 1;").digest()).decode()
    policy = answer.headers["content-security-policy"]
    scripts = next(p for p in policy.split("; ") if p.startswith("script-src"))
    assert scripts == f"script-src 'self' 'sha256-{digest}' 'wasm-unsafe-eval'"
    assert answer.body == PAGE
    assert not [name for name in answer.headers if name.startswith("access-control")]


async def test_fallback_font_is_answered_from_this_computer(guard):
    cookie = await enter(guard)
    answer = await ask(guard, "/assets/fonts/notosans/v36/x.ttf", cookie=cookie)
    assert (answer.status, answer.body) == (200, b"a font")


def test_policy_lets_the_page_talk_to_this_server_only():
    policy = content_policy(HOST, script_hashes(PAGE))
    allowed = {word for part in policy.split("; ") for word in part.split()[1:]}
    outside = {w for w in allowed if "." in w} - {f"ws://{HOST}"}
    assert not outside
    assert "default-src 'none'" in policy
