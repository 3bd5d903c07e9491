"""Frames come in, bundles come out: any time, in any order, several at once.

Frames are kept by the head they carry; a bundle is given out once, and only if its
SHA-256 begins as its frames said. A foreign code has a head of its own and is a
collection of its own. A false frame with the head of a true bundle spoils nothing
either: what was read is kept, and where the frames do not rebuild the bundle, some are
left out in turn, those first that were read most often, as a still code in view is.
What is kept and what is tried for one frame are bounded, however many arrive.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from hashlib import sha256
from itertools import chain, combinations

from sync.errors import NotAFrameError
from sync.transport.erasure_code import decode_blocks
from sync.transport.frames import TAG_LENGTH, Frame, read_frame

MOST_PENDING = 32
MOST_FINISHED = 32
MOST_REMEMBERED = 512
# Blocks kept for one bundle, true and false ones, and in all.
MOST_PIECES = 320
MOST_BLOCKS = 4_096
# Blocks that claim one place.
MOST_VARIANTS = 3
# Attempts to rebuild a bundle for one frame, and bytes multiplied in them: some hundred
# milliseconds on one core. What was not tried is tried with the next frame.
MOST_TRIES = 48
MOST_WORK = 32_000_000
# Left out together because they were read most often, and tried two by two.
_MOST_LEFT_OUT = 8
_MOST_PAIRED = 12
_MOST_STEPS = 500
_MOST_TRIED = 4_096

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
        have: Different frames seen; as many as needed only once it was rebuilt.
        needed: Frames that rebuild it.
    """

    tag: bytes
    have: int
    needed: int


@dataclass(slots=True, eq=False)
class _Piece:
    """One block as it was read.

    Attributes:
        number: Counts the pieces of a collection, from one.
        seen: How often it was read.
    """

    block_id: int
    block: bytes
    number: int
    seen: int = 1


@dataclass(slots=True)
class _Collection:
    """The frames of one head."""

    tag: bytes
    length: int
    count: int
    pieces: list[_Piece] = field(default_factory=list)
    tried: set[int] = field(default_factory=set)
    numbers: int = 0

    def add(self, frame: Frame) -> Arrival:
        """Keep a frame; one that contradicts another is a stray and is kept as well."""
        alike = [one for one in self.pieces if one.block_id == frame.block_id]
        for one in alike:
            if one.block == frame.block:
                one.seen += 1
                return Arrival.REPEATED
        if len(alike) >= MOST_VARIANTS:
            self.pieces.remove(alike[0])
        elif len(self.pieces) >= MOST_PIECES:
            del self.pieces[0]
        self.numbers += 1
        self.pieces.append(_Piece(frame.block_id, frame.block, self.numbers))
        return Arrival.STRAY if alike else Arrival.NEW

    def have(self) -> int:
        """Count the different places that were read."""
        return len({one.block_id for one in self.pieces})

    def rebuild(self) -> tuple[bytes | None, int]:
        """Give the bundle, if some of the frames rebuild it, and the attempts made."""
        tries = work = 0
        if self.have() < self.count:
            return None, tries
        if len(self.tried) > _MOST_TRIED:
            self.tried.clear()
        for steps, chosen in enumerate(self._choices()):
            used = hash(frozenset(one.number for one in chosen))
            if len(chosen) == self.count and used not in self.tried:
                self.tried.add(used)
                tries += 1
                lost = sum(one.block_id >= self.count for one in chosen)
                work += lost * self.count * len(chosen[0].block)
                blocks = {one.block_id: one.block for one in chosen}
                content = b"".join(decode_blocks(blocks, self.count))[: self.length]
                if sha256(content).digest()[:TAG_LENGTH] == self.tag:
                    return content, tries
            if tries >= MOST_TRIES or work > MOST_WORK or steps >= _MOST_STEPS:
                break
        return None, tries

    def _choices(self) -> Iterator[list[_Piece]]:
        """Give choices of pieces, as many as rebuild the bundle or too few.

        A still code in view is read most often, and what was read falsely once is
        contradicted by the true block once that was read.
        """
        suspects = sorted(self.pieces, key=lambda one: (-one.seen, one.number))
        yield self._chosen(suspects)
        times = Counter(one.block_id for one in suspects)
        yield self._chosen(one for one in suspects if times[one.block_id] == 1)
        several = (suspects[:many] for many in range(1, _MOST_LEFT_OUT + 1))
        single = ([one] for one in suspects)
        pairs = combinations(suspects[:_MOST_PAIRED], 2)
        for left_out in chain(several, single, pairs):
            yield self._chosen(one for one in suspects if one not in left_out)
        yield self._chosen(reversed(suspects))

    def _chosen(self, pieces: Iterable[_Piece]) -> list[_Piece]:
        """Take the last of pieces that claim one place, and of all the first places."""
        places = {one.block_id: one for one in pieces}
        return [places[place] for place in sorted(places)][: self.count]


@dataclass(slots=True)
class Collector:
    """The frames seen so far.

    Attributes:
        tries: How often a bundle was tried to be rebuilt.
    """

    tries: int = 0
    _pending: dict[_Head, _Collection] = field(default_factory=dict)
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
        is_alone = frame.count == 1
        collection = _Collection(*head[:3]) if is_alone else self._collection_of(head)
        arrival = collection.add(frame)
        self._make_room(head)
        if len(self._finished) >= MOST_FINISHED:
            # Nobody fetched the others; what is not given out must not count as seen.
            return Arrival.STRAY if is_alone else arrival
        sealed, tries = collection.rebuild()
        self.tries += tries
        if sealed is None:
            return Arrival.STRAY if is_alone else arrival
        return self._finish(collection, sealed)

    def progress(self) -> tuple[Progress, ...]:
        """Give how far each bundle is: the complete ones first, oldest first."""
        done = (Progress(tag, count, count) for tag, count in self._done.items())
        pending = (
            Progress(one.tag, min(one.have(), one.count - 1), one.count)
            for one in self._pending.values()
        )
        return (*done, *pending)

    def finished(self) -> list[bytes]:
        """Give the sealed bundles completed since the last call, each once ever."""
        finished, self._finished = self._finished, []
        return finished

    def _collection_of(self, head: _Head) -> _Collection:
        """Give what is kept under a head, making room for a new one."""
        if head not in self._pending:
            if len(self._pending) >= MOST_PENDING:
                self._drop_smallest()
            self._pending[head] = _Collection(*head[:3])
        return self._pending[head]

    def _make_room(self, head: _Head) -> None:
        while sum(len(one.pieces) for one in self._pending.values()) > MOST_BLOCKS:
            self._drop_smallest(head)

    def _drop_smallest(self, but: _Head | None = None) -> None:
        # The one with the fewest frames, so that a flood of strays pushes out strays.
        heads = [head for head in self._pending if head != but]
        del self._pending[min(heads, key=lambda head: self._pending[head].have())]

    def _finish(self, collection: _Collection, sealed: bytes) -> Arrival:
        self._finished.append(sealed)
        self._done[collection.tag] = collection.count
        if len(self._done) > MOST_REMEMBERED:
            del self._done[next(iter(self._done))]
        for other in [head for head in self._pending if head[0] == collection.tag]:
            del self._pending[other]
        return Arrival.COMPLETE
