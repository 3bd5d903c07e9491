"""The run of codes that the player shows: bundles cut into frames, drawn one by one."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from exam_app.app.handover.player import Turn, turns
from sync.transport.frames import DotSize, Frames, split
from sync.transport.qr import qr_png

TYPING = "typing"
DOTS = (
    (DotSize.BIGGER.value, "Bigger dots"),
    (DotSize.NORMAL.value, "Normal"),
    (DotSize.DENSE.value, "Dense"),
    (TYPING, "For a scanner that types"),
)


@dataclass(slots=True, repr=False)
class CodeRun:
    """Codes of one or more bundles with one size of dots.

    Attributes:
        sealed: The bundles, at least one.
        dots: A key of ``DOTS``.
        shown: How many codes were given so far.

    Raises:
        BundleTooLargeError: A bundle is too large for these dots.
    """

    sealed: Sequence[bytes]
    dots: str
    shown: int = 0
    _frames: list[Frames] = field(init=False)
    _turns: Iterator[Turn] = field(init=False)

    def __post_init__(self) -> None:
        """Cut the bundles into frames."""
        is_typed = self.dots == TYPING
        size = DotSize.NORMAL if is_typed else DotSize(self.dots)
        self._frames = [split(one, size, for_typing=is_typed) for one in self.sealed]
        self._turns = turns(self._frames)

    @property
    def count(self) -> int:
        """How many codes hold everything once."""
        return sum(frames.count for frames in self._frames)

    @property
    def is_still(self) -> bool:
        """Whether a person goes on from code to code: a trigger takes its time."""
        return self.dots == TYPING

    def next_picture(self) -> bytes:
        """Give the picture of the next code, one pixel per module."""
        turn = next(self._turns)
        frames = self._frames[turn.bundle]
        self.shown += 1
        return _picture(frames.text(turn.frame_id), frames.dots)


@lru_cache(maxsize=512)
def _picture(text: str, dots: DotSize) -> bytes:
    return qr_png(text, dots)
