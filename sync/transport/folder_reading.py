"""Reading a shared folder without trusting names, times or renames.

Everything whose name looks like ours is read, wherever a tool put it; what is offered
is content, once for each hash. A hash in the name is a hint: where it fits, the file
is whole; where it does not, or is missing, the content is offered all the same and
whoever opens it finds out. What cannot be opened waits: it may still be arriving.
Links, devices and pipes are never opened, and no file is read beyond the limit.
"""

import os
import re
import stat
from collections.abc import Callable, Container, Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from hashlib import sha256
from pathlib import Path

from exam_app.domain.moments import Moment
from exam_app.domain.wording.visible_text import visible
from sync.bundle.sealing import LARGEST_SEALED
from sync.errors import FolderError

LARGEST_FILE = LARGEST_SEALED
DEEPEST = 3
MOST_FILES = 20_000
MOST_HELD = 64 * 1024 * 1024
# A syncing tool over a slow line; after that a person should look.
OVERDUE_MS = 10 * 60 * 1000

# ".exa" is what is left of every ending of ours where names are 8.3. Copies by
# syncing tools carry their mark before or behind the ending.
_OURS = re.compile(
    r"\.exam-(bundle|receipt|day-pack|card|photographs?)|\.exa$", re.IGNORECASE
)
_PART = ".part"
_PHOTOGRAPH = re.compile(r"([0-9a-f]{64})\.exam-photograph", re.IGNORECASE)
_HASH = re.compile(r"[0-9a-f]{64}", re.IGNORECASE)
_OPENING: int = (
    os.O_RDONLY
    | getattr(os, "O_NOFOLLOW", 0)
    | getattr(os, "O_NONBLOCK", 0)
    | getattr(os, "O_BINARY", 0)
)


class WaitingReason(StrEnum):
    """Why a file is not offered."""

    INCOMPLETE = "empty so far"
    NOT_OPENED = "could not be opened so far"
    TOO_LARGE = "too large"
    UNREADABLE = "cannot be read"
    OTHER_NAME = "its name has no ending of a hand-over"
    NO_FILE = "no plain file: a link, a pipe or a device is never opened"
    TOO_DEEP = f"a folder more than {DEEPEST} levels down is not looked into"
    CLOSED = "this folder cannot be looked into"


@dataclass(frozen=True, slots=True)
class Found:
    """Content that is offered.

    Attributes:
        content: At least one byte.
        sha256: Of the content, as 64 lower-case hexadecimal digits.
        name: Path below the root, for showing.
        name_fits: Whether the name holds the content's hash: the file is whole.
    """

    content: bytes
    sha256: str
    name: str
    name_fits: bool


@dataclass(frozen=True, slots=True)
class Waiting:
    """A file that is not offered, for now.

    Attributes:
        name: Path below the root.
        is_overdue: Whether it was first met so a while ago: a person should look.
    """

    name: str
    reason: WaitingReason
    is_overdue: bool


@dataclass(frozen=True, slots=True)
class PassedOver:
    """Something in the folder that is not looked into, and never will be as it is."""

    name: str
    reason: WaitingReason


@dataclass(frozen=True, slots=True)
class Look:
    """What one look found.

    Attributes:
        ready: What is new, each content once; files known to be whole first.
        waiting: What is not offered, by name.
        is_all: Whether there were no more files than one look takes.
        others: What else is there, by name.
    """

    ready: tuple[Found, ...]
    waiting: tuple[Waiting, ...]
    is_all: bool
    others: tuple[PassedOver, ...] = ()


