"""The local page answers only its own tab; every other caller is turned away."""

import base64
import hashlib
import re
from pathlib import Path

import pytest

from exam_app.ui.server.guard import (
    MOST_TABS,
    TOKEN_SECONDS,
    Guard,
    content_policy,
    script_hashes,
)
from exam_app.web_client import (
    BOOTSTRAP,
    CLIENT_MODULE,
    CLIENT_SCRIPT,
    ClientChangedError,
    ServedTo,
    changed_scripts,
    client_folder,
    module_without_foreign_requests,
    script_served,
)

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


async def ask(guard, path="/", *, kind="http", query="", method="GET", **headers):
    headers.setdefault("host", HOST)
    answer = Answer()

    async def receive():
        return {"type": "websocket.connect"}

    scope = {
        "type": kind,
        "path": path,
        "method": method,
        "query_string": query.encode(),
        "headers": [(k.encode(), v.encode()) for k, v in headers.items() if v],
    }
    await guard(scope, receive, answer.send)
    return answer


async def enter(guard):
    """Open a one-time link as the page does; returns what goes into the socket."""
    query = guard.new_address().split("?", 1)[1]
    welcome = await ask(guard, query=query)
    assert welcome.status == 200
    return "tab=" + re.search(rb'"exam-tab", "([^"]+)"', welcome.body)[1].decode()


async def open_socket(guard, query, path="/ws", **headers):
    headers.setdefault("origin", f"http://{HOST}")
    answer = await ask(guard, path, kind="websocket", query=query, **headers)
    return answer.messages == [{"type": "websocket.accept"}]


async def test_token_is_exchanged_for_the_secret_of_one_tab(guard):
    address = guard.new_address()
    welcome = await ask(guard, query=address.split("?", 1)[1])
    assert address.split("t=")[1].encode() not in welcome.body
    assert "set-cookie" not in welcome.headers
    [script] = script_hashes(welcome.body)
    assert script in welcome.headers["content-security-policy"]
    assert await open_socket(guard, await enter(guard))
    assert await enter(guard) != await enter(guard)


async def test_token_opens_once(guard):
    query = guard.new_address().split("?", 1)[1]
    assert (await ask(guard, query=query)).status == 200
    again = await ask(guard, query=query)
    assert again.status == 403
    assert b"used before" in again.body
    assert b"press Enter where the app was started" in again.body


async def test_token_in_letters_beyond_ascii_is_refused_and_nothing_else(guard):
    guard.new_address()
    for letters in ("%C3%A9%E2%82%AC", "%ED%A0%80", "\u00e9"):
        answer = await ask(guard, query=f"t={letters}")
        assert answer.status == 403


async def test_token_is_refused_after_thirty_seconds(guard, clock):
    query = guard.new_address().split("?", 1)[1]
    clock.now += TOKEN_SECONDS
    assert (await ask(guard, query=query)).status == 403


async def test_every_token_opens_within_its_own_thirty_seconds(guard, clock):
    first = guard.new_address().split("?", 1)[1]
    clock.now += TOKEN_SECONDS - 1
    second = guard.new_address().split("?", 1)[1]
    assert (await ask(guard, query=first)).status == 200
    assert (await ask(guard, query=second)).status == 200


async def test_no_socket_is_opened_without_the_secret_of_a_tab(guard):
    await enter(guard)
    for query in ("", "tab=", "tab=guess", "t=guess", "tab=%ED%A0%80"):
        assert not await open_socket(guard, query)


async def test_no_cookie_opens_anything_and_none_is_ever_set(guard):
    secret = (await enter(guard)).split("=")[1]
    # Whatever another port was sent or has left: by our name or in such numbers.
    for cookie in (f"exam-tab={secret}", f"tab={secret}", "a=b; " * 5_000):
        assert not await open_socket(guard, "", cookie=cookie)
        assert "set-cookie" not in (await ask(guard, cookie=cookie)).headers
    assert await open_socket(guard, f"tab={secret}", cookie="a=b; " * 5_000)


async def test_two_runs_do_not_accept_each_others_tabs(guard):
    other = Guard(_page, HOST, b"")
    query = await enter(guard)
    await enter(other)
    assert not await open_socket(other, query)
    assert await open_socket(guard, query)


async def test_secret_of_a_tab_ends_at_the_gate(clock):
    passed_on = []

    async def inner(scope, _receive, send):
        passed_on.append(scope)
        await send({"type": "websocket.accept"})

    guard = Guard(inner, HOST, b"", clock)
    query = await enter(guard)
    assert await open_socket(guard, query)
    assert query.split("=")[1] not in repr(passed_on)


async def test_only_the_newest_tabs_are_remembered(guard):
    first = await enter(guard)
    later = [await enter(guard) for _ in range(MOST_TABS)]
    assert not await open_socket(guard, first)
    assert await open_socket(guard, later[0])
    assert await open_socket(guard, later[-1])


async def test_a_refused_socket_can_ask_whether_its_tab_is_known(guard):
    secret = (await enter(guard)).split("=")[1]
    known = await ask(guard, "/tab", **{"x-exam-tab": secret})
    unknown = await ask(guard, "/tab", **{"x-exam-tab": "of an earlier run"})
    assert (known.status, unknown.status) == (200, 403)


@pytest.mark.parametrize(
    "host", ["localhost:8000", "127.0.0.1", "127.0.0.1:8001", "evil.example", ""]
)
async def test_false_host_is_refused_even_with_the_secret(guard, host):
    query = await enter(guard)
    assert (await ask(guard, host=host)).status == 403
    assert not await open_socket(guard, query, host=host)


