"""The commands ``phone build`` and ``phone serve``: the app for a phone."""

import argparse
import contextlib
import html
import socket
import threading
from datetime import UTC, datetime
from pathlib import Path
from typing import ClassVar

from exam_app.cli.store import Commands
from exam_app.phone.building import build_app
from exam_app.phone.errors import PhoneError
from exam_app.phone.serving import Host, Sent, read_build
from exam_app.phone.trust import STEPS, Trust, check_address, open_trust
from sync.transport.qr import qr_rows

DEFAULT_PORT = 8443
# Unused by anyone (RFC 5737); nothing is sent to it.
_NOWHERE = ("192.0.2.1", 9)


class PhonePortTakenError(PhoneError):
    """The name or port cannot be listened on."""

    advice: ClassVar[str] = (
        "This computer cannot listen there: another program uses the port, or the "
        "name is not this computer's. Nothing was changed. Choose another --port, or "
        "give this computer's own address with --name."
    )


def add_phone_command(commands: Commands) -> None:
    """Add ``phone`` with its two ways to the command line."""
    phone = commands.add_parser(
        "phone", help="make the app for a phone that has no server and no signal"
    )
    ways = phone.add_subparsers(dest="way", metavar="WAY", required=True)
    build = ways.add_parser("build", help="make a folder for any static https host")
    build.add_argument("folder", type=Path, help="empty, missing or an earlier build")
    serve = ways.add_parser(
        "serve", help="give a build out in this network over https until Ctrl+C"
    )
    serve.add_argument("folder", type=Path, help="made by phone build")
    serve.add_argument(
        "--name",
        default=None,
        help="this computer's address or name in the network; keep it the same, since "
        "the phone keeps its exams under it (default: found out)",
    )
    serve.add_argument(
        "--new-address",
        action="store_true",
        help="serve under another name or port than before; exams on phones stay "
        "under the old one",
    )
    serve.add_argument("--port", type=int, default=DEFAULT_PORT, help="for https")


def run_phone(options: argparse.Namespace, data: Path) -> str:
    """Do what the command line asks for.

    Args:
        options: As parsed.
        data: The app's own folder; the host's certificate is kept below it.

    Returns:
        What to print at the end.
    """
    if options.way == "build":
        built = build_app(options.folder)
        compressed = built.compressed_size()
        return (
            f"Built {built.folder}: release {built.release}, {built.file_count} "
            f"files, {built.size / 1e6:.1f} MB, {compressed / 1e6:.1f} MB "
            "compressed.\nPut the folder on a static https host at the top of a name "
            f"of its own, or:\nexam-app phone serve {built.folder}"
        )
    serve_phone(options, data / "phone-host")
    return "The host has ended. Phones that have the app go on without it."


def serve_phone(options: argparse.Namespace, keys: Path) -> None:
    """Give the build out until interrupted.

    Raises:
        NoBuildError: There is none.
        AddressChangedError: Phones know another name or port.
        PhonePortTakenError: The name or port cannot be had.
    """
    files = read_build(options.folder)
    name = options.name or own_address()
    check_address(keys, name, options.port, is_new=options.new_address)
    trust = open_trust(keys, name, datetime.now(UTC))
    place, plain_port = listening_address(name), options.port + 1
    pages = trust_pages(trust, name, options.port)
    with contextlib.ExitStack() as opened:
        try:
            host = Host(files, (place, options.port), trust.context)
            opened.callback(host.server_close)
            plain = Host(pages, (place, plain_port))
            opened.callback(plain.server_close)
        except (OSError, OverflowError) as error:
            raise PhonePortTakenError(f"{name}:{options.port}") from error
        print(spoken(trust, name, options.port), flush=True)
        print(f"It listens on {place} and on no other address.", flush=True)
        threading.Thread(target=plain.serve_forever, daemon=True).start()
        with contextlib.suppress(KeyboardInterrupt):
            host.serve_forever()
        plain.shutdown()


def listening_address(name: str) -> str:
    """Find which of this computer's addresses a name stands for.

    Args:
        name: An address, or a name that phones know this computer by. A name that
            this computer itself does not know, or knows as nobody else does, stands
            for its address in the network.
    """
    try:
        entries = socket.getaddrinfo(name, None, socket.AF_INET, socket.SOCK_STREAM)
    except OSError:
        entries = []
    found = [str(entry[4][0]) for entry in entries]
    if name in (*found, "localhost"):
        return found[0] if found else "127.0.0.1"
    outside = [address for address in found if not address.startswith("127.")]
    return outside[0] if outside else own_address()


def own_address() -> str:
    """Find this computer's address in its network; no packet is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_NOWHERE)
        except OSError:
            return "127.0.0.1"
        return str(probe.getsockname()[0])


def trust_pages(trust: Trust, name: str, port: int) -> dict[str, Sent]:
    """Write what is given out in the open: the steps and the certificate."""
    steps = html.escape(steps_text(trust, name, port))
    page = (
        "<!doctype html><html lang=en><meta charset=utf-8>"
        '<meta name=viewport content="width=device-width">'
        "<title>Exam: trust this host</title><h1>Trust this host</h1>"
        '<p><a href="/authority.crt">Fetch the certificate</a>. Compare its SHA-256 '
        "with the one on the computer's own screen, not with one on this page.</p>"
        f"<pre style='white-space:pre-wrap'>{steps}</pre>"
    ).replace(trust.fingerprint, "(shown on the computer)")
    return {
        "/": Sent("text/html; charset=utf-8", page.encode(), None),
        "/authority.crt": Sent("application/x-x509-ca-cert", trust.authority, None),
    }


def spoken(trust: Trust, name: str, port: int) -> str:
    """Say the address, as a code to be scanned and in words, with the steps."""
    code = terminal_code(f"HTTPS://{name.upper()}:{port}/")
    return f"{code}\nThe app: https://{name}:{port}/\n\n{steps_text(trust, name, port)}"


def steps_text(trust: Trust, name: str, port: int) -> str:
    """Fill in the steps."""
    return STEPS.format(
        plain=f"http://{name}:{port + 1}/",
        address=f"https://{name}:{port}/",
        fingerprint=trust.fingerprint,
        name=name,
        until=f"{trust.until:%Y-%m-%d}",
    )


def terminal_code(text: str) -> str:
    """Draw a QR code with half blocks, light on a dark terminal, quiet zone of two."""
    rows = qr_rows(text)
    width = len(rows) + 4
    blank = bytes(width)
    padded = [blank, blank, *(b"\0\0" + r + b"\0\0" for r in rows), blank, blank, blank]
    signs = {(0, 0): "█", (0, 1): "▀", (1, 0): "▄", (1, 1): " "}
    return "\n".join(
        "".join(signs[pair] for pair in zip(upper, lower, strict=True))
        for upper, lower in zip(padded[::2], padded[1::2], strict=False)
    )
