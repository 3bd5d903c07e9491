"""Reading a shared folder without trusting names, times or renames.

Everything whose name looks like ours is read, wherever a tool put it; what is offered
is content, once for each hash. A hash in the name is a hint: where it fits, the file
is whole; where it does not, or is missing, the content is offered all the same and
whoever opens it finds out. What cannot be opened waits: it may still be arriving. What
is whole and cannot be kept for now is offered again later.
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
TRY_AGAIN_MS = 10 * 60 * 1000

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
        put_off: How many contents are whole and not offered for now.
        known: Names of what was taken before.
    """

    ready: tuple[Found, ...]
    waiting: tuple[Waiting, ...]
    is_all: bool
    others: tuple[PassedOver, ...] = ()
    put_off: int = 0
    known: tuple[str, ...] = ()


@dataclass(slots=True)
class _Seen:
    """What one look has met so far; ``held`` is how many bytes it offers."""

    found: dict[str, Found] = field(default_factory=dict)
    reasons: dict[str, WaitingReason] = field(default_factory=dict)
    aside: set[str] = field(default_factory=set)
    put_off: set[str] = field(default_factory=set)
    known: list[str] = field(default_factory=list)
    held: int = 0


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
    _put_off: dict[str, Moment] = field(default_factory=dict)

    def look(self, known: Container[str], now: Moment) -> Look:
        """Read what is there.

        Args:
            known: Hashes (SHA-256, lower-case hexadecimal) that were taken before.
            now: For how long files have been waiting.

        Raises:
            FolderError: The folder cannot be reached.
        """
        seen = _Seen()
        names, others, is_all = self._names()
        for name in names:
            if seen.held > MOST_HELD:
                is_all = False
                break
            self._see(name, known, now, seen)
        self._set_aside = seen.aside
        if is_all:
            kept = self._put_off.items()
            self._put_off = {key: at for key, at in kept if key in seen.put_off}
        found = seen.found.values()
        ready = sorted(found, key=lambda one: (not one.name_fits, one.name))
        return Look(
            tuple(ready),
            self._waiting(seen.reasons, now),
            is_all,
            others,
            len(seen.put_off),
            tuple(seen.known),
        )

    def _see(self, name: str, known: Container[str], now: Moment, seen: _Seen) -> None:
        digest = _named_photograph(name)
        one: Found | WaitingReason | None = None
        if not digest or not (digest in known or self._is_put_off(digest, now)):
            one = self._read(name)
            if isinstance(one, WaitingReason):
                seen.reasons[name] = one
                return
            digest = one.sha256
        if digest in known:
            seen.known.append(_shown(name))
        elif self._is_put_off(digest, now):
            seen.put_off.add(digest)
        elif digest in self._set_aside:
            seen.reasons[name] = WaitingReason.NOT_OPENED
            seen.aside.add(digest)
        elif isinstance(one, Found) and (digest not in seen.found or one.name_fits):
            seen.held += len(one.content)
            seen.found[digest] = one

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

    def put_off(self, digest: str, now: Moment) -> None:
        """Offer content again later that is whole and cannot be kept for now."""
        self._put_off[digest] = now

    def offer_again(self) -> None:
        """Offer at the next look what was put off: something has come since."""
        self._put_off.clear()

    def _is_put_off(self, digest: str, now: Moment) -> bool:
        since = self._put_off.get(digest)
        return since is not None and 0 <= now.utc_ms - since.utc_ms < TRY_AGAIN_MS

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


def _named_photograph(name: str) -> str:
    """Give the hash in the name of a photograph, or empty.

    There are many and they are large, so that the name of one that was taken or put
    off is believed and it is not read: whoever misnames another could as well have
    taken it away.
    """
    found = _PHOTOGRAPH.fullmatch(Path(name).name)
    return found[1].lower() if found else ""


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
