"""Keep the local page private: the one gate in front of the web server.

Rules, for every request and every websocket:

1. The Host header is exactly the address the server listens on, so that a name
   that was made to point at this machine finds nothing.
2. An Origin header, where there is one, is exactly our own; a websocket must
   have one, since a foreign page may open websockets without asking.
3. The address opened at start carries a token, good once and for 30 seconds. It
   is exchanged for a cookie that holds another secret under a name of this run.
4. Without that cookie nothing is served. With it, only what the page needs:
   no generated documentation, no sign-in callback, no upload.
5. Every answer carries a content security policy. Inline scripts run only if
   their hash is that of a script in the very page served; beyond that only
   WebAssembly may be compiled. No answer allows another origin to read it.
6. A request for a fallback font is answered with one bundled font, since the
   page would otherwise repeat it hundreds of times.
"""

import hmac
import http.cookies
import re
import secrets
import time
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from typing import Any
from urllib.parse import parse_qs

from exam_app.ui.page_policy import content_policy, script_hashes

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]

TOKEN_SECONDS = 30.0
CLOSED_PATHS = frozenset(
    {"/docs", "/docs/oauth2-redirect", "/redoc", "/openapi.json", "/oauth_callback"}
    | {"/upload"}
)
_FALLBACK_FONT_PATH = re.compile(r"/assets/fonts/noto[^?]*", re.IGNORECASE)
_REFUSAL = (
    "<!doctype html><html lang=en><meta charset=utf-8><title>Not opened</title>"
    "<body style='font:20px sans-serif;max-width:32em;margin:3em auto'>"
    "<h1>This page was not opened</h1><p>Its link works once and for 30 seconds, and "
    "only on this computer. Nothing was changed.</p><p>Use the window that is already "
    "open, or ask for a new link where the app was started.</p>"
)


class Guard:
    """An ASGI application that passes on only what this run's own page asks."""

    def __init__(
        self,
        inner: Application,
        host: str,
        font: bytes,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Stand in front of ``inner``.

        Args:
            inner: The application that serves the page.
            host: Address and port as a browser writes them: ``127.0.0.1:PORT``.
            font: A TrueType font for signs that the first font lacks.
            clock: Seconds, never going back.
        """
        self._inner = inner
        self._host = host
        self._origin = f"http://{host}"
        self._font = font
        self._clock = clock
        self._cookie_name = f"exam_{secrets.token_hex(8)}"
        self._cookie_value = secrets.token_urlsafe(32)
        self._tokens: dict[str, float] = {}

    def new_address(self) -> str:
        """Make an address that opens the page once, within 30 seconds."""
        now = self._clock()
        self._tokens = {t: end for t, end in self._tokens.items() if end > now}
        token = secrets.token_urlsafe(32)
        self._tokens[token] = now + TOKEN_SECONDS
        return f"{self._origin}/?t={token}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, refuse or pass on one connection."""
        if scope["type"] == "lifespan":
            await self._inner(scope, receive, send)
            return
        headers = _headers(scope)
        if not self._is_ours(scope["type"], headers):
            await _refuse(scope, receive, send)
        elif scope["type"] == "http" and self._spend_token(scope):
            await self._welcome(send)
        elif not self._has_cookie(headers):
            await _refuse(scope, receive, send)
        else:
            await self._pass_on(scope, receive, send)

    def _is_ours(self, kind: str, headers: dict[str, list[str]]) -> bool:
        origins = headers.get("origin", [])
        if headers.get("host", []) != [self._host]:
            return False
        if not origins:
            return kind == "http"
        return origins == [self._origin]

    def _spend_token(self, scope: Scope) -> bool:
        query = parse_qs(scope.get("query_string", b"").decode("latin-1"))
        given = query.get("t", [""])[0]
        known = [t for t in self._tokens if _is_same(t, given)]
        return bool(known) and self._tokens.pop(known[0]) > self._clock()

    def _has_cookie(self, headers: dict[str, list[str]]) -> bool:
        for line in headers.get("cookie", []):
            try:
                morsel = http.cookies.SimpleCookie(line).get(self._cookie_name)
            except http.cookies.CookieError:
                continue
            if morsel and _is_same(morsel.value, self._cookie_value):
                return True
        return False

    async def _welcome(self, send: Send) -> None:
        cookie = f"{self._cookie_name}={self._cookie_value}"
        await _answer(
            send,
            303,
            b"",
            [
                (b"location", b"/"),
                (
                    b"set-cookie",
                    f"{cookie}; Path=/; HttpOnly; SameSite=Strict".encode(),
                ),
            ],
        )

    async def _pass_on(self, scope: Scope, receive: Receive, send: Send) -> None:
        path = scope["path"]
        if path.rstrip("/") in CLOSED_PATHS:
            await _refuse(scope, receive, send, status=404)
        elif scope["type"] == "websocket":
            await self._inner(scope, receive, send)
        elif _FALLBACK_FONT_PATH.fullmatch(path):
            await _answer(send, 200, self._font, [(b"content-type", b"font/ttf")])
        else:
            await self._inner(scope, receive, _Policed(send, self._host))


class _Policed:
    """A ``send`` that adds the policy, hashing the scripts of a page on its way."""

    def __init__(self, send: Send, host: str) -> None:
        self._send = send
        self._host = host
        self._start: Message | None = None
        self._page = b""

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = _private(message["headers"])
            self._start = message
            if not _is_page(message):
                await self._send_start()
        elif self._start is None:
            await self._send(message)
        else:
            await self._collect(message)

    async def _collect(self, message: Message) -> None:
        self._page += message.get("body", b"")
        if message.get("more_body", False):
            return
        await self._send_start()
        await self._send({"type": "http.response.body", "body": self._page})

    async def _send_start(self) -> None:
        start = self._start
        if start is None:
            return
        self._start = None
        policy = content_policy(self._host, script_hashes(self._page))
        start["headers"].append((b"content-security-policy", policy.encode()))
        await self._send(start)


def _is_same(secret: str, given: str) -> bool:
    # Bytes: of texts, compare_digest takes only ASCII, and these came from outside.
    return hmac.compare_digest(secret.encode(), given.encode())


def _headers(scope: Scope) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, value in scope["headers"]:
        found.setdefault(name.decode("latin-1").lower(), []).append(
            value.decode("latin-1")
        )
    return found


def _is_page(start: Message) -> bool:
    kinds = [v for k, v in start["headers"] if k.lower() == b"content-type"]
    return any(kind.startswith(b"text/html") for kind in kinds)


def _private(headers: Iterable[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    closed = (b"access-control-", b"cache-control")
    kept = [(k, v) for k, v in headers if not k.lower().startswith(closed)]
    return [
        *kept,
        # The cookie lasts for one run, and so must every stored copy.
        (b"cache-control", b"no-store"),
        (b"x-content-type-options", b"nosniff"),
        (b"referrer-policy", b"no-referrer"),
    ]


async def _refuse(
    scope: Scope, receive: Receive, send: Send, status: int = 403
) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 1008})
        return
    kind = [(b"content-type", b"text/html; charset=utf-8")]
    await _answer(send, status, _REFUSAL.encode(), kind)


async def _answer(
    send: Send, status: int, body: bytes, headers: list[tuple[bytes, bytes]]
) -> None:
    policy = (
        b"content-security-policy",
        b"default-src 'none'; style-src 'unsafe-inline'",
    )
    headers = _private([*headers, (b"content-length", str(len(body)).encode())])
    await send(
        {"type": "http.response.start", "status": status, "headers": [*headers, policy]}
    )
    await send({"type": "http.response.body", "body": body})
