"""Attacks on the local page's server, over real sockets of this computer.

Each is what another program of this computer can do: it may connect as often as it
likes, send what it likes as slowly as it likes, and read nothing of the answer. The
owner's page must be answered meanwhile, memory and log must not grow with it, and every
refusal says in words what happened.
"""

import asyncio
import base64
import contextlib
import logging
import re
import resource
import sys
import time

import pytest

from exam_app.cli.process import AT_ONCE, SECONDS_EACH, FewLines
from exam_app.ui.server import local_server as connections
from exam_app.ui.server.local_server import (
    HEAD_BYTES,
    ROOM,
    bind_loopback,
    build_server,
)

# A page that is being sent when its server ends is cut off, and the framework leaves
# its file to Python to close.
pytestmark = pytest.mark.filterwarnings(
    "ignore:unclosed file .*index.html:ResourceWarning"
)

SECONDS = 20
COOKIES_OF_A_WHOLE_BROWSER = 180, 4_096


async def no_screen(_page):
    """Draw nothing: these tests end before the first screen."""


class Served:
    """A running server, and how its owner and a stranger speak to it."""

    def __init__(self, server):
        self.server = server
        self.writers = []
        self.host = f"127.0.0.1:{server.port}"

    def held(self):
        """Count the connections that the server keeps."""
        return len(self.server._server.server_state.connections)

    async def connect(self):
        """Open a connection, as every program on this computer may."""
        reader, writer = await asyncio.open_connection("127.0.0.1", self.server.port)
        self.writers.append(writer)
        return reader, writer

    async def leave(self):
        """Close every connection of these callers."""
        for writer in self.writers:
            writer.close()
        for writer in self.writers:
            with contextlib.suppress(ConnectionError):
                await writer.wait_closed()
        self.writers.clear()

    async def ask(self, path="/", cookie="", **headers):
        """Send one request and read the whole answer: status, words."""
        lines = [f"GET {path} HTTP/1.1", f"Host: {self.host}", "Connection: close"]
        lines += [f"Cookie: {cookie}"] if cookie else []
        lines += [f"{k.replace('_', '-')}: {v}" for k, v in headers.items()]
        return await self.send("\r\n".join([*lines, "", ""]).encode("latin-1"))

    async def send(self, request):
        """Send bytes and read everything until the other end closes."""
        reader, writer = await self.connect()
        with contextlib.suppress(ConnectionError):
            writer.write(request)
            await writer.drain()
        answer = await read_all(reader, writer)
        head, _, body = answer.partition(b"\r\n\r\n")
        return int(head.split()[1]) if head else 0, body.decode("utf-8", "replace")

    async def enter(self):
        """Open a one-time link as the page does; returns the tab's secret."""
        link = self.server.guard.new_address().split(self.host, 1)[1]
        status, page = await self.ask(link)
        assert status == 200
        return re.search(r'"exam-tab", "([^"]+)"', page)[1]

    async def open_socket(self, secret, origin=None, cookie=""):
        """Ask for the page's websocket; returns reader, writer and whether it came."""
        reader, writer = await self.connect()
        key = base64.b64encode(bytes(16)).decode()
        lines = [
            f"GET /ws?tab={secret} HTTP/1.1",
            f"Host: {self.host}",
            f"Origin: {origin or f'http://{self.host}'}",
            "Connection: Upgrade",
            "Upgrade: websocket",
            "Sec-WebSocket-Version: 13",
            f"Sec-WebSocket-Key: {key}",
        ]
        lines += [f"Cookie: {cookie}"] if cookie else []
        writer.write("\r\n".join([*lines, "", ""]).encode())
        first = await asyncio.wait_for(reader.readline(), SECONDS)
        return reader, writer, b" 101 " in first

    async def owner_works(self, secret):
        """Say whether the owner gets page, file and socket, and how long that took."""
        began = time.monotonic()
        for path in ("/", "/tab.js", "/flutter_bootstrap.js"):
            assert (await self.ask(path))[0] == 200, path
        _reader, writer, is_open = await self.open_socket(secret)
        assert is_open
        writer.close()
        return time.monotonic() - began


