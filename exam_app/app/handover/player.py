"""Which code is shown when, how large, and what is honestly said of it.

Times and sizes are arguments; nothing here waits or draws. Measured in Chromium on
two noisy cores: pictures of one pixel per module, scaled up by the browser, were
painted at 8, 12 and 20 a second without one blank or skipped code.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

FRAMES_PER_SECOND = 8
# The lock's own ceiling; then the player stops by itself.
LONGEST_SECONDS = 900.0


class FramesToShow(Protocol):
    """What the player needs of a split bundle."""

    @property
    def count(self) -> int:
        """How many frames hold the bundle once."""

    def text(self, frame_id: int) -> str:
        """Give the text of one code."""

    def order(self) -> Iterator[int]:
        """Give frame ids without an end."""


@dataclass(frozen=True, slots=True)
class Fit:
    """How large a code is drawn.

    Attributes:
        module_pixels: Whole pixels of the screen per module, at least one.
        side: Width and height with the quiet zone, in the page's own units.
    """

    module_pixels: int
    side: float


def fit(width: float, height: float, modules: int, pixel_ratio: float) -> Fit:
    """Return the largest code of whole screen pixels per module that fits.

    Args:
        width: Room in the page's own units.
        height: The same downwards.
        modules: Of one side, with the quiet zone.
        pixel_ratio: Screen pixels per unit; anything not above zero counts as one.
    """
    ratio = pixel_ratio if pixel_ratio > 0 else 1.0
    room = max(min(width, height), 0) * ratio
    pixels = max(1, math.floor(room / modules))
    return Fit(pixels, pixels * modules / ratio)


@dataclass(frozen=True, slots=True)
class Turn:
    """One code to show: of which bundle, and which frame of it."""

    bundle: int
    frame_id: int


def turns(bundles: Sequence[FramesToShow]) -> Iterator[Turn]:
    """Give every code to show, without an end.

    First each bundle's frames once, bundle after bundle; then half as many repair
    frames of each in turn, so that none is kept waiting for long.
    """
    orders = [frames.order() for frames in bundles]
    for number, frames in enumerate(bundles):
        for _ in range(frames.count):
            yield Turn(number, next(orders[number]))
    while bundles:
        for number, frames in enumerate(bundles):
            for _ in range(max(1, frames.count // 2)):
                yield Turn(number, next(orders[number]))


def progress(shown: int, count: int) -> float:
    """Return the share of the first round that was shown, from 0 to 1."""
    return min(shown / count, 1.0) if count else 1.0


def progress_words(shown: int, count: int, *, is_paused: bool = False) -> str:
    """Say how far it is; whether all arrived is not known here, and is not said.

    Args:
        shown: Codes shown so far.
        count: Codes that hold everything once.
        is_paused: Whether one code stands still.
    """
    paused = "Paused. " if is_paused else ""
    if shown < count:
        return f"{paused}Code {shown} of {count}, for the first time."
    if count == 1:
        return (
            f"{paused}The one code was shown and is repeated. "
            "The clinic's screen says when it has everything."
        )
    return (
        f"{paused}All {count} codes were shown once; repair codes follow. "
        "The clinic's screen says when it has everything."
    )


def space_words(*, is_still: bool) -> str:
    """Say what the space bar does; a scanner that types needs each code at rest."""
    if is_still:
        return "Space bar: next code, once the scanner has read this one."
    return "Space bar: pause and go on."


def is_over(seconds: float) -> bool:
    """Whether the player has run for as long as it may keep the screen unlocked."""
    return seconds >= LONGEST_SECONDS
