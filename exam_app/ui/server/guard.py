"""Keep the local page private: the one gate in front of the web server.

Rules, for every request and every websocket:

1. The Host header is exactly the address the server listens on, so that a name
   that was made to point at this machine finds nothing.
2. An Origin header, where there is one, is exactly our own; a websocket must
   have one, since a foreign page may open websockets without asking. A browser that
   says on whose behalf it asks is believed: another site, or another port of this
   computer, is given no file of ours to put into its page.
3. The address opened at start carries a token, good once and for 30 seconds. It
   is exchanged for the secret of one tab, which the page keeps in that tab's session
   storage. There is no cookie: browsers send cookies to every port of this computer
   and let every port overwrite them, and they are not read here.
4. The page's files hold nothing secret and are given to whoever is on this computer.
   The socket, and with it every word of an exam, is opened by a tab's secret only.
5. Only what the page needs is answered: no writing, no generated documentation, no
   sign-in callback, no upload.
6. Every answer carries a content security policy. Inline scripts run only if
   their hash is that of a script in the very page served; beyond that only
   WebAssembly may be compiled. No answer allows another origin to read it.
7. A request for a fallback font is answered with one bundled font, since the
   page would otherwise repeat it hundreds of times.
8. Every refusal says in words what happened, what is safe and what to do.

Scripts: our own files, the inline scripts of the very page served (by hash), and
compiled WebAssembly; nothing else runs. Connections: this server only.
"""

import asyncio
import base64
import hashlib
import re
import secrets
import time
from collections.abc import Awaitable, Callable, Iterable, Mapping, MutableMapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qs

from starlette.datastructures import Headers

from exam_app.language.catalogue import chosen, to_translate, tr


@dataclass(frozen=True, slots=True)
class Refusal:
    """One reason to refuse a request.

    Attributes:
        status: The number that browsers are told.
        words: Sentences for the person before the screen.
        then: What that person can do, where it is not said yet.
    """

    status: int
    words: str
    then: str = ""


_NEW_LINK = to_translate(
    "Use the window that is already open, or press Enter where the app was started: "
    "a new link comes, which works once and for 30 seconds."
)
SPENT = Refusal(
    403,
    to_translate(
        "This link was used before, or is older than 30 seconds. Nothing was changed."
    ),
    _NEW_LINK,
)
NOT_OURS = Refusal(
    403,
    to_translate(
        "Something that is not the app's own page asked for this. Nothing was given "
        "and nothing was changed."
    ),
    _NEW_LINK,
)
CLOSED = Refusal(
    405,
    to_translate(
        "This page only shows; nothing can be sent here. Nothing was changed."
    ),
)
NO_PLACE = Refusal(
    404, to_translate("There is nothing here. Nothing was changed."), _NEW_LINK
)
CROWDED = Refusal(
    431,
    to_translate(
        "The browser sent more than any page of this app needs: other programs on this "
        "computer have left very many cookies for the address 127.0.0.1. Exams are "
        "untouched and the app runs on. Clear the cookies of 127.0.0.1 in the "
        "browser's settings, or use another browser or a private window; then press "
        "Enter where the app was started and open the new link. With --window the app "
        "has a browser window of its own, without foreign cookies."
    ),
)
TOO_LONG = Refusal(
    431,
    to_translate(
        "This request is longer than any that the page of this app makes. Nothing was "
        "changed."
    ),
    _NEW_LINK,
)
TOO_SLOW = Refusal(
    408,
    to_translate(
        "This request did not come within ten seconds. Nothing was changed. Load the "
        "page again."
    ),
)
UNREADABLE = Refusal(
    400,
    to_translate(
        "This request could not be read. Nothing was changed. Load the page again."
    ),
)


def words_page(refusal: Refusal) -> bytes:
    """Write a refusal as a page that needs nothing else."""
    title, heading = tr("Not opened"), tr("This was not opened")
    said = " ".join(filter(None, (tr(refusal.words), tr(refusal.then))))
    return (
        f"<!doctype html><html lang={chosen()}><meta charset=utf-8>"
        f"<title>{title}</title>"
        "<body style='font:20px sans-serif;max-width:32em;margin:3em auto;"
        f"padding:0 1em'><h1>{heading}</h1><p>{said}</p>"
    ).encode()


_INLINE_SCRIPT = re.compile(rb"<script>(.*?)</script>", re.DOTALL)


def script_hashes(page: bytes) -> list[str]:
    """Hash every inline script of a page, in order, as a policy names them."""
    digests = (hashlib.sha256(s).digest() for s in _INLINE_SCRIPT.findall(page))
    return [f"'sha256-{base64.b64encode(d).decode()}'" for d in digests]


