"""The folder of a whole export checked by itself, with no exams and no passphrase.

In this order: the signed list, the list of sums, every file, then every record: its
signature with the keys of the folder, and that it can be read with the protocols of the
folder. Nothing of a file is read as ours before its hash fits. One file is in memory.

Whoever can write the folder could sign all of it anew: only a key from elsewhere says
whose it is.
"""

import errno
import json
import re
import stat
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path, PurePosixPath

from exam_app.crypto.door import sha256
from exam_app.crypto.errors import CryptoError
from exam_app.domain.errors import ExamError
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.protocols.loader import load_content
from exam_app.record.cose import LARGEST_SIGNED, claimed_key_id, key_id_of
from exam_app.record.records import read_exam
from exam_app.whole_export.contents import (
    KEYS,
    PROTOCOLS,
    RECORDS,
    UNFINISHED,
)
from exam_app.whole_export.folder import SUMS, reaching_export, read_sums, sum_of
from exam_app.whole_export.record_files import SIGNED
from exam_app.whole_export.signed_list import LIST_SIGNED, open_list

MOST_NAMED = 100
_LARGEST_KEYS, _LARGEST_PROTOCOL = 1 << 20, 2_000_000
_HASH = re.compile("[0-9a-f]{64}")


@dataclass(slots=True)
class Checked:
    """What was found in the folder of an export.

    Attributes:
        files: Files whose hash is the listed one.
        records: Records whose signature fits and that can be read.
        faults: What is wrong, in sentences, ``MOST_NAMED`` at most.
        fault_count: How many things are wrong.
        key: The key that signed the list, in hexadecimal; empty where none fits.
        is_known: Whether it is the key that the caller named.
        made: When the export was finished, in words.
    """

    files: int = 0
    records: int = 0
    faults: list[str] = field(default_factory=list)
    fault_count: int = 0
    key: str = ""
    is_known: bool = False
    made: str = ""

    @property
    def is_consistent(self) -> bool:
        """Whether every file is as it was listed and every record verifies."""
        return not self.fault_count

    def fault(self, sentence: str) -> None:
        """Count something that is wrong, and keep its sentence."""
        self.fault_count += 1
        if len(self.faults) < MOST_NAMED:
            self.faults.append(sentence)


def check_export(folder: Path, key: bytes | None = None) -> Checked:
    """Check everything in the folder of an export; changes nothing.

    Args:
        key: The Ed25519 public key of the computer that made it, from elsewhere.

    Raises:
        ExportUnwritableError: The folder cannot be read.
    """
    found = Checked()
    with reaching_export():
        sums = folder / SUMS
        is_there = sums.is_file() and not sums.is_symlink()
        if not is_there or (folder / UNFINISHED).exists():
            is_begun = (folder / UNFINISHED).exists()
            found.fault(
                "The export is not finished." if is_begun else "There is no export."
            )
            return found
        keys = _keys_in(folder)
        _check_list(folder, found, keys, key)
        listed = _check_files(folder, found)
        _look_for_more(folder, found, listed)
    return found


def _keys_in(folder: Path) -> list[bytes]:
    try:
        content = _read_small(folder / KEYS, _LARGEST_KEYS)
        named = json.loads(content)
        return [bytes.fromhex(one["ed25519_public_key"]) for one in named]
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return []


def _check_list(
    folder: Path, found: Checked, keys: list[bytes], key: bytes | None
) -> None:
    """Verify the signed list, with the key from elsewhere if there is one."""
    try:
        signed = _read_small(folder / LIST_SIGNED, LARGEST_SIGNED)
        key_id = claimed_key_id(signed)
        of_folder = next((one for one in keys if key_id_of(one) == key_id), None)
        used = key if key is not None else of_folder
        if used is None:
            found.fault(f"{LIST_SIGNED} is signed by a key that is not in {KEYS}.")
            return
        said = open_list(signed, used)
    except OSError:
        found.fault(f"{LIST_SIGNED} is missing.")
        return
    except (ExamError, CryptoError, ValueError) as error:
        advice = getattr(error, "advice", "")
        found.fault(f"{LIST_SIGNED} does not verify. {advice}".strip())
        return
    if said.sums_sha256 != sum_of(folder / SUMS):
        found.fault(f"{SUMS} is not the list that was signed.")
        return
    found.key, found.is_known = used.hex(), key is not None
    found.made = said.made.date_and_time()


