"""Attacks on the host of the phone's app, over real sockets of this computer."""

import argparse
import contextlib
import os
import resource
import socket
import stat
import sys
import threading
import time
import tracemalloc
import urllib.request

import pytest

from exam_app.cli import phone as phone_commands
from exam_app.cli.phone import PhonePortTakenError, listening_address, serve_phone
from exam_app.phone import serving
from exam_app.phone.serving import ROOM, Host, Sent
from exam_app.phone.trust import check_address, open_trust
from tests.phone.test_phone_trust import NOW, client

PAGE = b"the app" * 10_000
CLOSING = b"GET %s HTTP/1.1\r\nConnection: close\r\n\r\n"


@contextlib.contextmanager
def serving_host(tls=None):
    files = {"/": Sent("text/html", PAGE, None)}
    host = Host(files, ("127.0.0.1", 0), tls)
    # Asked often whether it is to end: the half second of itself is waited out.
    threading.Thread(target=host.serve_forever, args=(0.02,), daemon=True).start()
    try:
        yield host
    finally:
        host.shutdown()
        host.server_close()


@pytest.fixture
def host():
    with serving_host() as made:
        yield made


def get(host, trust=None):
    address = f"http{'s' if trust else ''}://127.0.0.1:{host.port}/"
    known = client(trust.authority) if trust else None
    with urllib.request.urlopen(address, timeout=20, context=known) as answer:
        return answer.read()


def send(host, request):
    with socket.create_connection(("127.0.0.1", host.port), timeout=20) as stranger:
        with contextlib.suppress(ConnectionError):
            stranger.sendall(request)
        return read_all(stranger)


def read_all(stranger):
    found = b""
    with contextlib.suppress(ConnectionError):
        while piece := stranger.recv(65_536):
            found += piece
    return found


def until(true_now):
    end = time.monotonic() + 20
    while not true_now():
        assert time.monotonic() < end
        time.sleep(0.02)


@pytest.mark.slow
@pytest.mark.parametrize(
    "is_secure", [False, pytest.param(True, marks=pytest.mark.exhaustive)]
)
def test_1400_idle_connections_leave_the_phones_served(tmp_path, is_secure):
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if hard < 4_000:
        pytest.skip("this system lets one program open too few connections")
    resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, 4_000), hard))
    trust = open_trust(tmp_path, "127.0.0.1", NOW)
    with serving_host(trust.context if is_secure else None) as host:
        idle, most, slowest = [], 0, 0.0
        try:
            for _ in range(14):
                idle += [
                    socket.create_connection(("127.0.0.1", host.port), timeout=20)
                    for _ in range(100)
                ]
                began = time.monotonic()
                assert get(host, trust if is_secure else None) == PAGE
                slowest = max(slowest, time.monotonic() - began)
                most = max(most, len(host._visits))
        finally:
            for stranger in idle:
                stranger.close()
        assert most <= ROOM + serving.LEAVING
        until(lambda: not host._visits)
    sys.stdout.write(f"1 400 idle: at most {most} held, {slowest:.3f} s for a page\n")


def test_a_head_that_drips_in_ends_in_words_and_an_idle_one_ends(host, monkeypatch):
    monkeypatch.setattr(serving, "HEAD_SECONDS", 0.3)
    with (
        socket.create_connection(("127.0.0.1", host.port), timeout=20) as slow,
        socket.create_connection(("127.0.0.1", host.port), timeout=20) as idle,
    ):
        slow.sendall(b"GET /nothing HT")
        ended = threading.Event()
        found = []

        def read():
            found.append(read_all(slow))
            ended.set()

        threading.Thread(target=read, daemon=True).start()
        with contextlib.suppress(ConnectionError):
            while not ended.wait(0.05):
                slow.sendall(b"T")
        assert b"came too slowly" in found[0]
        assert read_all(idle) == b""
    until(lambda: not host._visits)


@pytest.mark.parametrize(
    ("request_text", "status"),
    [
        ("GET / HTTP/1.1\r\nCookie: " + "c" * 70_000, 431),
        ("GET / HTTP/1.1\r\n" + ("X: " + "y" * 1_000 + "\r\n") * 90, 431),
        ("GET /" + "y" * 70_000, 431),
        ("GET /nothing HTTP/1.1\r\nConnection: close", 404),
        ("POST / HTTP/1.1", 501),
        ("GET / HTTP/x.y", 0),
    ],
)
def test_each_refusal_of_the_host_has_words(host, request_text, status):
    answer = send(host, f"{request_text}\r\n\r\n".encode())
    assert b"Exams on this device are untouched" in answer
    # Of a version that nobody speaks there is no head.
    assert answer.startswith(b"HTTP/1.1 %d" % status if status else b"<!doctype")
    assert get(host) == PAGE


@pytest.mark.slow
def test_what_was_asked_for_is_kept_nowhere(host):
    def ask(count):
        for n in range(count):
            path = f"/{n}{'y' * 2_000}"
            assert b" 404 " in send(host, CLOSING % path.encode())

    ask(20)
    tracemalloc.start()
    ask(300)
    until(lambda: not host._visits)
    kept, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert kept < 200_000, "the host grows with every request"


@pytest.mark.parametrize(
    ("name", "known_as", "listens"),
    [
        ("192.168.1.20", ["192.168.1.20"], "192.168.1.20"),
        ("127.0.0.1", ["127.0.0.1"], "127.0.0.1"),
        ("localhost", ["127.0.0.1"], "127.0.0.1"),
        ("clinic.local", ["192.168.1.21"], "192.168.1.21"),
        # As some systems write their own name into their own list.
        ("clinic", ["127.0.1.1"], "192.168.1.77"),
        ("clinic.local", None, "192.168.1.77"),
    ],
)
def test_the_host_listens_on_the_named_address_only(
    tmp_path, monkeypatch, name, known_as, listens
):
    def look_up(asked, *_):
        assert asked == name
        if known_as is None:
            raise OSError("unknown")
        return [(0, 0, 0, "", (address, 0)) for address in known_as]

    bound = []

    def make(_files, address, _tls=None):
        bound.append(address)
        if len(bound) == 2:
            raise OSError("enough seen")
        return argparse.Namespace(server_close=lambda: None)

    monkeypatch.setattr(phone_commands.socket, "getaddrinfo", look_up)
    monkeypatch.setattr(phone_commands, "own_address", lambda: "192.168.1.77")
    monkeypatch.setattr(phone_commands, "Host", make)
    monkeypatch.setattr(phone_commands, "read_build", lambda _: {})
    assert listening_address(name) == listens
    options = argparse.Namespace(folder=tmp_path, name=name, port=8443)
    options.new_address = False
    with pytest.raises(PhonePortTakenError):
        serve_phone(options, tmp_path / "keys")
    assert bound == [(listens, 8443), (listens, 8444)]


@pytest.mark.skipif(os.name == "nt", reason="folders have other rights there")
def test_every_folder_of_the_hosts_keys_is_for_its_owner_alone(tmp_path):
    before = os.umask(0o022)
    try:
        keys = tmp_path / "data" / "below" / "phone-host"
        check_address(keys, "clinic.local", 8443)
        open_trust(keys, "clinic.local", NOW)
        loose = tmp_path / "loose"
        loose.mkdir(mode=0o755)
        check_address(loose, "clinic.local", 8443)
    finally:
        os.umask(before)
    made = [loose, keys, keys.parent, keys.parent.parent, keys / "clinic.local"]
    modes = {stat.S_IMODE(folder.stat().st_mode) for folder in made}
    assert modes == {0o700}
