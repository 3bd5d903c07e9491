"""Give the built folder out: whole files, read once, and nothing else.

No listing, no other folder, no writing; a request names a file of the build or is
refused in words. Texts and WebAssembly are sent compressed to those who take it.
Nothing is kept of what was asked for or by whom.

Everybody in the network can connect, so every connection is short: ``ROOM`` are held
at a time, one more ends the one that has waited longest, a request's head comes within
``HEAD_SECONDS`` and is at most ``HEAD_BYTES`` long, an answer is read within
``ANSWER_SECONDS``.
"""

import contextlib
import gzip
import http.client
import socket
import ssl
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from io import BufferedIOBase
from pathlib import Path
from typing import cast
from urllib.parse import unquote

from exam_app.phone.building import KEEPER
from exam_app.phone.errors import NoBuildError

_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".mjs": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".txt": "text/plain; charset=utf-8",
    ".wasm": "application/wasm",
    ".zip": "application/zip",
    ".png": "image/png",
    ".ttf": "font/ttf",
    ".otf": "font/otf",
    ".woff2": "font/woff2",
    ".crt": "application/x-x509-ca-cert",
}
ROOM = 48
# Ended already, their threads not gone yet; with more of them the next is waited for.
LEAVING = 16
LEAVING_SECONDS = 5.0
HEAD_SECONDS = 10.0
# A large file over a slow radio link.
ANSWER_SECONDS = 300.0
HEAD_BYTES = 64 * 1024
# How long a refused request is still read.
_REFUSED_SECONDS = 2.0
_COMPRESSED = (".html", ".js", ".mjs", ".json", ".wasm", ".ttf", ".otf", "")


@dataclass(frozen=True, slots=True)
class Sent:
    """One file as it is sent.

    Attributes:
        kind: Its content type.
        content: As it is.
        packed: With gzip, or None where that saves nothing.
    """

    kind: str
    content: bytes
    packed: bytes | None