@dataclass(slots=True)
class FolderReader:
    """Looks into a folder and below it, three levels down.

    Attributes:
        root: The shared folder, which has to be there.
        within: Path below the root to look into; it may not be there yet.
        skipped: Name of a sub-folder that is not entered: what this reader's own
            side writes.
    """

    root: Path
    within: str = ""
    skipped: str = ""
    _since: dict[str, Moment] = field(default_factory=dict)
    _set_aside: set[str] = field(default_factory=set)

    def look(self, known: Container[str], now: Moment) -> Look:
        """Read what is there.

        Args:
            known: Hashes (SHA-256, lower-case hexadecimal) that were taken before.
            now: For how long files have been waiting.

        Raises:
            FolderError: The folder cannot be reached.
        """
        found: dict[str, Found] = {}
        reasons: dict[str, WaitingReason] = {}
        aside: set[str] = set()
        held = 0
        names, others, is_all = self._names()
        for name in names:
            if held > MOST_HELD:
                is_all = False
                break
            if _is_taken_photograph(name, known):
                continue
            one = self._read(name)
            if isinstance(one, WaitingReason):
                reasons[name] = one
            elif one.sha256 in self._set_aside:
                reasons[name] = WaitingReason.NOT_OPENED
                aside.add(one.sha256)
            elif one.sha256 not in known and (one.sha256 not in found or one.name_fits):
                held += len(one.content)
                found[one.sha256] = one
        self._set_aside = aside
        ready = sorted(found.values(), key=lambda one: (not one.name_fits, one.name))
        return Look(tuple(ready), self._waiting(reasons, now), is_all, others)

    def is_empty(self) -> bool:
        """Whether nothing at all is there.

        Raises:
            FolderError: The folder cannot be reached.
        """
        names, others, _ = self._names()
        return not names and not others

    def set_aside(self, digest: str) -> None:
        """Let content wait that could not be opened; other content is not touched."""
        self._set_aside.add(digest)

    def _waiting(
        self, reasons: dict[str, WaitingReason], now: Moment
    ) -> tuple[Waiting, ...]:
        self._since = {name: self._since.get(name, now) for name in reasons}
        waiting = []
        for name, reason in sorted(reasons.items()):
            late = now.utc_ms - self._since[name].utc_ms >= OVERDUE_MS
            waiting.append(Waiting(_shown(name), reason, late))
        return tuple(waiting)

    def _names(self) -> tuple[list[str], tuple[PassedOver, ...], bool]:
        """Give the paths below the root that look like ours, others, and whether all.

        At most ``MOST_FILES`` of each.
        """
        names: list[str] = []
        others: list[PassedOver] = []
        try:
            with os.scandir(self.root):
                pass
        except OSError as error:
            raise FolderError(error.strerror or "the system refused") from error
        below = f"{self.within}/" if self.within else ""
        is_all = True
        walk = _walk(self.root / self.within, below, DEEPEST, self.skipped)
        for name, reason in walk:
            if MOST_FILES in (len(names), len(others)):
                is_all = False
                break
            if reason is None:
                names.append(name)
            else:
                others.append(PassedOver(_shown(name), reason))
        others.sort(key=lambda one: one.name)
        return sorted(names), tuple(others), is_all

    def _read(self, name: str) -> Found | WaitingReason:
        """Read a plain file up to the limit, or say why it is not offered."""
        try:
            content = _content(self.root / name)
        except OSError:
            return WaitingReason.UNREADABLE
        if content is None:
            return WaitingReason.TOO_LARGE
        digest = sha256(content).hexdigest()
        fits = digest in map(str.lower, _HASH.findall(Path(name).name))
        is_part = name.lower().endswith(_PART) and not fits
        if is_part or not content.strip(b"\0"):
            return WaitingReason.INCOMPLETE
        return Found(content, digest, _shown(name), fits)


def _is_taken_photograph(name: str, known: Container[str]) -> bool:
    """Whether a name is that of a photograph that was taken before.

    There are many and they are large, so that its name is believed and it is not read:
    whoever misnames another could as well have taken it away.
    """
    found = _PHOTOGRAPH.fullmatch(Path(name).name)
    return found is not None and found[1].lower() in known


def _content(path: Path) -> bytes | None:
    """Read a plain file; None if it is longer than ``LARGEST_FILE``.

    Raises:
        OSError: No plain file, or the system refused.
    """
    descriptor = os.open(path, _OPENING)
    with os.fdopen(descriptor, "rb") as file:
        status = os.fstat(descriptor)
        if not stat.S_ISREG(status.st_mode):
            msg = "no plain file"
            raise OSError(msg)
        if status.st_size > LARGEST_FILE:
            return None
        content = file.read(LARGEST_FILE + 1)
    return content if len(content) <= LARGEST_FILE else None


def _shown(name: str) -> str:
    """Give a name that every screen and file can hold."""
    return visible(name.encode("utf-8", "replace").decode())


def _walk(
    folder: Path, below: str, levels: int, skipped: str
) -> Iterator[tuple[str, WaitingReason | None]]:
    """Give plain files that look like ours, following no link, and why not others."""
    try:
        entries = list(os.scandir(folder))
    except FileNotFoundError:
        return
    except OSError:
        yield below or ".", WaitingReason.CLOSED
        return
    for entry in entries:
        name = f"{below}{entry.name}"
        if _is(entry.is_dir):
            if entry.name.lower() == skipped:
                continue
            if not levels:
                yield f"{name}/", WaitingReason.TOO_DEEP
                continue
            yield from _walk(Path(entry.path), f"{name}/", levels - 1, skipped)
        elif not _is(entry.is_file):
            yield name, WaitingReason.NO_FILE
        else:
            is_ours = _OURS.search(entry.name)
            yield name, None if is_ours else WaitingReason.OTHER_NAME


def _is(asked: Callable[..., bool]) -> bool:
    try:
        return asked(follow_symlinks=False)
    except OSError:
        return False
