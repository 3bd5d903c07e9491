"""The command ``export``: everything kept, as files that are read without the app."""

import argparse
import asyncio
import sys
import time
from pathlib import Path

from exam_app.app.exam_sessions import now
from exam_app.cli.store import Commands, add_data_option, opened
from exam_app.crypto.door import DerivationBounds
from exam_app.domain.wording.count_words import count_words
from exam_app.domain.wording.visible_text import visible
from exam_app.whole_export.checking import Checked, check_export
from exam_app.whole_export.contents import Exported, Wanted, exported_lines
from exam_app.whole_export.exporting import export_all

EXPORT = "export"
NOT_ALL, INTERRUPTED = 4, 130
_SECONDS_BETWEEN = 0.5
_HELP = """exit codes:
  0    everything kept is in the folder
  1    nothing more was done: wrong passphrase, store in use, disk full, no such folder
  4    finished, but some records do not verify or some pictures are not here
  130  stopped; the same command goes on"""
_STOPPED = "\nStopped. What is written stays. Give the same command again to go on.\n"


def add_export_command(commands: Commands) -> None:
    """Add the command to those of the app."""
    export = commands.add_parser(
        EXPORT,
        help="write everything as files that are read without the app; goes on",
        description="Write every record as signed bytes, PDF, text, JSON, CSV and "
        "FHIR, with its photographs, into a folder read without this app.\nNothing "
        "in it is sealed. Given again, the command goes on where it was stopped and "
        "adds what is new.",
        epilog=_HELP,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    export.add_argument("folder", type=Path, help="new, empty, or of an earlier export")
    export.add_argument(
        "--private-notes",
        action="store_true",
        help="also the notes for the veterinarian only (default: left out)",
    )
    export.add_argument(
        "--owners",
        action="store_true",
        help="also a table of the animals' owners (default: left out)",
    )
    add_data_option(export)


def run_export(
    options: argparse.Namespace, folder: Path, bounds: DerivationBounds
) -> int:
    """Do what the command line asks for, and print how far it has come.

    Raises:
        ExamError: Refused, or stopped by the disk; what is written stays.
    """
    try:
        return asyncio.run(_export(options, folder, bounds))
    except KeyboardInterrupt:
        sys.stderr.write(_STOPPED)
        return INTERRUPTED


async def _export(
    options: argparse.Namespace, folder: Path, bounds: DerivationBounds
) -> int:
    wanted = Wanted(options.private_notes, options.owners)
    line = _ProgressLine()
    async with opened(
        folder, bounds, to_write=False, register=options.register
    ) as vault:
        try:
            found = await export_all(vault, options.folder, now(), wanted, line.show)
        finally:
            line.end()
    said = exported_lines(found, visible(str(options.folder)))
    sys.stdout.write("\n".join((*said, "")))
    return 0 if found.is_whole else NOT_ALL


class _ProgressLine:
    """One line that is written over, or a new one now and then where none can be."""

    def __init__(self) -> None:
        self._over = sys.stderr.isatty()
        self._wait = _SECONDS_BETWEEN if self._over else 10 * _SECONDS_BETWEEN
        self._last = time.monotonic()
        self._is_open = False

    def show(self, found: Exported) -> None:
        if time.monotonic() - self._last < self._wait:
            return
        self._last = time.monotonic()
        text = found.words
        sys.stderr.write(f"\r{text} " if self._over else f"{text}\n")
        sys.stderr.flush()
        self._is_open = self._over

    def end(self) -> None:
        if self._is_open:
            sys.stderr.write("\n")


def verify_export(folder: Path, key: str | None) -> dict[str, object]:
    """Check the folder of an export without any exams.

    Args:
        key: The public key that signed its list, in hexadecimal, from elsewhere.

    Returns:
        ``verified`` only where the key was named and everything fits; what else is
        said is as of ``verify_file``.
    """
    try:
        known = None if key is None else bytes.fromhex(key)
    except ValueError:
        known = b""
    if known is not None and len(known) != 32:
        advice = "The key is no hexadecimal text of 64 digits. Nothing was verified."
        return {"verified": False, "error": "NoKey", "advice": advice}
    found = check_export(folder, known)
    said = {
        "verified": found.is_consistent and found.is_known,
        "kind": "export",
        "consistent": found.is_consistent,
        "files": found.files,
        "records": found.records,
        "key": found.key,
        "faults": [visible(one) for one in found.faults],
    }
    words = _checked_words(found)
    return {**said, ("what" if said["verified"] else "advice"): words}


def _checked_words(found: Checked) -> str:
    counts = (
        f"{count_words(found.files, 'file')} as listed, "
        f"{count_words(found.records, 'record')} verified"
    )
    if not found.is_consistent:
        more = found.fault_count - len(found.faults)
        rest = f" And {more} more." if more else ""
        return f"{counts}. Wrong: {' '.join(found.faults)}{rest}"
    if not found.is_known:
        return (
            f"Everything fits together: {counts}, signed on {found.made} by the key "
            f"{found.key}. Whose key that is this folder cannot say: give the one you "
            "know with --key."
        )
    return f"export, finished {found.made}: {counts}"
