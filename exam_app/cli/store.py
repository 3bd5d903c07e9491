"""The commands that work without a page: ``backup``, ``restore`` and ``salvage``.

A passphrase is asked for at the terminal, or read as a line from standard input; it
is never an argument, since other programs can read those.
"""

import argparse
import getpass
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, closing
from pathlib import Path
from typing import TypeAlias

from exam_app.app.exam_sessions import now
from exam_app.crypto.door import DerivationBounds, KeyDerivation
from exam_app.store.engine.keys import LONGEST_SECRET, read_code
from exam_app.store.engine.read_files import ReadFile
from exam_app.store.errors import (
    BackupExistsError,
    MistypedRecoveryCodeError,
    VaultUnreachableError,
)
from exam_app.store.vault.backup import make_backup_file, read_backup
from exam_app.store.vault.folder import reaching, require_vault
from exam_app.store.vault.open import open_vault, open_vault_to_read
from exam_app.store.vault.restore import Secrets, restore_vault, salvage_vault
from exam_app.store.vault.vault import Vault

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"
_STAYS = "This is said again until it was read in the app."


def add_commands(commands: Commands) -> None:
    """Add the commands to the app's own command line."""
    backup = commands.add_parser(
        "backup", help="write all exams into one encrypted file and check it"
    )
    backup.add_argument("file", type=Path, help="the file to make; must not exist")
    restore = commands.add_parser(
        "restore", help="make a new folder of exams from a backup"
    )
    restore.add_argument("file", type=Path, help="a file made by backup")
    salvage = commands.add_parser(
        "salvage", help="take what is whole out of a damaged folder, into a new one"
    )
    salvage.add_argument("folder", type=Path, help="the damaged folder; only read")
    for command in (backup, restore, salvage):
        add_data_option(command)


def add_data_option(command: argparse.ArgumentParser) -> None:
    """Let a command name the folder too, after its own name."""
    command.add_argument(
        "--data",
        type=Path,
        metavar="DIR",
        default=argparse.SUPPRESS,
        help="folder of the encrypted exams",
    )


async def run_command(
    options: argparse.Namespace,
    folder: Path,
    derivation: KeyDerivation,
    bounds: DerivationBounds,
) -> str:
    """Do what the command line asks for.

    Returns:
        What to print at the end.

    Raises:
        ExamError: Refused; nothing was changed unless its advice says so.
    """
    if options.command == "backup":
        return await _back_up(options.file, folder, bounds)
    if options.command == "restore":
        with closing(ReadFile(options.file)) as file, reaching():
            # Whatever is no backup is refused before anything is typed for it.
            read_backup(file)
            secrets = _ask_secrets(derivation, bounds)
            vault, code = await restore_vault(file, folder, secrets)
        return _restored(vault, folder, code)
    require_vault(options.folder)
    secrets = _ask_secrets(derivation, bounds)
    vault, code, found = await salvage_vault(options.folder, folder, secrets)
    return f"{found.sentence}\n{_restored(vault, folder, code)}"


def _ask_secrets(derivation: KeyDerivation, bounds: DerivationBounds) -> Secrets:
    typed = ask("Passphrase or recovery code of the exams: ")
    return Secrets(typed, _new_passphrase(typed), derivation, bounds)


async def _back_up(path: Path, folder: Path, bounds: DerivationBounds) -> str:
    if path.exists():
        raise BackupExistsError("the file exists")
    passphrase = ask("Passphrase: ")
    try:
        vault = await open_vault(folder, passphrase, bounds=bounds)
    except VaultUnreachableError:
        # A disk that became write-protected is one more reason for a backup.
        vault = await open_vault_to_read(folder, passphrase, bounds=bounds)
    print_damage(vault)
    with closing(vault):
        size = make_backup_file(vault.back_up, path)
        vault.note_backup(now(), str(path.absolute()), size)
    return (
        f"Backup made and read back: {path} ({size} bytes). It opens with the "
        "passphrase and the recovery code of today. Keep it on another disk."
    )


def _restored(vault: Vault, folder: Path, code: str) -> str:
    vault.close()
    return (
        f"The exams are in {folder}. This is a new device now: pair it with the "
        "clinic again.\nNew recovery code, shown once; keep it on paper: "
        f"{code}"
    )


def _new_passphrase(typed: str) -> str:
    try:
        read_code(typed)
    except MistypedRecoveryCodeError:
        return typed
    return ask("New passphrase: ")


@asynccontextmanager
async def opened(
    folder: Path,
    bounds: DerivationBounds,
    *,
    to_write: bool = True,
    register: str | None = None,
) -> AsyncIterator[Vault]:
    """Open the exams with the passphrase that is asked for, and close them.

    What was found wrong is printed; it stays for whoever opens the app next.

    Args:
        folder: Of the exams, or of the station.
        bounds: What a derivation may cost.
        to_write: Whether something may be saved in that folder.
        register: Address of the register that holds the exams; None for the folder.

    Raises:
        VaultError: They cannot be opened.
    """
    passphrase = ask("Passphrase: ")
    open_it = open_vault if to_write else open_vault_to_read
    own = await open_it(folder, passphrase, bounds=bounds)
    with closing(at_register(register, own, folder)) as vault:
        print_damage(vault)
        yield vault


def at_register(url: str | None, own: Vault, folder: Path) -> Vault:
    """Give the register that a station's own store opens, or that store itself.

    Raises:
        ExamError: The register cannot be opened; the store is closed.
    """
    if url is None:
        return own
    # A third of a second that a single clinic need not wait for.
    from exam_app.register.register_vault import open_for_station  # noqa: PLC0415

    return open_for_station(url, own, folder)


def print_damage(vault: Vault) -> None:
    """Print what was found wrong."""
    if vault.damage_report is not None:
        sys.stderr.write(f"Damage was found. {vault.damage_report} {_STAYS}\n")


def ask(prompt: str) -> str:
    """Read a line: at the terminal unseen, else from standard input.

    Of a line that is longer than any secret no more is read than shows that it is.
    """
    if sys.stdin.isatty():
        return getpass.getpass(prompt)
    return sys.stdin.readline(LONGEST_SECRET + 3).rstrip("\r\n")
