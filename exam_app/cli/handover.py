"""The commands ``receive`` and ``verify``: a clinic's inbox without a page.

The passphrase is asked for at the terminal, or read as one line from standard input;
it is never an argument, since other programs can read those.
"""

import argparse
import json
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, ClassVar

from exam_app.app.clinic.shared_folder import (
    own_folder,
    put_for_device,
    tell_of_photographs,
)
from exam_app.app.exam_sessions import now
from exam_app.cli.erasure import print_set_aside
from exam_app.cli.export import verify_export
from exam_app.cli.store import Commands, add_data_option, opened
from exam_app.cli.verify import FileTooLargeError, read_to_verify, verify_file
from exam_app.crypto.door import DerivationBounds, sha256
from exam_app.domain.errors import ExamError
from exam_app.domain.wording.visible_text import visible
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.identity import aside_words
from exam_app.exchange.inbox import Received, receive
from exam_app.exchange.photographs import REFUSED_FOR_NOW, receive_photograph
from exam_app.exchange.spool import SpoolReport, import_spool, spool
from exam_app.register.errors import RegisterLostError
from exam_app.store.errors import NoVaultError, VaultFullError, VaultInUseError
from exam_app.store.vault.folder import vault_exists
from exam_app.store.vault.vault import Vault
from sync.errors import FolderError, SyncError
from sync.photographs import is_photograph
from sync.receipts import Outcome
from sync.transport.folder import Ending, FolderWriter
from sync.transport.folder_reading import MOST_FILES, FolderReader, WaitingReason

STORED, WAITING, NOT_ALL = 0, 3, 4
_BEFORE = "received before"


@dataclass(slots=True)
class Report:
    """What a run did, for a person or as JSON."""

    code: int = STORED
    entries: list[dict[str, Any]] = field(default_factory=list)

    def add(self, code: int, **entry: object) -> None:
        """Add what became of one file; the gravest code counts."""
        self.entries.append(dict(entry))
        self.code = max(self.code, code)

    def text(self, *, as_json: bool) -> str:
        """Return the report; no name in it can steer or deceive a terminal."""
        if as_json:
            found = {"exit_code": self.code, "files": self.entries}
            # Escaped by JSON itself, so that names can be taken back exactly.
            return json.dumps(found, indent=1)
        return "\n".join(visible(_line(entry)) for entry in self.entries)


def _line(entry: dict[str, Any]) -> str:
    """Return one entry as a line for a person."""
    if "verified" in entry:
        said = "verified" if entry["verified"] else "NOT verified"
        words = _compared(entry) if "words" in entry else ""
        more = (
            entry.get("advice") or entry.get("what", ""),
            words,
            entry.get("revoked", ""),
        )
        told = " ".join(str(part) for part in more if part)
        return f"{entry['path']}: {said}. {told}"
    counts: dict[str, int] = {}
    for record in entry.get("records", ()):
        counts[record["outcome"]] = counts.get(record["outcome"], 0) + 1
    parts = [f"{count} {outcome}" for outcome, count in counts.items()]
    code = entry.get("receipt_code")
    parts += [f"receipt code {code}"] if code else []
    parts += [f"missing before it: {entry['missing']}"] if entry.get("missing") else []
    aside = aside_words(entry.get("pairs_aside", 0), entry.get("uncompared", 0))
    parts += [aside] if aside else []
    parts += [str(entry["reason"])] if entry.get("reason") else []
    parts += [entry["advice"]] if entry.get("advice") else []
    return f"{entry['path']}: {entry['state']}. {'; '.join(parts)}".rstrip(". ") + "."


def _compared(entry: dict[str, Any]) -> str:
    """Say hash and key as words, which a printed record has too."""
    return f"The hash in words: {entry['words']}; the key: {entry['key_words']}."


HANDOVER_COMMANDS = ("receive", "verify")
_CODES = """exit codes:
  0  every record and note is stored (or was there already); for verify: all verified
  1  nothing was done: wrong passphrase, no exams there, store in use, no such file
  2  the command line was not understood
  3  the store is held or stays locked: the sealed bundles wait in the spool and are
     imported when it is next opened; no receipt exists for them yet
  4  something was refused, set apart or not taken, or a photograph waits for its
     record or for room, each named with its reason; or it does not verify, or its
     device is trusted no more; the rest is stored"""


class NotAClinicError(ExamError):
    """Bundles are received by a clinic's computer only."""

    advice: ClassVar[str] = (
        "This computer was not set up as a clinic's. Nothing was imported. "
        "Receive on the clinic's computer, or choose its folder with --data."
    )


class NothingFoundError(ExamError):
    """No sealed bundle was named."""

    advice: ClassVar[str] = (
        "There is no hand-over at that place. Nothing was done. "
        "Name files that end in .exam-bundle, or a folder that holds some."
    )


