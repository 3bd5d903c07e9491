"""Counting is evidence: the raw count or the tap times are kept, a rate is derived.

A clock started by a button falls anywhere between two beats, so every beat in the
window counts from one. A clock started by the first beat falls on a beat, so that
beat opens the first interval and is not counted: (taps - 1) / (last - first). Taps
never call a rhythm abnormal; words chosen by the examiner do.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class ClockStart(StrEnum):
    """What started the clock of a run of taps."""

    BUTTON = "button"
    FIRST_BEAT = "first_beat"


class CountKind(StrEnum):
    """What is counted."""

    HEART = "heart"
    PULSE = "pulse"
    BREATH = "breath"
    CONTRACTION = "contraction"


@dataclass(frozen=True, slots=True)
class CountAlong:
    """A count made in a window whose clock was started by a button.

    Args:
        count: Beats or breaths counted in the window, the first one as one.
        seconds: Length of the window: 10, 15, 20, 30, 60, 120 or 300.
    """

    count: int
    seconds: int


@dataclass(frozen=True, slots=True)
class TapTimes:
    """A run of taps, one a beat.

    Args:
        offsets_ms: Milliseconds from the start of the clock, each above the one
            before; the first is 0 when the first beat started the clock.
        clock: What started the clock.
    """

    offsets_ms: tuple[int, ...]
    clock: ClockStart


Evidence = CountAlong | TapTimes


@dataclass(frozen=True, slots=True)
class Rate:
    """A rate derived from a count.

    Args:
        per_minute: The rate, per minute.
        uncertainty: Plus or minus, per minute.
        step: What one count more or less would change, per minute.
        basis: How it was reached, in a plain sentence.
    """

    per_minute: Decimal
    uncertainty: Decimal
    step: Decimal
    basis: str