def read_build(folder: Path) -> dict[str, Sent]:
    """Read a build into memory, by the paths that a page asks for.

    Raises:
        NoBuildError: The folder holds none.
    """
    if not (folder / KEEPER).is_file() or not (folder / "index.html").is_file():
        raise NoBuildError(str(folder))
    files = {
        f"/{path.relative_to(folder).as_posix()}": _sent(path)
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
    return {**files, "/": files["/index.html"]}


class Host(ThreadingHTTPServer):
    """A host of fixed files, short with everybody alike.

    Attributes:
        files: What is given out.
    """

    daemon_threads = True
    request_queue_size = 128

    def __init__(
        self,
        files: Mapping[str, Sent],
        address: tuple[str, int],
        tls: ssl.SSLContext | None = None,
    ) -> None:
        """Bind to an address; the host answers once ``serve_forever`` runs.

        Args:
            files: As from ``read_build``; more can be beside them.
            address: Where to listen, and the port.
            tls: For https; each connection's own thread shakes hands.

        Raises:
            OSError: The address or port cannot be had.
        """
        super().__init__(address, _Answer)
        self.files = files
        self._turn = threading.Condition()
        self._visits: dict[socket.socket, _Visit] = {}
        if tls is not None:
            self.socket = tls.wrap_socket(
                self.socket, server_side=True, do_handshake_on_connect=False
            )

    @property
    def port(self) -> int:
        """The port it listens on."""
        return int(self.server_address[1])

    def process_request(self, request: object, client_address: object) -> None:
        """Take a connection, in the place of the longest waiting one if need be."""
        connection = cast("socket.socket", request)
        with self._turn:
            waiting = [v for v in self._visits.values() if not v.is_leaving]
            if len(waiting) >= ROOM:
                min(waiting, key=lambda v: (not v.is_waiting, v.since)).end()
            # Not dropped for threads that only have to be run once more to be gone.
            has_room = self._turn.wait_for(
                lambda: len(self._visits) < ROOM + LEAVING, LEAVING_SECONDS
            )
            if has_room:
                self._visits[connection] = _Visit(connection, time.monotonic())
        if not has_room:
            self.shutdown_request(connection)
        else:
            super().process_request(connection, cast("tuple[str, int]", client_address))

    def shutdown_request(self, request: object) -> None:
        """Forget a connection that has ended."""
        connection = cast("socket.socket", request)
        with self._turn:
            self._visits.pop(connection, None)
            self._turn.notify_all()
        super().shutdown_request(connection)

    def service_actions(self) -> None:
        """End what takes too long; called about twice a second."""
        now = time.monotonic()
        with self._turn:
            for visit in self._visits.values():
                allowed = HEAD_SECONDS if visit.is_waiting else ANSWER_SECONDS
                if now - visit.since > allowed:
                    visit.end(tells=visit.is_waiting)

    def note(self, connection: socket.socket, *, is_waiting: bool) -> None:
        """Note that a connection waits for its next request, or is answered."""
        with self._turn:
            visit = self._visits.get(connection)
            if visit is not None:
                visit.is_waiting, visit.since = is_waiting, time.monotonic()

    def handle_error(self, request: object, client_address: object) -> None:
        """Say nothing of phones that turn away, as those without trust do."""


@dataclass(slots=True)
class _Visit:
    """One connection, and since when it waits or is answered."""

    connection: socket.socket
    since: float
    is_waiting: bool = True
    is_leaving: bool = False

    def end(self, *, tells: bool = False) -> None:
        """Wake its thread, which finds nothing more to read and may say why."""
        if not tells or self.is_leaving:
            self.is_leaving = True
            self._shut(socket.SHUT_RDWR)
            return
        self.is_leaving = True
        self.since = time.monotonic()
        self._shut(socket.SHUT_RD)

    def _shut(self, how: int) -> None:
        # Not the method of a TLS connection, whose thread is in the middle of it.
        with contextlib.suppress(OSError):
            socket.socket.shutdown(self.connection, how)


class _Head:
    """Reads a request's head up to ``HEAD_BYTES``."""

    def __init__(self, inner: BufferedIOBase) -> None:
        self._inner = inner
        self.left = HEAD_BYTES

    def readline(self, size: int = -1) -> bytes:
        most = self.left + 1
        line = self._inner.readline(most if size < 0 else min(size, most))
        self.left -= len(line)
        if self.left < 0:
            raise http.client.LineTooLong("head")
        return line

    def close(self) -> None:
        self._inner.close()


class _Answer(BaseHTTPRequestHandler):
    server: Host
    protocol_version = "HTTP/1.1"
    timeout = 30
    error_content_type = "text/html; charset=utf-8"
    error_message_format = (
        "<!doctype html><html lang=en><meta charset=utf-8>"
        '<meta name=viewport content="width=device-width"><title>Not given</title>'
        "<h1>This was not given (%(code)d)</h1><p>This host gives out the app for "
        "phones and nothing else: there is no such file, or the request came too "
        "slowly or was too long (many cookies of this address: clear them in the "
        "browser). Exams on this device are untouched, and the app starts without "
        "this host. Open the address that the computer shows.</p>"
    )

    def setup(self) -> None:
        super().setup()
        self.rfile = cast("BufferedIOBase", _Head(self.rfile))

    def handle_one_request(self) -> None:
        self.server.note(self.request, is_waiting=True)
        cast("_Head", self.rfile).left = HEAD_BYTES
        try:
            super().handle_one_request()
        except http.client.LineTooLong:
            self.requestline, self.request_version, self.command = "", "HTTP/1.1", ""
            self.send_error(431)

    def do_GET(self) -> None:
        self.server.note(self.request, is_waiting=False)
        # Not by a function of the library that remembers what it was given.
        sent = self.server.files.get(unquote(self.path.partition("?")[0]))
        if sent is None:
            self.send_error(404)
            return
        packs = "gzip" in self.headers.get("Accept-Encoding", "")
        body = sent.packed if packs and sent.packed is not None else sent.content
        self.send_response(200)
        self.send_header("Content-Type", sent.kind)
        self.send_header("Content-Length", str(len(body)))
        # The page's own worker keeps the app; a copy of the browser's would be stale.
        self.send_header("Cache-Control", "no-cache")
        self.send_header("X-Content-Type-Options", "nosniff")
        self.send_header("Referrer-Policy", "no-referrer")
        if body is sent.packed:
            self.send_header("Content-Encoding", "gzip")
        self.end_headers()
        # For the whole of it, not for each piece.
        self.connection.settimeout(ANSWER_SECONDS)
        self.wfile.write(body)
        self.connection.settimeout(self.timeout)

    def send_error(
        self, code: int, message: str | None = None, explain: str | None = None
    ) -> None:
        super().send_error(code, message, explain)
        if code in (400, 414, 431):
            self._read_off()

    def _read_off(self) -> None:
        # What is still on its way would reset the connection, and the words with it.
        until = time.monotonic() + _REFUSED_SECONDS
        with contextlib.suppress(OSError):
            self.wfile.flush()
            socket.socket.shutdown(self.connection, socket.SHUT_WR)
            while (left := until - time.monotonic()) > 0:
                self.connection.settimeout(left)
                if not self.connection.recv(65_536):
                    return

    def version_string(self) -> str:
        return "exam"

    def log_message(self, *_: object) -> None:
        """Keep no log of phones."""


def _sent(path: Path) -> Sent:
    content = path.read_bytes()
    kind = _TYPES.get(path.suffix, "application/octet-stream")
    packed = gzip.compress(content, 6) if path.suffix in _COMPRESSED else None
    return Sent(kind, content, packed)