def head_of(path, served):
    return f"GET {path} HTTP/1.1\r\nHost: {served.host}\r\n\r\n".encode()


async def read_all(reader, writer):
    async def read():
        with contextlib.suppress(ConnectionError):
            return await reader.read()
        return b""

    try:
        return await asyncio.wait_for(read(), SECONDS)
    finally:
        writer.close()


@pytest.fixture
async def served(caplog):
    caplog.set_level(logging.WARNING)
    server = build_server(no_screen, bind_loopback(0))
    started = asyncio.Event()

    async def note():
        started.set()

    running = asyncio.create_task(server.run(note))
    await started.wait()
    served = Served(server)
    yield served
    await served.leave()
    server.stop()
    await running


@pytest.mark.slow
async def test_1400_idle_connections_leave_the_owner_working(served, caplog):
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if hard < 4_000:
        pytest.skip("this system lets one program open too few connections")
    resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, 4_000), hard))
    secret = await served.enter()
    owner, _writer, is_open = await served.open_socket(secret)
    assert is_open
    slowest, most = 0.0, 0
    for _ in range(14):
        for _ in range(100):
            await served.connect()
        slowest = max(slowest, await served.owner_works(secret))
        most = max(most, served.held())
    assert most <= ROOM + 20
    assert not owner.at_eof(), "the owner's own socket was closed for a stranger"
    assert caplog.records == []
    sys.stdout.write(
        f"1 400 idle connections: at most {most} held, the owner waited {slowest:.3f} s"
        " at most for a page, two files and a socket\n"
    )


async def test_a_whole_browsers_cookies_of_other_ports_lock_nobody_out(served):
    count, size = COOKIES_OF_A_WHOLE_BROWSER
    crowd = "; ".join(f"c{n}={'x' * (size - 8)}" for n in range(count))
    secret = await served.enter()
    assert (await served.ask("/", cookie=crowd))[0] == 200
    _reader, writer, is_open = await served.open_socket(secret, cookie=crowd)
    assert is_open
    writer.close()


async def test_more_cookies_than_any_browser_keeps_end_in_words_and_a_way_on(served):
    status, words = await served.ask("/", cookie="c=" + "x" * (HEAD_BYTES + 1))
    assert status == 431
    for said in ("cookies", "127.0.0.1", "Exams are untouched", "--window", "new link"):
        assert said in words
    # The new link, from a browser that does not send them.
    assert await served.owner_works(await served.enter())


async def test_what_another_port_is_sent_opens_no_socket(served):
    secret = await served.enter()
    own = f"http://{served.host}"
    for stolen in (f"exam-tab={secret}", f"tab={secret}", "exam_0=1"):
        _reader, writer, is_open = await served.open_socket("", own, stolen)
        assert not is_open
        writer.close()
    other = await served.open_socket(secret, origin="http://127.0.0.1:9")
    assert not other[2], "another port's page opened a socket"
    other[1].close()
    assert await served.owner_works(secret)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("request_text", "status", "said"),
    [
        ("GET / HTTP/1.1\r\nHost: {host}\r\nX: " + "y" * 9_000, 431, "longer than any"),
        ("GET /" + "y" * 9_000, 431, "longer than any"),
        ("GET / HTTP/1.1\r\n" + "X: y\r\n" * 200, 431, "longer than any"),
        ("never a request\r\n\r\n", 400, "could not be read"),
        ("GET / HTTP/1.1\r\nHost: {host}\r\n\r\n" * 400, 400, "could not be read"),
        (
            "GET / HTTP/1.1\r\nHost: {host}\r\nContent-Length: 9\r\n\r\nnine bytes",
            431,
            "",
        ),
        ("GET / HTTP/1.1\r\nHost: evil.example\r\n{close}\r\n", 403, "own page"),
        (
            "GET / HTTP/1.1\r\nHost: {host}\r\nConnection: upgrade\r\n"
            "Upgrade: h2c\r\n\r\n",
            400,
            "could not be read",
        ),
        ("POST / HTTP/1.1\r\nHost: {host}\r\n{close}\r\n", 405, "only shows"),
    ],
)
async def test_each_malformed_request_is_refused_in_words_and_logged_nowhere(
    served, caplog, monkeypatch, request_text, status, said
):
    monkeypatch.setattr(connections, "HEAD_SECONDS", 1.0)
    for _ in range(20):
        text = request_text.replace("{host}", served.host)
        text = text.replace("{close}", "Connection: close\r\n") + "\r\n\r\n"
        answered, words = await served.send(text.encode())
        assert answered == status
        assert said in words
    assert caplog.records == []
    assert await served.owner_works(await served.enter())