def add_handover_commands(commands: Commands) -> None:
    """Add the two commands to those of the app."""
    raw = argparse.RawDescriptionHelpFormatter
    taking = commands.add_parser(
        "receive",
        help="import sealed hand-overs into the clinic's exams, without a page",
        description="Import sealed hand-overs. The passphrase is read from standard "
        "input.\nNothing is opened twice: the same file again changes nothing.",
        epilog=_CODES,
        formatter_class=raw,
    )
    taking.add_argument("paths", type=Path, nargs="+", metavar="PATH")
    taking.add_argument("--receipts", type=Path, metavar="DIR", help=_RECEIPTS_HELP)
    taking.add_argument("--spool", action="store_true", help=_SPOOL_HELP)
    checking = commands.add_parser(
        "verify",
        help="verify a record, note, receipt, hand-over or export; changes nothing",
        description="Verify a signed record, note, receipt or sealed hand-over with "
        "the keys known here,\nor the folder of an export by itself.\nThe passphrase "
        "is read from standard input. Nothing is changed.",
        epilog=_CODES,
        formatter_class=raw,
    )
    checking.add_argument("file", type=Path, metavar="FILE")
    checking.add_argument("--key", metavar="HEX", help=_KEY_HELP)
    for command in (taking, checking):
        command.add_argument("--json", action="store_true", help="print JSON")
        add_data_option(command)


async def run_handover(
    options: argparse.Namespace, folder: Path, bounds: DerivationBounds
) -> Report:
    """Do what the command line asks for.

    Raises:
        ExamError: Nothing was done.
    """
    if options.command == "verify":
        return await _verify(options, folder, bounds)
    if not vault_exists(folder):
        raise NoVaultError("no vault in this folder")
    _require_something(options.paths)
    if options.receipts is not None:
        # Before anything is imported: afterwards it would be too late to say so.
        FolderWriter(options.receipts).try_out()
    if options.spool:
        return _spool(folder, options.paths)
    try:
        async with opened(folder, bounds, register=options.register) as vault:
            report = _receive(vault, folder, options.paths, options.receipts)
            print_set_aside(vault)
            return report
    except (VaultInUseError, RegisterLostError):
        return _spool(folder, options.paths)


def _require_something(paths: Sequence[Path]) -> None:
    missing = [path for path in paths if not path.is_dir() and not path.is_file()]
    if missing:
        raise NothingFoundError(visible(str(missing[0])))
    if all(path.is_dir() and FolderReader(path).is_empty() for path in paths):
        raise NothingFoundError("no bundle")


def _found(
    paths: Sequence[Path],
    report: Report,
    skipped: str = "",
    known: Collection[str] = (),
) -> Iterator[tuple[str, bytes]]:
    """Give every content, and report everything that is not given.

    Args:
        paths: Files and folders.
        report: Gains a line for each file that is not given.
        skipped: Name of the folder that this clinic itself writes.
        known: Hashes of what need not be read again in a folder.
    """
    for path in paths:
        if path.is_dir():
            yield from _in_folder(path, report, skipped, known)
            continue
        try:
            content = read_to_verify(path)
        except ExamError as error:
            is_large = isinstance(error, FileTooLargeError)
            reason = WaitingReason.TOO_LARGE if is_large else WaitingReason.UNREADABLE
            _not_taken(report, str(path), reason)
        else:
            yield str(path), content


def _in_folder(
    path: Path, report: Report, skipped: str, before: Collection[str]
) -> Iterator[tuple[str, bytes]]:
    reader, known = FolderReader(path, skipped=skipped), {*before}
    given = set[str]()
    while True:
        # One look holds so much and no more.
        look = reader.look(known, now())
        yield from ((f"{path}/{one.name}", one.content) for one in look.ready)
        known |= {one.sha256 for one in look.ready}
        given |= {one.name for one in look.ready}
        if look.is_all or not look.ready:
            break
    for name in look.known:
        if name not in given:
            report.add(STORED, path=f"{path}/{name}", state=_BEFORE)
    left = [(one.name, one.reason) for one in look.waiting]
    for name, reason in [*left, *((one.name, one.reason) for one in look.others)]:
        _not_taken(report, f"{path}/{name}", reason)
    if not look.is_all:
        _not_taken(report, str(path), f"more than {MOST_FILES} files in it")


def _not_taken(report: Report, path: str, reason: str) -> None:
    report.add(NOT_ALL, path=path, state="not taken", reason=str(reason))


def _spool(folder: Path, paths: Sequence[Path]) -> Report:
    report = Report()
    for name, sealed in _found(paths, report):
        try:
            kept = spool(folder, sealed)
        except VaultFullError as error:
            if not is_photograph(sealed):
                raise  # What is left of the spool is for hand-overs.
            _not_kept(report, name, "not spooled", error)
        else:
            report.add(WAITING, path=name, state="spooled", sha256=kept.stem)
    return report


