"""Serve the page on this computer only.

The socket is bound to 127.0.0.1 before anything else starts, so that a taken port
is known at once and the guard knows the exact address it answers to.

Everybody on this computer can connect, so every connection is short on everything:

1. So many connections wait or are answered at a time (``ROOM``). One more closes the
   one that has waited longest, so that a thousand idle ones leave room for the page. A
   websocket, which only a tab's secret opens, is not among them and never closed so.
2. A request's head comes within ``HEAD_SECONDS`` of the connection, or of the answer
   before it; single bytes that drip in win no time. An answer is read within
   ``ANSWER_SECONDS``.
3. A head is at most ``HEAD_BYTES`` long, cookies included: more than a browser can
   keep for one address, so that no other server locks the owner out by leaving
   cookies. They are dropped as they come; of the rest ``KEPT_BYTES`` are kept.
4. No request has a body, and none is sent before the one ahead of it was answered.
5. A refusal says why, in a page of words, and writes no line into any log.
"""

import asyncio
import http
import socket
import sys
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import ClassVar, cast

import flet as ft
import httptools
import uvicorn
from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

from exam_app.domain.errors import ExamError
from exam_app.resources import assets_folder, fallback_font
from exam_app.ui.server.guard import (
    CROWDED,
    TOO_LONG,
    TOO_SLOW,
    UNREADABLE,
    Guard,
    Refusal,
    words_page,
)
from exam_app.ui.server.page_messages import together, without_late_messages
from exam_app.web_client import (
    CLIENT_MODULE,
    FONT_LIST,
    ServedTo,
    changed_scripts,
    client_folder,
    font_list,
    module_without_foreign_requests,
    script_served,
)

ROOM = 96
# Accepted in one go; more wait in the system.
BACKLOG = 48
HEAD_SECONDS = 10.0
ANSWER_SECONDS = 60.0
# Browsers keep 180 cookies of 4 096 bytes for an address (Chromium and Firefox, from
# memory; tests/browser/test_network.py fills a Chromium's).
HEAD_BYTES = 1 << 20
# A backup that is restored through the page is the largest thing that comes.
LARGEST_MESSAGE = 1 << 28
KEPT_BYTES = 6 * 1024
KEPT_HEADERS = 64
# How long and how much of a refused request is still read, so that the words arrive.
_REFUSED_SECONDS = 2.0
_REFUSED_BYTES = 8 << 20