def _check_files(folder: Path, found: Checked) -> set[bytes]:
    """Compare every listed file; return the short hashes of the listed names."""
    keys, listed = _keys_in(folder), set[bytes]()
    protocols = _Protocols(folder)
    try:
        for name, digest in read_sums(folder / SUMS):
            listed.add(_short(name))
            if not _is_inside(name):
                found.fault(f"{name!r} is no name inside the folder.")
            elif not (folder / name).resolve().is_relative_to(folder.resolve()):
                found.fault(f"{name} leads out of the folder.")
            elif _is_as_listed(folder / name, name, digest, found):
                found.files += 1
                if name.startswith(f"{RECORDS}/") and name.endswith(f"/{SIGNED}"):
                    _check_record(folder / name, name, found, keys, protocols)
    except (ValueError, UnicodeError):
        found.fault(f"{SUMS} holds a line that is none.")
    return listed


def _is_as_listed(path: Path, name: str, digest: str, found: Checked) -> bool:
    try:
        _require_ordinary(path)
        is_same = sum_of(path) == digest
    except FileNotFoundError:
        found.fault(f"{name} is missing.")
        return False
    except OSError as error:
        found.fault(f"{name} cannot be read: {error.strerror or 'refused'}.")
        return False
    if not is_same:
        found.fault(f"{name} was changed.")
    return is_same


def _check_record(
    path: Path, name: str, found: Checked, keys: list[bytes], protocols: "_Protocols"
) -> None:
    try:
        signed = _read_small(path, LARGEST_SIGNED)
        read = read_exam(signed, keys, protocols.named)
    except (ExamError, CryptoError, ValueError, OSError) as error:
        advice = getattr(error, "advice", "It cannot be read.")
        found.fault(f"{name} does not verify. {advice}")
        return
    if not path.parent.name.endswith(f"-{read.exam_hash[:16]}"):
        found.fault(f"{name} stands in the folder of another record.")
        return
    found.records += 1


class _Protocols:
    """The protocols of the folder, each by the hash of its content."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder / PROTOCOLS
        self.named = lru_cache(maxsize=16)(self._named)

    def _named(self, content_hash: str) -> SpeciesProtocol | None:
        if not _HASH.fullmatch(content_hash):
            return None
        try:
            content = _read_small(self._folder / content_hash, _LARGEST_PROTOCOL)
            if sha256(content).hex() != content_hash:
                return None
            return load_content(content).protocol
        except (OSError, ValueError, ExamError):
            return None


def _look_for_more(folder: Path, found: Checked, listed: set[bytes]) -> None:
    """Name files that no list names: nobody has signed for them."""
    own = {SUMS, LIST_SIGNED}
    for path in _every_file(folder):
        name = path.relative_to(folder).as_posix()
        if name not in own and _short(name) not in listed:
            found.fault(f"{name} is in no list.")


def _every_file(folder: Path) -> Iterator[Path]:
    return (path for path in folder.rglob("*") if path.is_symlink() or path.is_file())


def _short(name: str) -> bytes:
    """Return what a name is known by: a tenth of the memory of a path."""
    return sha256(name.encode("utf-8", "surrogateescape"))[:16]


def _is_inside(name: str) -> bool:
    path = PurePosixPath(name)
    is_plain = "\\" not in name and ":" not in name and "\0" not in name
    return is_plain and not path.is_absolute() and ".." not in path.parts


def _require_ordinary(path: Path) -> None:
    """Refuse what is no ordinary file: a pipe never ends, a link leads elsewhere.

    Raises:
        OSError: It is none, or missing.
    """
    if not stat.S_ISREG(path.lstat().st_mode):
        raise OSError(errno.EINVAL, "no ordinary file")


def _read_small(path: Path, most: int) -> bytes:
    """Read a file of at most so many bytes.

    Raises:
        ValueError: It is longer.
    """
    _require_ordinary(path)
    with path.open("rb") as file:
        content = file.read(most + 1)
    if len(content) > most:
        raise ValueError("larger than anything of its kind")
    return content
