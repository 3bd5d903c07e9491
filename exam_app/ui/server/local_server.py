"""Serve the page on this computer only.

The socket is bound to 127.0.0.1 before anything else starts, so that a taken port
is known at once and the guard knows the exact address it answers to.
"""

import asyncio
import socket
import sys
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import ClassVar

import flet as ft
import uvicorn

from exam_app.domain.errors import ExamError
from exam_app.resources import assets_folder, fallback_font
from exam_app.ui.server.connections import BACKLOG, BoundedConnection
from exam_app.ui.server.guard import (
    Application,
    Guard,
    Message,
    OwnFile,
    Receive,
    Scope,
    Send,
)
from exam_app.web_client import (
    CLIENT_SCRIPT,
    client_folder,
    without_foreign_requests,
)

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
        web_renderer=ft.WebRenderer.CANVAS_KIT,
        no_cdn=True,
    )
    outer.mount("/", without_late_messages(page))
    script = without_foreign_requests(
        CLIENT_SCRIPT, (client_folder() / CLIENT_SCRIPT).read_text("utf-8")
    ).encode()
    own = {f"/{CLIENT_SCRIPT}": OwnFile("text/javascript; charset=utf-8", script)}
    guard = Guard(outer, f"{LOOPBACK}:{port}", fallback_font(), files=own)
    settings = uvicorn.Config(
        guard,
        http=BoundedConnection,
        backlog=BACKLOG,
        ws="websockets-sansio",
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


def without_late_messages(inner: Application) -> Application:
    """Drop what is sent to a page that has just closed its connection.

    Flet ends a session's connection only where every message went out. A page that
    was loaded anew while one was on its way stayed the tab that holds the exams, and
    the new page was told that they are open in another tab.
    """

    async def outer(scope: Scope, receive: Receive, send: Send) -> None:
        async def sent(message: Message) -> None:
            try:
                await send(message)
            except OSError:
                # Gone: ``receive`` says so too, and that ends the connection.
                if scope["type"] != "websocket":
                    raise

        await inner(scope, receive, sent)

    return outer
