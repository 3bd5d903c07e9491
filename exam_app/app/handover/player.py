"""Which code is shown when, how large, and what is honestly said of it.

Times and sizes are arguments; nothing here waits or draws on a screen. Measured in
Chromium on two noisy cores: pictures of one pixel per module, scaled up by the browser,
were painted at 8, 12 and 20 a second without one blank or skipped code.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import takewhile

from exam_app.language.catalogue import to_translate, tr
from sync.transport.frames import DotSize, Frames, split
from sync.transport.qr import QUIET_MODULES, qr_rows, strip_png

FRAMES_PER_SECOND = 8
# Codes in one picture: the browser draws the page twice for each new picture.
LONGEST_STRIP = 8
# The lock's own ceiling; then the player stops by itself.
LONGEST_SECONDS = 900.0
_SLOW_SECONDS = 10
TYPING = "typing"
DOTS = (
    (DotSize.BIGGER.value, to_translate("Bigger dots")),
    (DotSize.NORMAL.value, to_translate("Normal")),
    (DotSize.DENSE.value, to_translate("Dense")),
    (TYPING, to_translate("For a scanner that types")),
)


@dataclass(frozen=True, slots=True)
class Strip:
    """Codes of one size that are shown one after the other.

    Attributes:
        png: One below the other, one pixel per module.
        modules: Of one side, with the quiet zone.
        count: How many codes, at least one.
    """

    png: bytes
    modules: int
    count: int


@dataclass(slots=True, repr=False)
class CodeRun:
    """Codes of one or more bundles with one size of dots.

    Attributes:
        sealed: The bundles, at least one.
        dots: A key of ``DOTS``.
        shown: How many codes were shown so far; counted by who shows them.

    Raises:
        BundleTooLargeError: A bundle is too large for these dots.
    """

    sealed: Sequence[bytes]
    dots: str
    shown: int = 0
    _frames: list[Frames] = field(init=False)
    _turns: Iterator[tuple[int, int]] = field(init=False)
    _ready: list[tuple[bytes, ...]] = field(init=False, default_factory=list)

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

    def prepare(self) -> None:
        """Draw one more code, unless a strip is full: some milliseconds of a core."""
        if len(self._ready) < LONGEST_STRIP:
            bundle, frame_id = next(self._turns)
            frames = self._frames[bundle]
            self._ready.append(_rows(frames.text(frame_id), frames.dots))

    def next_strip(self) -> Strip:
        """Give the codes prepared so far, as far as they are of one size."""
        if not self._ready:
            self.prepare()
        side = len(self._ready[0])
        codes = list(takewhile(lambda rows: len(rows) == side, self._ready))
        del self._ready[: len(codes)]
        return Strip(strip_png(codes), side + 2 * QUIET_MODULES, len(codes))


@lru_cache(maxsize=512)
def _rows(text: str, dots: DotSize) -> tuple[bytes, ...]:
    return qr_rows(text, dots)


def next_due(due: float, now: float) -> float:
    """Say when the next code is due, in seconds.

    What is late by less than half a code's time is made good, so that a busy computer
    shows as many codes; after a longer wait none hurries, since it would not be seen.
    """
    return max(due + 1 / FRAMES_PER_SECOND, now - 0.5 / FRAMES_PER_SECOND)


def turns(bundles: Sequence[Frames]) -> Iterator[tuple[int, int]]:
    """Give bundle and frame id of every code to show, without an end.

    First each bundle's frames once, bundle after bundle; then half as many repair
    frames of each in turn, so that none is kept waiting for long.
    """
    orders = [frames.order() for frames in bundles]
    for number, frames in enumerate(bundles):
        for _ in range(frames.count):
            yield number, next(orders[number])
    while bundles:
        for number, frames in enumerate(bundles):
            for _ in range(max(1, frames.count // 2)):
                yield number, next(orders[number])


def fit(width: float, height: float, modules: int, pixel_ratio: float) -> float:
    """Return the side of the largest code of whole screen pixels that fits.

    Args:
        width: Room in the page's own units.
        height: The same downwards.
        modules: Of one side, with the quiet zone; each gets one pixel at least.
        pixel_ratio: Screen pixels per unit; anything not above zero counts as one.

    Returns:
        Width and height with the quiet zone, in the page's own units.
    """
    ratio = pixel_ratio if pixel_ratio > 0 else 1.0
    room = max(min(width, height), 0) * ratio
    return max(1, math.floor(room / modules)) * modules / ratio


def progress(shown: int, count: int) -> float:
    """Return the share of the first round that was shown, from 0 to 1."""
    return min(shown / count, 1.0) if count else 1.0


def is_slow(shown: int, count: int, dots: str) -> bool:
    """Whether bigger dots are to be proposed: several rounds and some seconds long."""
    has_bigger = dots in (DotSize.NORMAL, DotSize.DENSE)
    return has_bigger and shown >= max(3 * count, _SLOW_SECONDS * FRAMES_PER_SECOND)


def progress_words(
    shown: int, count: int, *, is_paused: bool = False, is_slow: bool = False
) -> str:
    """Say how far it is; whether all arrived is not known here, and is not said.

    Args:
        shown: Codes shown so far.
        count: Codes that hold everything once.
        is_paused: Whether one code stands still.
        is_slow: Whether bigger dots are proposed, in no more room.
    """
    paused = tr("Paused.") + " " if is_paused else ""
    if shown < count:
        return paused + tr(
            "Code {shown} of {count}, for the first time.", shown=shown, count=count
        )
    if is_slow:
        then = tr("Slow at the clinic? Closer, or bigger dots.")
    else:
        then = tr("The clinic's screen says when it has everything.")
    if count == 1:
        return paused + tr("The one code was shown and is repeated. {then}", then=then)
    return paused + tr(
        "All {count} codes were shown once; repair codes follow. {then}",
        count=count,
        then=then,
    )


def space_words(*, is_still: bool) -> str:
    """Say what the space bar does; a scanner that types needs each code at rest."""
    if is_still:
        return tr("Space bar: next code, once the scanner has read this one.")
    return tr("Space bar: pause and go on.")