@pytest.mark.parametrize("origin", ["http://evil.example", "null", f"https://{HOST}"])
async def test_foreign_origin_is_refused_even_with_the_secret(guard, origin):
    query = await enter(guard)
    assert (await ask(guard, origin=origin)).status == 403
    assert not await open_socket(guard, query, origin=origin)


async def test_websocket_needs_origin_and_its_own_place(guard):
    query = await enter(guard)
    assert not await open_socket(guard, query, origin="")
    assert not await open_socket(guard, query, path="/animals")
    assert await open_socket(guard, query)


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
async def test_another_port_or_site_is_given_no_file_for_its_own_page(guard, site):
    for mode, place in (("no-cors", "script"), ("navigate", "iframe"), ("cors", "")):
        given = {"sec-fetch-site": site, "sec-fetch-mode": mode}
        answer = await ask(guard, "/x.js", **given, **{"sec-fetch-dest": place})
        assert answer.status == 403
    given = {"sec-fetch-mode": "navigate", "sec-fetch-dest": "document"}
    assert (await ask(guard, **given, **{"sec-fetch-site": site})).status == 200
    own = await ask(guard, "/x.js", **{"sec-fetch-site": "same-origin"})
    assert own.status == 200


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "TRACE"])
async def test_nothing_can_be_sent_to_the_page(guard, method):
    answer = await ask(guard, method=method)
    assert answer.status == 405
    assert b"Nothing was changed" in answer.body


@pytest.mark.parametrize(
    "path", ["/docs", "/docs/", "/redoc", "/openapi.json", "/upload", "/oauth_callback"]
)
async def test_generated_pages_are_closed(guard, path):
    assert (await ask(guard, path)).status == 404


@pytest.mark.parametrize("path", ["/a\0b", "/..%2f\r\n", "/" + "a" * 600, "/<x>"])
async def test_addresses_that_no_page_has_end_at_the_gate_in_words(guard, path):
    answer = await ask(guard, path)
    assert answer.status == 404
    assert b"nothing here" in answer.body


async def test_page_allows_its_own_scripts_by_hash_and_nobody_to_read_it(guard):
    answer = await ask(guard)
    digest = base64.b64encode(hashlib.sha256(b"let a = 1;").digest()).decode()
    policy = answer.headers["content-security-policy"]
    scripts = next(p for p in policy.split("; ") if p.startswith("script-src"))
    assert scripts == f"script-src 'self' 'sha256-{digest}' 'wasm-unsafe-eval'"
    assert answer.body == PAGE
    assert not [name for name in answer.headers if name.startswith("access-control")]


async def test_fallback_font_is_answered_from_this_computer(guard):
    answer = await ask(guard, "/assets/fonts/notosans/v36/x.ttf")
    assert (answer.status, answer.body) == (200, b"a font")


def test_policy_lets_the_page_talk_to_this_server_only():
    policy = content_policy(HOST, script_hashes(PAGE))
    allowed = {word for part in policy.split("; ") for word in part.split()[1:]}
    outside = {w for w in allowed if "." in w} - {f"ws://{HOST}"}
    assert not outside
    assert "default-src 'none'" in policy


@pytest.mark.parametrize("to", ServedTo)
def test_what_is_served_of_the_client_names_no_content_network(to):
    names = changed_scripts(to)
    assert {CLIENT_SCRIPT, BOOTSTRAP} <= set(names)
    for name in names:
        script = (client_folder() / name).read_text("utf-8")
        served = script_served(name, script, to)
        assert served != script
        assert not re.findall(r"https?://[^/ ]*(?:jsdelivr|gstatic|unpkg)", served)
        assert 'RiveNative"),$async$' in script or name != CLIENT_SCRIPT


@pytest.mark.parametrize("to", ServedTo)
def test_another_client_than_the_one_that_was_tried_is_refused(to):
    for name in changed_scripts(to):
        script = (client_folder() / name).read_text("utf-8")
        with pytest.raises(ClientChangedError, match=Path(name).name):
            script_served(name, "another client", to)
        # Twice is as unknown as never.
        with pytest.raises(ClientChangedError, match=Path(name).name):
            script_served(name, script + script, to)


def test_each_bootstrap_has_the_options_and_parts_of_its_page_only():
    script = (client_folder() / BOOTSTRAP).read_text("utf-8")
    computer, phone = (script_served(BOOTSTRAP, script, to) for to in ServedTo)
    begin = "var flutterConfig = {\n    "
    assert f"{begin}forceSingleThreadedSkwasm: true,\n" in computer
    assert f'{begin}canvasKitVariant: "full",\n' in phone
    for others, here in ((phone, computer), (computer, phone)):
        own = here.partition(begin)[2].partition("\n")[0]
        assert own not in others
    # A phone's page has a keeper and a first picture of its own.
    for part in ("serviceWorkerSettings: {", "'flutter-first-frame'"):
        assert part in script
        assert part in computer
        assert part not in phone


def test_the_compiled_client_names_no_content_network_and_is_as_long_as_before():
    module = (client_folder() / CLIENT_MODULE).read_bytes()
    served = module_without_foreign_requests(module)
    assert not re.findall(rb"https?://[^/ ]*(?:jsdelivr|gstatic|unpkg)", served)
    assert len(served) == len(module)
    with pytest.raises(ClientChangedError, match=CLIENT_MODULE):
        module_without_foreign_requests(served)