@pytest.mark.slow
async def test_a_head_that_drips_in_is_cut_off_in_words_and_an_idle_one_silently(
    served, monkeypatch
):
    monkeypatch.setattr(connections, "HEAD_SECONDS", 0.4)
    reader, writer = await served.connect()
    idle, stranger = await served.connect()
    began = time.monotonic()
    writer.write(f"GET / HTTP/1.1\r\nHost: {served.host}\r\nX: ".encode())
    with contextlib.suppress(ConnectionError):
        while time.monotonic() < began + 2 and not reader.at_eof():
            writer.write(b"y")
            await asyncio.sleep(0.02)
    assert b"ten seconds" in await read_all(reader, writer)
    assert time.monotonic() - began < 3
    assert await read_all(idle, stranger) == b""


@pytest.mark.slow
async def test_an_answer_that_nobody_reads_is_taken_back(served, monkeypatch):
    monkeypatch.setattr(connections, "ANSWER_SECONDS", 0.4)
    secret = await served.enter()
    waiting = []
    for _ in range(ROOM - 8):
        reader, writer = await served.connect()
        reader._transport.pause_reading()
        writer.write(
            f"GET /main.dart.js HTTP/1.1\r\nHost: {served.host}\r\n\r\n".encode()
        )
        waiting.append(writer)
    await asyncio.sleep(0.2)
    kept = sum(
        connection.transport.get_write_buffer_size()
        for connection in served.server._server.server_state.connections
    )
    assert kept < ROOM * 300_000
    assert await served.owner_works(secret)
    for _ in range(100):
        if served.held() < 8:
            break
        await asyncio.sleep(0.05)
    assert served.held() < 8
    for writer in waiting:
        writer.close()


async def test_callers_who_leave_in_the_middle_write_no_log(served, caplog):
    for path in ("/main.dart.js", "/canvaskit/canvaskit.wasm", "/", "/nothing.png"):
        for _ in range(10):
            _reader, writer = await served.connect()
            writer.write(head_of(path, served))
            await writer.drain()
            writer.transport.abort()
    await asyncio.sleep(0.2)
    assert await served.owner_works(await served.enter())
    assert caplog.records == []


@pytest.mark.slow
async def test_guesses_at_links_and_tabs_open_nothing(served, caplog):
    secret = await served.enter()
    for n in range(300):
        guess = f"{secret[:-3]}.{n:02}"
        assert (await served.ask(f"/?t={guess}"))[0] == 403
        _reader, writer, is_open = await served.open_socket(guess)
        assert not is_open
        writer.close()
    assert caplog.records == []
    assert await served.owner_works(secret)


@pytest.mark.slow
def test_log_takes_few_lines_at_once_and_says_how_many_were_left_out():
    now = [0.0]
    few = FewLines(lambda: now[0])
    lines = []

    def log(count):
        for _ in range(count):
            record = logging.makeLogRecord({"msg": "socket %s", "args": ("failed",)})
            if few.filter(record):
                lines.append(record.getMessage())

    log(10_000)
    assert len(lines) == AT_ONCE
    now[0] += SECONDS_EACH
    log(10_000)
    assert lines[AT_ONCE:] == [f"socket failed ({10_000 - AT_ONCE} lines left out)"]
    for _ in range(24 * 60):
        now[0] += SECONDS_EACH
        log(100)
    assert len(lines) <= AT_ONCE + 1 + 24 * 60