class BoundedConnection(HttpToolsProtocol):
    """One connection of the local server."""

    since = 0.0
    is_waiting = True
    _is_refused = False
    _head_bytes = 0
    _kept_bytes = 0
    _end: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Take a place, the longest waiting one's where there is none."""
        others = [c for c in self.connections if isinstance(c, BoundedConnection)]
        if len(others) >= ROOM:
            min(others, key=lambda c: (not c.is_waiting, c.since)).give_way()
        super().connection_made(cast("asyncio.Transport", transport))
        self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget the connection."""
        self._let_until(None)
        super().connection_lost(exc)

    def give_way(self) -> None:
        """Leave at once for another connection."""
        self._let_until(None)
        self.connections.discard(self)
        self.transport.abort()

    def data_received(self, data: bytes) -> None:
        """Read on, within the bounds."""
        self._head_bytes += len(data)
        if self._is_refused:
            if self._head_bytes > _REFUSED_BYTES:
                self.transport.abort()
            return
        if self._head_bytes > HEAD_BYTES:
            self.refuse(CROWDED)
            return
        try:
            self.parser.feed_data(data)
        except httptools.HttpParserUpgrade:
            if self._is_refused:
                return
            if self._should_upgrade():
                self._let_until(None)
                self.handle_websocket_upgrade()
            else:
                self.refuse(UNREADABLE)
        except httptools.HttpParserError:
            self.refuse(UNREADABLE)

    def on_url(self, url: bytes) -> None:
        """Take a part of the address."""
        self._keep(len(url))
        if not self._is_refused:
            super().on_url(url)

    def on_header(self, name: bytes, value: bytes) -> None:
        """Take a header, unless it is a cookie: nothing here reads one."""
        if name.lower() == b"cookie":
            return
        self._keep(len(name) + len(value))
        if not self._is_refused and len(self.headers) >= KEPT_HEADERS:
            self.refuse(TOO_LONG)
        if not self._is_refused:
            super().on_header(name, value)

    def on_headers_complete(self) -> None:
        """Begin the answer."""
        if self._is_refused:
            return
        if self.cycle is not None and not self.cycle.response_complete:
            self.refuse(UNREADABLE)
            return
        self.is_waiting = False
        self._let_until(ANSWER_SECONDS, self.transport.abort)
        super().on_headers_complete()

    def on_body(self, body: bytes) -> None:
        """Refuse: no request of the page has a body."""
        if body and not self._is_refused:
            self.refuse(TOO_LONG)

    def on_message_complete(self) -> None:
        """Let the answer know that nothing more comes."""
        if not self._is_refused:
            super().on_message_complete()

    def on_response_complete(self) -> None:
        """Wait for the next request, no longer than for the first."""
        super().on_response_complete()
        self._unset_keepalive_if_required()
        if not self.transport.is_closing():
            self._wait()

    def refuse(self, refusal: Refusal) -> None:
        """Say why in a page of words, read the rest for a while, and close."""
        if self._is_refused or self.transport.is_closing():
            return
        self._is_refused = True
        self._head_bytes = 0
        is_answering = self.cycle is not None and not self.cycle.response_complete
        if is_answering and self.cycle.response_started:
            self.transport.abort()
            return
        if self.cycle is not None:
            # Whatever is still being made for this caller goes nowhere.
            self.cycle.disconnected = True
            self.cycle.message_event.set()
        page = words_page(refusal)
        phrase = http.HTTPStatus(refusal.status).phrase
        head = (
            f"HTTP/1.1 {refusal.status} {phrase}\r\n"
            "content-type: text/html; charset=utf-8\r\n"
            f"content-length: {len(page)}\r\n"
            "content-security-policy: default-src 'none'; style-src 'unsafe-inline'\r\n"
            "cache-control: no-store\r\nconnection: close\r\n\r\n"
        )
        self.transport.write(head.encode() + page)
        self.transport.write_eof()
        self._let_until(_REFUSED_SECONDS, self.transport.abort)

    def _keep(self, count: int) -> None:
        self._kept_bytes += count
        if self._kept_bytes > KEPT_BYTES:
            self.refuse(TOO_LONG)

    def _wait(self) -> None:
        self.is_waiting = True
        self.since = self.loop.time()
        self._head_bytes = self._kept_bytes = 0
        self._let_until(HEAD_SECONDS, self._end_waiting)

    def _end_waiting(self) -> None:
        if self._head_bytes:
            self.refuse(TOO_SLOW)
        else:
            self.transport.close()

    def _let_until(
        self, seconds: float | None, then: Callable[[], None] | None = None
    ) -> None:
        if self._end is not None:
            self._end.cancel()
            self._end = None
        if seconds is not None and then is not None:
            self._end = self.loop.call_later(seconds, then)


LOOPBACK = "127.0.0.1"


class PortTakenError(ExamError):
    """Another program listens on the port asked for."""

    advice: ClassVar[str] = (
        "Another program already uses this port. Nothing was changed. "
        "Choose another one with --port, or leave --port out to take any free one."
    )


class ServerStoppedError(ExamError):
    """The server ended before it had begun to answer."""

    advice: ClassVar[str] = (
        "The page could not be served on this computer. Nothing was changed. "
        "Read the lines above for the cause, then start the app again."
    )


@dataclass(frozen=True, slots=True)
class LocalServer:
    """A server that is about to run on a bound port."""

    guard: Guard
    port: int
    _server: uvicorn.Server
    _socket: socket.socket

    async def run(self, started: Callable[[], Awaitable[None]]) -> None:
        """Serve until interrupted or stopped.

        Args:
            started: Awaited once, when the first request can be answered.

        Raises:
            ServerStoppedError: It never got that far.
        """
        serving = asyncio.create_task(self._server.serve(sockets=[self._socket]))
        while not self._server.started and not serving.done():
            await asyncio.sleep(0.02)
        if not self._server.started:
            await serving
            raise ServerStoppedError("the server ended while starting")
        showing = asyncio.ensure_future(started())
        await asyncio.wait({serving, showing}, return_when=asyncio.FIRST_COMPLETED)
        if showing.done():
            # What it raises ends the server too.
            showing.result()
        try:
            await serving
        finally:
            showing.cancel()
            await asyncio.wait({showing})

    def stop(self) -> None:
        """End soon, without waiting for open pages."""
        self._server.should_exit = True
        self._server.force_exit = True


def bind_loopback(port: int) -> socket.socket:
    """Take a port of this computer; 0 takes any free one.

    Raises:
        PortTakenError: Another program has it, or this user may not have it.
    """
    bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform != "win32":
        # Elsewhere this only allows a port that was just given up; on Windows it
        # would let two programs share one.
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((LOOPBACK, port))
    except OSError as error:
        bound.close()
        raise PortTakenError(f"port {port}") from error
    return bound


def build_server(
    main: Callable[[ft.Page], Awaitable[None]], bound: socket.socket
) -> LocalServer:
    """Put the guarded page behind a bound socket.

    Args:
        main: Called by Flet for every tab.
        bound: As from ``bind_loopback``.

    Raises:
        ClientChangedError: The installed web client is another one.
    """
    # Importing the web part takes half a second: not before it is needed.
    import flet_web.fastapi as flet_fastapi  # noqa: PLC0415

    port = bound.getsockname()[1]
    outer = flet_fastapi.FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    page = flet_fastapi.app(
        main,
        assets_dir=str(assets_folder()),
        app_name="Exam",
        app_short_name="Exam",
        app_description="Examine an animal from nose to tail.",
        # The compiled module where the browser runs it, else the script.
        web_renderer=ft.WebRenderer.AUTO,
        no_cdn=True,
    )
    outer.mount("/", without_late_messages(together(page)))
    guard = Guard(outer, f"{LOOPBACK}:{port}", fallback_font(), files=_own_files())
    settings = uvicorn.Config(
        guard,
        http=BoundedConnection,
        backlog=BACKLOG,
        ws="websockets-sansio",
        # A file that is chosen comes in one; only the tab's secret opens the socket.
        ws_max_size=LARGEST_MESSAGE,
        # Into the app's own log, which is bounded.
        log_config=None,
        log_level="warning",
        access_log=False,
        lifespan="on",
        server_header=False,
        # Nobody stands between the page and this server.
        proxy_headers=False,
        timeout_graceful_shutdown=2,
    )
    return LocalServer(guard, port, uvicorn.Server(settings), bound)


def _own_files() -> dict[str, tuple[str, bytes]]:
    """Return the files of the web client that are served as they are changed here."""
    folder, to = client_folder(), ServedTo.COMPUTER
    javascript = "text/javascript; charset=utf-8"
    module = module_without_foreign_requests((folder / CLIENT_MODULE).read_bytes())
    served = {
        f"/{CLIENT_MODULE}": ("application/wasm", module),
        f"/{FONT_LIST}": ("application/json", font_list().encode()),
    }
    for name in changed_scripts(to):
        script = (folder / name).read_text("utf-8")
        served[f"/{name}"] = (javascript, script_served(name, script, to).encode())
    return served
