"""Give the built folder out: whole files, read once, and nothing else.

No listing, no other folder, no writing; a request names a file of the build or is
refused. Texts and WebAssembly are sent compressed to those who take it. What a phone
asks for is counted, and nothing about the phone is kept.
"""

import gzip
import ssl
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import unquote, urlsplit

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


def make_server(
    files: Mapping[str, Sent],
    address: tuple[str, int],
    tls: ssl.SSLContext | None = None,
) -> "Host":
    """Bind a host to an address; it answers once ``serve_forever`` runs.

    Args:
        files: As from ``read_build``; more can be beside them.
        address: Where to listen, and the port.
        tls: For https.

    Raises:
        OSError: The address or port cannot be had.
    """
    return Host(files, address, tls)


class Host(ThreadingHTTPServer):
    """A host of fixed files.

    Attributes:
        asked: The paths that were asked for, in order.
    """

    daemon_threads = True

    def __init__(
        self,
        files: Mapping[str, Sent],
        address: tuple[str, int],
        tls: ssl.SSLContext | None,
    ) -> None:
        """Bind; the handshake is left to the thread of each connection."""
        super().__init__(address, _Answer)
        self.files = files
        self.asked: list[str] = []
        self.turn = threading.Lock()
        if tls is not None:
            self.socket = tls.wrap_socket(
                self.socket, server_side=True, do_handshake_on_connect=False
            )

    @property
    def port(self) -> int:
        """The port it listens on."""
        return int(self.server_address[1])

    def handle_error(self, request: object, client_address: object) -> None:
        """Say nothing of phones that turn away, as those without trust do."""


class _Answer(BaseHTTPRequestHandler):
    server: Host
    protocol_version = "HTTP/1.1"
    timeout = 30

    def do_GET(self) -> None:
        path = unquote(urlsplit(self.path).path)
        with self.server.turn:
            self.server.asked.append(path)
        sent = self.server.files.get(path)
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
        self.wfile.write(body)

    def version_string(self) -> str:
        return "exam"

    def log_message(self, *_: object) -> None:
        """Keep no log of phones."""


def _sent(path: Path) -> Sent:
    content = path.read_bytes()
    kind = _TYPES.get(path.suffix, "application/octet-stream")
    packed = gzip.compress(content, 6) if path.suffix in _COMPRESSED else None
    return Sent(kind, content, packed)