def content_policy(host: str, hashes: Iterable[str]) -> str:
    """Write the policy: our own files, the hashed scripts, compiled WebAssembly.

    Styles may be inline, since the page writes its positions that way.
    """
    scripts = " ".join(["'self'", *hashes, "'wasm-unsafe-eval'"])
    return (
        f"default-src 'none'; script-src {scripts}; style-src 'self' 'unsafe-inline'; "
        f"connect-src 'self' ws://{host} blob: data:; img-src 'self' blob: data:; "
        "font-src 'self' data:; media-src 'self' blob: data:; "
        "worker-src 'self' blob:; manifest-src 'self'; object-src 'none'; "
        "base-uri 'self'; form-action 'none'; frame-ancestors 'none'"
    )


Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]

TOKEN_SECONDS = 30.0
# Tabs whose secret is known; the oldest is forgotten first.
MOST_TABS = 64
SOCKET_PATH, TAB_PATH, TAB_HEADER = "/ws", "/tab", "x-exam-tab"
CLOSED_PATHS = frozenset(
    {"/docs", "/docs/oauth2-redirect", "/redoc", "/openapi.json", "/oauth_callback"}
    | {"/upload"}
)
_FALLBACK_FONT_PATH = re.compile(r"/assets/fonts/noto[^?]*", re.IGNORECASE)
# What a file of the page or a screen's address looks like.
_PLAIN_PATH = re.compile(r"/[A-Za-z0-9._~+@,:=/-]{0,512}")
# Sent at a time, so that a caller who reads nothing holds no more than this.
_PIECE = 1 << 16
_WELCOME = """<!doctype html><html lang=en><meta charset=utf-8><title>Exam</title>
<p id=told>Opening…</p><script>
try {
  sessionStorage.setItem("exam-tab", "%s");
} catch {}
location.replace("/");
</script>"""


class Guard:
    """An ASGI application that passes on only what this run's own page asks."""

    def __init__(
        self,
        inner: Application,
        host: str,
        font: bytes,
        clock: Callable[[], float] = time.monotonic,
        files: Mapping[str, tuple[str, bytes]] | None = None,
    ) -> None:
        """Stand in front of ``inner``.

        Args:
            inner: The application that serves the page.
            host: Address and port as a browser writes them: ``127.0.0.1:PORT``.
            font: A TrueType font for signs that the first font lacks.
            clock: Seconds, never going back.
            files: Content type and bytes by path, answered in the place of ``inner``.
        """
        self._inner = inner
        self._host = host
        self._origin = f"http://{host}"
        self._font = font
        self._clock = clock
        self._files = files or {}
        # By their hashes, so that no comparison tells how near a guess came.
        self._tokens: dict[bytes, float] = {}
        self._tabs: dict[bytes, None] = {}

    def new_address(self) -> str:
        """Make an address that opens the page once, within 30 seconds."""
        now = self._clock()
        self._tokens = {t: end for t, end in self._tokens.items() if end > now}
        token = secrets.token_urlsafe(32)
        self._tokens[_hash(token)] = now + TOKEN_SECONDS
        return f"{self._origin}/?t={token}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, refuse or pass on one connection."""
        if scope["type"] == "lifespan":
            await self._inner(scope, receive, send)
            return
        headers, query = Headers(raw=scope["headers"]), _query(scope)
        is_ours = self._is_ours(scope, headers)
        if scope["type"] == "websocket":
            await self._open_socket(scope, receive, send, is_ours=is_ours)
        elif not is_ours:
            await _refuse(send, NOT_OURS)
        elif scope["method"] not in ("GET", "HEAD"):
            await _refuse(send, CLOSED)
        elif "t" in query:
            await self._welcome(query["t"], send)
        elif not _may_read(headers):
            await _refuse(send, NOT_OURS)
        elif scope["path"] == TAB_PATH:
            await self._tell_tab(headers, send)
        else:
            await self._pass_on(scope, receive, send)

    def _is_ours(self, scope: Scope, headers: Headers) -> bool:
        origins = headers.getlist("origin")
        if headers.getlist("host") != [self._host]:
            return False
        if not origins:
            return bool(scope["type"] == "http")
        return origins == [self._origin]

    async def _open_socket(
        self, scope: Scope, receive: Receive, send: Send, *, is_ours: bool
    ) -> None:
        is_socket = scope["path"] == SOCKET_PATH
        if not (is_ours and is_socket and self._knows(_query(scope).get("tab", ""))):
            await receive()
            await send({"type": "websocket.close", "code": 1008})
            return
        # The secret ends here: what is behind needs no secret and might keep it.
        await self._inner({**scope, "query_string": b""}, receive, send)

    def _knows(self, secret: str) -> bool:
        return _hash(secret) in self._tabs

    async def _welcome(self, token: str, send: Send) -> None:
        until = self._tokens.pop(_hash(token), None)
        if until is None or until <= self._clock():
            await _refuse(send, SPENT)
            return
        secret = secrets.token_urlsafe(32)
        while len(self._tabs) >= MOST_TABS:
            del self._tabs[next(iter(self._tabs))]
        self._tabs[_hash(secret)] = None
        page = (_WELCOME % secret).encode()
        policy = content_policy(self._host, script_hashes(page))
        await _answer(send, 200, page, "text/html; charset=utf-8", policy)

    async def _tell_tab(self, headers: Headers, send: Send) -> None:
        given = headers.get(TAB_HEADER, "")
        await _answer(send, 200 if self._knows(given) else 403, b"", "text/plain")

    async def _pass_on(self, scope: Scope, receive: Receive, send: Send) -> None:
        path = scope["path"]
        if path.rstrip("/") in CLOSED_PATHS:
            await _refuse(send, NO_PLACE)
        elif _FALLBACK_FONT_PATH.fullmatch(path):
            await _answer(send, 200, self._font, "font/ttf")
        elif path in self._files:
            kind, content = self._files[path]
            await _answer(send, 200, content, kind)
        elif not _PLAIN_PATH.fullmatch(path):
            await _refuse(send, NO_PLACE)
        else:
            await self._inner(scope, receive, _policed(send, self._host))


