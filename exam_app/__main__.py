"""Start the app: ``exam-app`` or ``python -m exam_app``.

The page is served on this computer only and opened in the usual browser, in a
window of its own (``--window``), or by an address that is printed (``--no-browser``).
"""

import argparse
import asyncio
import contextlib
import gc
import importlib
import importlib.util
import inspect
import logging
import secrets
import sys
import tempfile
import threading
import uuid
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

import platformdirs

from exam_app.app.maintenance.first_start import SetUp
from exam_app.app.session import DEMO_PIN, Session
from exam_app.cli import handover
from exam_app.cli.animals import ANIMALS, add_animals_command, run_animals
from exam_app.cli.erasure import (
    ERASURE_COMMANDS,
    add_erasure_commands,
    run_erasure,
)
from exam_app.cli.export import EXPORT, add_export_command, run_export
from exam_app.cli.form import add_form_command, run_form
from exam_app.cli.phone import add_phone_command, run_phone
from exam_app.cli.process import FewLines, ended_by_signals
from exam_app.cli.protocol import add_protocol_command, check_protocols
from exam_app.cli.register_options import add_register_command
from exam_app.cli.store import add_commands, at_register, run_command
from exam_app.crypto.door import PRODUCTION_BOUNDS, DerivationBounds, KeyDerivation
from exam_app.crypto.errors import CryptoError
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.people import Person, Role
from exam_app.store.engine.files import FolderLock
from exam_app.store.vault.folder import vault_exists

# So many middle collections come before one that looks through all screens: Python
# does it after ten, which is after every seventeenth sheet, for 20 to 60 ms.
COLLECTED_AFTER = 50


class FolderUnwritableError(ExamError):
    """The folder for the exams cannot be made or written."""

    advice: ClassVar[str] = (
        "The folder for the exams cannot be written. Nothing was changed. "
        "Choose another one with --data, or allow yourself to write there."
    )


class NotSetUpError(ExamError):
    """A station of a register has a folder with its own keys, which is not there."""

    advice: ClassVar[str] = (
        "This computer was not set up yet, and would not know its own keys. Nothing "
        "was changed. Start it once without --register and set it up as the clinic's; "
        "then let it in with: exam-app register admit."
    )


@dataclass(frozen=True, slots=True)
class Costs:
    """What a passphrase costs to try; tests alone pass cheaper ones."""

    derivation: KeyDerivation
    bounds: DerivationBounds


PRODUCTION_COSTS = Costs(KeyDerivation(), PRODUCTION_BOUNDS)


def main(
    arguments: Sequence[str] | None = None, costs: Costs = PRODUCTION_COSTS
) -> int:
    """Run the app until it is interrupted or its window is closed.

    Args:
        arguments: Of the command line; those given to this process without them.
        costs: Of passphrases made and opened by this run.

    Returns:
        0 after a run, 1 after a refusal; ``receive``, ``verify`` and ``export`` name
        theirs.
    """
    parser = _parser()
    options = parser.parse_args(arguments)
    if options.clinic and not options.demo:
        parser.error("--clinic goes with --demo; set-up asks what a computer is")
    # Flet logs whole tracebacks of refusals that the page explains in a sentence.
    written = logging.StreamHandler()
    written.addFilter(FewLines())
    logging.basicConfig(
        level=logging.WARNING, format="%(levelname)s %(message)s", handlers=[written]
    )
    try:
        said = _without_exams(options)
        if said is not None:
            print(said)
            return 0
        if options.command in handover.HANDOVER_COMMANDS:
            # Not locked first: the spool answers while the app holds the exams.
            place = options.data or default_folder()
            report = asyncio.run(handover.run_handover(options, place, costs.bounds))
            print(report.text(as_json=options.json))
            return report.code
        interrupts = contextlib.suppress(KeyboardInterrupt)
        with interrupts, ended_by_signals(), _folder(options) as folder:
            if options.command:
                return _run_command(options, folder, costs)
            asyncio.run(_serve(options, folder, costs))
    except (ExamError, CryptoError) as error:
        print(f"{error}\n{error.advice}", file=sys.stderr)
        return 1
    return 0


def _without_exams(options: argparse.Namespace) -> str | None:
    """Run a command that opens no exams; ``None`` for any other."""
    if options.command == "protocol":
        return check_protocols(options.files)
    if options.command == "form":
        return run_form(options)
    if options.command == "phone":
        return run_phone(options, options.data or default_folder())
    return None


def _run_command(options: argparse.Namespace, folder: Path, costs: Costs) -> int:
    """Do what works on the exams without a page; return the exit code."""
    if options.command == EXPORT:
        return run_export(options, folder, costs.bounds)
    if options.command == ANIMALS:
        said, code = asyncio.run(run_animals(options, folder, costs.bounds))
        print(said)
        return code
    if options.command == "register":
        print(asyncio.run(_register(options, folder, costs)))
    elif options.command in ERASURE_COMMANDS:
        print(asyncio.run(run_erasure(options, folder, costs.bounds)))
    else:
        secrecy = (costs.derivation, costs.bounds)
        print(asyncio.run(run_command(options, folder, *secrecy)))
    return 0


