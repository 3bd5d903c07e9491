"""Sealed bundles that arrived while the store was held or locked, and their import.

They lie beside the vault as they came, named by their content, and are imported at the
next unlocking; nobody gets a receipt before that. A file leaves the spool only after
the save that stored it. What cannot be opened stays, under another ending, for a
person to look at. Records are imported before photographs; a photograph whose record
has not come, or that finds no room, waits on and is no refusal.
"""

import os
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from exam_app.crypto.door import sha256
from exam_app.domain.moments import Moment
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.inbox import Received, receive
from exam_app.exchange.photographs import (
    REFUSED_FOR_NOW,
    PhotographArrival,
    receive_photograph,
)
from exam_app.language.catalogue import tr
from exam_app.store.engine.files import flush_folder
from exam_app.store.errors import VaultFullError, save_refusal
from exam_app.store.vault.vault import Vault
from sync.errors import SyncError
from sync.photographs import is_photograph

FOLDER = "spool"
ENDING = ".exam-bundle"
REFUSED_ENDING = ".refused"
MOST_BYTES = 512 * 2**20
# Some may wait for long, and must not keep a hand-over out.
MOST_BYTES_FOR_PHOTOGRAPHS = 256 * 2**20


def spool(folder: Path, sealed: bytes) -> Path:
    """Keep sealed bytes until the store is opened; returns when they are on the disk.

    Args:
        sealed: A bundle; the same one again changes nothing.

    Raises:
        VaultFullError: The spool is full, or the disk.
        VaultUnreachableError: The folder cannot be written.
    """
    place = folder / FOLDER
    path = place / f"{sha256(sealed).hex()}{ENDING}"
    part = path.with_suffix(".part")
    try:
        place.mkdir(mode=0o700, parents=True, exist_ok=True)
        if path.exists() and path.read_bytes() == sealed:
            return path
        size = sum(one.stat().st_size for one in place.iterdir())
        is_picture = is_photograph(sealed)
        most = MOST_BYTES_FOR_PHOTOGRAPHS if is_picture else MOST_BYTES
        if size + len(sealed) > most:
            raise VaultFullError("the spool is full")
        with part.open("wb") as file:
            file.write(sealed)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
        flush_folder(place)
    except OSError as error:
        raise save_refusal(error) from error
    return path


def spooled(
    folder: Path, passed_over: Container[str] = ()
) -> Iterator[tuple[Path, bytes]]:
    """Give what waits, oldest first; a file cut off while it was written is no file.

    Args:
        passed_over: Names of files that are not to be read.
    """
    place = folder / FOLDER
    if not place.is_dir():
        return
    found = [path for path in place.iterdir() if path.suffix == ENDING]
    for path in sorted(found, key=lambda path: (path.stat().st_mtime_ns, path.name)):
        if path.name not in passed_over:
            yield path, path.read_bytes()


@dataclass(frozen=True, slots=True)
class SpoolReport:
    """What became of the spool.

    Attributes:
        received: Stored, one for each bundle, oldest first.
        refused: Advice for each that was not.
        photographs: Those that were kept.
        waiting: Photographs that are tried again at another import: the name of the
            file, and the advice.
    """

    received: tuple[Received, ...] = ()
    refused: tuple[str, ...] = ()
    photographs: tuple[PhotographArrival, ...] = ()
    waiting: tuple[tuple[str, str], ...] = ()


def import_spool(
    vault: Vault, folder: Path, now: Moment, passed_over: Container[str] = ()
) -> SpoolReport:
    """Import every spooled bundle; each leaves the spool after its own save.

    Args:
        passed_over: Names of files that need not be tried again yet.

    Raises:
        VaultError: The store could not save; the rest still waits.
    """
    received, refused, pictures = [], [], []
    exchange = Exchange(vault)
    for path, sealed in spooled(folder, passed_over):
        if is_photograph(sealed):
            pictures.append(path)
            continue
        try:
            received.append(receive(sealed, exchange, now))
        except SyncError as error:
            refused.append(tr(error.advice))
            if exchange.quarantine.get(sha256(sealed).hex()) is None:
                _refuse(path)
                continue
        path.unlink(missing_ok=True)
    report = SpoolReport(tuple(received), tuple(refused))
    return _with_photographs(report, exchange, pictures)


def _with_photographs(
    report: SpoolReport, exchange: Exchange, paths: Sequence[Path]
) -> SpoolReport:
    """Keep what is spooled of photographs, once the records are here."""
    came, refused, waiting = [], [*report.refused], []
    for path in paths:
        try:
            came.append(receive_photograph(path.read_bytes(), exchange))
        except REFUSED_FOR_NOW as error:
            waiting.append((path.name, tr(error.advice)))
        except SyncError as error:
            refused.append(tr(error.advice))
            _refuse(path)
        else:
            path.unlink(missing_ok=True)
    return replace(
        report, refused=tuple(refused), photographs=tuple(came), waiting=tuple(waiting)
    )


def _refuse(path: Path) -> None:
    """Keep a file, and do not try it again."""
    path.replace(path.with_suffix(ENDING + REFUSED_ENDING))