def _receive(
    vault: Vault, folder: Path, paths: Sequence[Path], receipts: Path | None
) -> Report:
    if vault.settings.get("role") != "clinic":
        raise NotAClinicError("not a clinic")
    report, own = Report(), own_folder(vault)
    _take_spool(report, import_spool(vault, folder, now()), vault, receipts)
    known, waits = {*vault.photographs.came_in()}, set[str]()
    for name, sealed in _found(paths, report, own, frozenset(known)):
        digest = sha256(sealed).hex()
        known.add(digest)
        if not _take(report, name, sealed, vault, receipts):
            waits.add(digest)
    # Their records may have come behind them.
    for name, sealed in _found(paths, Report(), own, known - waits) if waits else ():
        if sha256(sealed).hex() in waits:
            _take(report, name, sealed, vault, receipts, is_last=True)
    if receipts is not None:
        _put_lists(vault, receipts, report)
    return report


def _take(
    report: Report,
    name: str,
    sealed: bytes,
    vault: Vault,
    receipts: Path | None,
    *,
    is_last: bool = False,
) -> bool:
    """Import one content and report it; False for what may come again in this run."""
    try:
        if is_photograph(sealed):
            _tell_photograph(report, name, sealed, vault)
        else:
            received = receive(sealed, Exchange(vault), now())
            _tell(report, name, received, vault, receipts)
    except REFUSED_FOR_NOW as error:
        if is_last:
            _not_kept(report, name, "waits", error)
        return False
    except SyncError as error:
        _not_kept(report, name, "refused", error)
    return True


def _not_kept(report: Report, name: str, state: str, error: ExamError) -> None:
    kind = type(error).__name__
    report.add(NOT_ALL, path=name, state=state, error=kind, advice=error.advice)


def _take_spool(
    report: Report, earlier: SpoolReport, vault: Vault, receipts: Path | None
) -> None:
    for received in earlier.received:
        _tell(report, "(spool)", received, vault, receipts)
    for came in earlier.photographs:
        report.add(STORED, path="(spool)", state="received", photograph=came.sha256)
    for advice in earlier.refused:
        report.add(NOT_ALL, path="(spool)", state="refused", advice=advice)
    for _, advice in earlier.waiting:
        report.add(NOT_ALL, path="(spool)", state="waits", advice=advice)


def _put_lists(vault: Vault, receipts: Path, report: Report) -> None:
    """Tell each device which of its photographs are here."""
    try:
        tell_of_photographs(vault, receipts, now())
    except FolderError:
        state = "list of photographs not written"
        report.add(NOT_ALL, path=str(receipts), state=state, advice=_LATER)


def _tell_photograph(report: Report, name: str, sealed: bytes, vault: Vault) -> None:
    came = receive_photograph(sealed, Exchange(vault))
    said = _BEFORE if came.was_known else "received"
    named = "" if came.is_named else "no record here names this photograph yet"
    report.add(STORED, path=name, state=said, photograph=came.sha256, reason=named)


def _tell(
    report: Report, name: str, received: Received, vault: Vault, receipts: Path | None
) -> None:
    view = received.receipt_view
    kept = Exchange(vault).incoming.get(view.bundle_hash)
    lines = [{"hash": x.record_hash, "outcome": x.outcome.value} for x in view.lines]
    apart = {Outcome.QUARANTINED, Outcome.REFUSED}
    is_whole = not any(line.outcome in apart for line in view.lines)
    if receipts is not None:
        try:
            put_for_device(
                vault, receipts, view.device_id, received.receipt, Ending.RECEIPT
            )
        except FolderError:
            report.add(NOT_ALL, path=name, state="receipt not written", advice=_LATER)
    report.add(
        STORED if is_whole else NOT_ALL,
        path=name,
        state=_BEFORE if received.was_known else "received",
        bundle=view.bundle_hash,
        device=view.device_id,
        sequence=view.sequence,
        receipt_code=received.receipt_code,
        missing=list(received.missing_sequences),
        skew_ms=received.skew_ms,
        pairs_aside=(kept and kept.pairs_aside) or 0,
        uncompared=(kept and kept.uncompared) or 0,
        records=lines,
    )


async def _verify(
    options: argparse.Namespace, folder: Path, bounds: DerivationBounds
) -> Report:
    if options.file.is_dir():
        report, result = Report(), verify_export(options.file, options.key)
        code = STORED if result["verified"] else NOT_ALL
        report.add(code, path=str(options.file), **result)
        return report
    content = read_to_verify(options.file)
    if options.key is None:
        async with opened(folder, bounds, to_write=False) as vault:
            result = verify_file(content, vault, None)
    else:
        result = verify_file(content, None, options.key)
    is_good = result["verified"] and not result.get("is_doubtful")
    report = Report()
    report.add(STORED if is_good else NOT_ALL, path=str(options.file), **result)
    return report


_LATER = (
    "The records are stored. The receipt could not be written into that folder; "
    "receive the same file again once it can be."
)
_RECEIPTS_HELP = "also write signed receipts into this shared folder"
_SPOOL_HELP = "open nothing: keep the sealed files until the exams are next opened"
_KEY_HELP = "Ed25519 public key of the signer, in place of the keys known here"