async def _register(options: argparse.Namespace, folder: Path, costs: Costs) -> str:
    from exam_app.cli.register import run_register  # noqa: PLC0415  its driver

    return await run_register(options, folder, costs.bounds)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="exam-app",
        description="Examine an animal from nose to tail, offline, and keep a signed "
        "record. The page is served on this computer only; nothing leaves it.",
        epilog="Ctrl+C ends the app; everything marked as saved is kept.",
    )
    parser.add_argument(
        "--demo",
        action="store_true",
        help="try it with invented patients; everything is thrown away at the end",
    )
    parser.add_argument(
        "--clinic",
        action="store_true",
        help="with --demo: try the clinic's computer, with records that arrived",
    )
    parser.add_argument(
        "--data",
        type=Path,
        metavar="DIR",
        default=None,
        help=f"folder of the encrypted exams (default: {default_folder()})",
    )
    parser.add_argument(
        "--port",
        type=_port,
        default=0,
        help="port on this computer, 1 to 65535 (default: any free one)",
    )
    parser.add_argument(
        "--register",
        metavar="URL",
        default=None,
        help="work with the exams of a register on PostgreSQL, to which this "
        "computer is admitted; --data names its own folder",
    )
    way = parser.add_mutually_exclusive_group()
    way.add_argument(
        "--window",
        action="store_true",
        help="open a window of its own with an installed Chromium, Chrome or Edge; "
        "closing it ends the app",
    )
    way.add_argument(
        "--no-browser",
        action="store_true",
        help="open nothing: print an address that works once, for 30 seconds; "
        "Enter prints a new one",
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    add_commands(commands)
    add_erasure_commands(commands)
    add_export_command(commands)
    add_animals_command(commands)
    add_protocol_command(commands)
    add_form_command(commands)
    add_phone_command(commands)
    add_register_command(commands)
    handover.add_handover_commands(commands)
    return parser


def default_folder() -> Path:
    """Name the folder for exams of this user on this system."""
    return Path(platformdirs.user_data_dir("exam-app", appauthor=False))


def _port(text: str) -> int:
    number = int(text) if text.isdecimal() else -1
    if not 0 <= number <= 65535:
        raise argparse.ArgumentTypeError("a port is a number from 1 to 65535")
    return number


@contextlib.contextmanager
def _folder(options: argparse.Namespace) -> Iterator[Path]:
    if options.demo:
        with tempfile.TemporaryDirectory(
            prefix="exam-demo-", ignore_cleanup_errors=True
        ) as thrown_away:
            yield Path(thrown_away)
        return
    folder: Path = options.data or default_folder()
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        # Taken and given back: a second copy is told so now, not at the passphrase.
        FolderLock(folder).release()
    except OSError as error:
        raise FolderUnwritableError(str(folder)) from error
    yield folder


async def _serve(options: argparse.Namespace, folder: Path, costs: Costs) -> None:
    from exam_app.ui.server.guard import TOKEN_SECONDS  # noqa: PLC0415
    from exam_app.ui.server.local_server import bind_loopback, build_server  # noqa: PLC0415
    from exam_app.ui.server.window import (  # noqa: PLC0415
        find_browser,
        show_in_browser,
        show_window,
    )
    from exam_app.ui.shell.app import app_main  # noqa: PLC0415  Flet takes a second

    if options.register is not None and not vault_exists(folder):
        raise NotSetUpError(str(folder))
    browser = find_browser() if options.window else None
    session = Session(folder, costs.derivation, costs.bounds, is_demo=options.demo)
    session.at_register = lambda own: at_register(options.register, own, folder)
    if options.demo:
        passphrase = secrets.token_urlsafe(9)
        await fill_demo(session, passphrase, is_clinic=options.clinic)
        print(f"Demo: PIN {DEMO_PIN}, passphrase {passphrase}", flush=True)
    server = build_server(app_main(session), bind_loopback(options.port))
    # What was loaded stays: looking through all of it for what can go takes as long as
    # a tap may. What screens leave behind is looked for more seldom, too.
    gc.freeze()
    young, old, _ = gc.get_threshold()
    gc.set_threshold(young, old, COLLECTED_AFTER)

    async def show() -> None:
        address = server.guard.new_address
        if browser is not None:
            await show_window(browser, address())
            server.stop()
        elif options.no_browser:
            _print_addresses(address)
        else:
            print(f"The page opens in the browser (port {server.port}).", flush=True)
            _listen_for_enter(
                address, "If none appears, press Enter for an address to open there."
            )
            if not await show_in_browser(address(), TOKEN_SECONDS):
                _print_address(address)

    try:
        await server.run(show)
    finally:
        session.close()


async def fill_demo(session: Session, passphrase: str, *, is_clinic: bool) -> None:
    """Set up a throw-away store and fill it with the invented practice."""
    person = Person(
        uuid.uuid4().hex,
        "You (demo)",
        Role.VETERINARIAN if is_clinic else Role.TECHNICIAN,
        "YOU",
    )
    role = "clinic" if is_clinic else "field"
    await session.set_up(
        SetUp(role, "Demo practice", "555 0100 (demo)", passphrase, person, DEMO_PIN)
    )
    if is_clinic:
        await importlib.import_module("exam_app.app.demo.demo_clinic").fill(session)
    elif importlib.util.find_spec("exam_app.app.demo.demo"):
        filled = importlib.import_module("exam_app.app.demo.demo").fill(session.vault)
        if inspect.isawaitable(filled):
            await filled


def _print_addresses(new_address: Callable[[], str]) -> None:
    _print_address(new_address)
    _listen_for_enter(new_address, "Press Enter for a new one.")


def _print_address(new_address: Callable[[], str]) -> None:
    print("Open this address once, within 30 seconds:", flush=True)
    print(new_address(), flush=True)


def _listen_for_enter(new_address: Callable[[], str], offer: str) -> None:
    if sys.stdin is None:
        return
    if sys.stdin.isatty():
        print(offer, flush=True)
    threading.Thread(target=_print_more, args=(new_address,), daemon=True).start()


def _print_more(new_address: Callable[[], str]) -> None:
    for _ in sys.stdin:
        print(new_address(), flush=True)


if __name__ == "__main__":
    sys.exit(main())
