"""Frames come in, bundles come out: any time, in any order, several at once.

Frames are kept by the head they carry; a bundle is given out once, and only if its
SHA-256 begins as its frames said. A stray frame that spoils a bundle makes that
bundle alone start again. What is kept is bounded, however many frames arrive.
"""

from dataclasses import dataclass, field
from enum import StrEnum
from hashlib import sha256

from sync.erasure import decode_blocks
from sync.errors import NotAFrameError
from sync.frames import TAG_LENGTH, read_frame

MOST_PENDING = 32
MOST_FINISHED = 32
MOST_REMEMBERED = 512

_Head = tuple[bytes, int, int, int]


class Arrival(StrEnum):
    """What one frame did."""

    NEW = "new"
    REPEATED = "repeated"
    STRAY = "stray"
    COMPLETE = "complete"


@dataclass(frozen=True, slots=True)
class Progress:
    """How far one bundle is.

    Attributes:
        tag: First 6 bytes of its SHA-256.
        have: Different frames seen; never more than needed.
        needed: Frames that rebuild it.
    """

    tag: bytes
    have: int
    needed: int

    @property
    def is_complete(self) -> bool:
        """Whether the bundle was rebuilt."""
        return self.have == self.needed


@dataclass(slots=True)
class Collector:
    """The frames seen so far."""

    _pending: dict[_Head, dict[int, bytes]] = field(default_factory=dict)
    _finished: list[bytes] = field(default_factory=list)
    _done: dict[bytes, int] = field(default_factory=dict)

    def add(self, text: str) -> Arrival:
        """Take the text of one code, or what a scanner typed.

        Returns:
            ``STRAY`` for what is no frame, or contradicts one that was seen;
            ``COMPLETE`` for the frame that completed its bundle.
        """
        try:
            frame = read_frame(text)
        except NotAFrameError:
            return Arrival.STRAY
        if frame.tag in self._done:
            return Arrival.REPEATED
        head = (frame.tag, frame.length, frame.count, len(frame.block))
        blocks = self._blocks_of(head)
        seen = blocks.get(frame.block_id)
        if seen is None:
            blocks[frame.block_id] = frame.block
            return Arrival.NEW if len(blocks) < frame.count else self._finish(head)
        if seen != frame.block:
            # One of the two is false, and nothing says which.
            del blocks[frame.block_id]
            return Arrival.STRAY
        return Arrival.REPEATED

    def add_lines(self, text: str) -> tuple[Arrival, ...]:
        """Take several texts, one to a line, as pasted or typed by a scanner."""
        return tuple(self.add(line) for line in text.splitlines() if line.strip())

    def progress(self) -> tuple[Progress, ...]:
        """Give how far each bundle is: the complete ones first, oldest first."""
        done = (Progress(tag, count, count) for tag, count in self._done.items())
        pending = (
            Progress(tag, len(blocks), count)
            for (tag, _, count, _), blocks in self._pending.items()
        )
        return (*done, *pending)

    def finished(self) -> list[bytes]:
        """Give the sealed bundles completed since the last call, each once ever."""
        finished, self._finished = self._finished, []
        return finished

    def _blocks_of(self, head: _Head) -> dict[int, bytes]:
        """Give the blocks kept under a head, making room for a new one."""
        if head not in self._pending and len(self._pending) >= MOST_PENDING:
            # The one with the fewest frames, so that a flood of strays pushes out
            # strays.
            del self._pending[min(self._pending, key=lambda h: len(self._pending[h]))]
        return self._pending.setdefault(head, {})

    def _finish(self, head: _Head) -> Arrival:
        """Rebuild a bundle that has enough frames, or let it start again."""
        tag, length, count, _ = head
        blocks = self._pending.pop(head)
        sealed = b"".join(decode_blocks(blocks, count))[:length]
        if sha256(sealed).digest()[:TAG_LENGTH] != tag:
            return Arrival.STRAY
        if len(self._finished) >= MOST_FINISHED:
            # Nobody fetched the others; what is not kept must not count as seen.
            return Arrival.STRAY
        self._finished.append(sealed)
        self._done[tag] = count
        if len(self._done) > MOST_REMEMBERED:
            del self._done[next(iter(self._done))]
        for other in [h for h in self._pending if h[0] == tag]:
            del self._pending[other]
        return Arrival.COMPLETE