def _policed(send: Send, host: str) -> Send:
    """Return a ``send`` that adds the policy, hashing a page's scripts on its way."""
    held: list[Message] = []
    page = bytearray()

    async def passed(message: Message) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = _private(message["headers"])
            held.append(message)
            if _is_page(message):
                return
        elif held:
            page.extend(message.get("body", b""))
            if message.get("more_body", False):
                return
            message = {"type": "http.response.body", "body": bytes(page)}
        if held:
            start = held.pop()
            policy = content_policy(host, script_hashes(bytes(page)))
            start["headers"].append((b"content-security-policy", policy.encode()))
            await send(start)
            if start is message:
                return
        await send(message)

    return passed


def _hash(secret: str) -> bytes:
    # What came from outside may hold any sign, even halves of one.
    return hashlib.sha256(secret.encode("utf-8", "replace")).digest()


def _query(scope: Scope) -> dict[str, str]:
    text = scope.get("query_string", b"").decode("latin-1")
    try:
        return {name: values[0] for name, values in parse_qs(text, True).items()}
    except ValueError:
        # More fields than any page of ours sends.
        return {}


def _may_read(headers: Headers) -> bool:
    sites = headers.getlist("sec-fetch-site")
    if all(site in ("same-origin", "none") for site in sites):
        return True
    # A link to the page from elsewhere opens it as a page, where it says what it lacks.
    modes, places = (headers.getlist(f"sec-fetch-{what}") for what in ("mode", "dest"))
    return modes == ["navigate"] and places == ["document"]


def _is_page(start: Message) -> bool:
    kinds = [v for k, v in start["headers"] if k.lower() == b"content-type"]
    return any(kind.startswith(b"text/html") for kind in kinds)


def _private(headers: Iterable[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    closed = (b"access-control-", b"cache-control")
    kept = [(k, v) for k, v in headers if not k.lower().startswith(closed)]
    return [
        *kept,
        # A copy that the browser kept would outlive the run it belongs to.
        (b"cache-control", b"no-store"),
        (b"x-content-type-options", b"nosniff"),
        (b"referrer-policy", b"no-referrer"),
    ]


async def _refuse(send: Send, refusal: Refusal) -> None:
    page = words_page(refusal)
    await _answer(send, refusal.status, page, "text/html; charset=utf-8")


async def _answer(
    send: Send,
    status: int,
    body: bytes,
    kind: str,
    policy: str = "default-src 'none'; style-src 'unsafe-inline'",
) -> None:
    headers = [
        (b"content-type", kind.encode()),
        (b"content-length", str(len(body)).encode()),
        (b"content-security-policy", policy.encode()),
        # The page is isolated, and takes only files that say that they are its own.
        (b"cross-origin-resource-policy", b"same-origin"),
        (b"cross-origin-opener-policy", b"same-origin"),
        (b"cross-origin-embedder-policy", b"require-corp"),
    ]
    await send(
        {"type": "http.response.start", "status": status, "headers": _private(headers)}
    )
    for at in range(0, len(body), _PIECE):
        piece = body[at : at + _PIECE]
        await send({"type": "http.response.body", "body": piece, "more_body": True})
        # Lets the connection notice that nobody is there any more.
        await asyncio.sleep(0)
    await send({"type": "http.response.body", "body": b""})
