"""Pulse against heartbeat: a deficit needs both in the same moment.

A heartbeat without a pulse is noticed while listening and feeling together. Two
counts made one after the other differ for many reasons and are no deficit.
"""

from dataclasses import dataclass
from enum import StrEnum

from exam_app.domain.errors import CountError
from exam_app.domain.wording.count_words import count_words


class PulseMethod(StrEnum):
    """How pulse and heartbeat were compared."""

    EVERY_BEAT_FELT = "every_beat_felt"
    COUNTED_TOGETHER = "counted_together"
    COUNTED_APART = "counted_apart"


@dataclass(frozen=True, slots=True)
class PulseCheck:
    """What was counted. What the method does not use is None.

    Args:
        method: How pulse and heartbeat were compared.
        seconds: How long both were attended to, in seconds.
        dropped: Beats heard without a pulse, for "every beat felt?"; 0 when each
            beat was felt.
        beats: Heartbeats counted.
        pulses: Pulses counted.
    """

    method: PulseMethod
    seconds: int | None = None
    dropped: int | None = None
    beats: int | None = None
    pulses: int | None = None


@dataclass(frozen=True, slots=True)
class PulseComparison:
    """Beats without a pulse, or None when that cannot be said, and a sentence."""

    deficit: int | None
    text: str


def pulse_comparison(check: PulseCheck) -> PulseComparison:
    """Compare pulse and heartbeat, and state a deficit only when both ran together.

    Raises:
        CountError: A number the method needs is missing or below zero.
    """
    if check.method is PulseMethod.COUNTED_APART:
        return PulseComparison(
            None,
            "Heartbeat and pulse were counted one after the other: "
            "a difference between them says nothing about beats without a pulse.",
        )
    span = f" in {check.seconds} s" if check.seconds else ""
    if check.method is PulseMethod.EVERY_BEAT_FELT:
        dropped = _counted(check.dropped)
        if dropped == 0:
            return PulseComparison(0, f"A pulse was felt with every beat heard{span}.")
        beats_dropped = count_words(dropped, "beat")
        return PulseComparison(dropped, f"{beats_dropped} without a pulse{span}.")
    beats, pulses = _counted(check.beats), _counted(check.pulses)
    if pulses > beats:
        return PulseComparison(
            None, f"More pulses ({pulses}) than beats ({beats}){span}: count again."
        )
    text = f"{beats} beats, {pulses} pulses{span}"
    without = f"{count_words(beats - pulses, 'beat')} without a pulse."
    return PulseComparison(beats - pulses, f"{text}: {without}")


def _counted(number: int | None) -> int:
    if number is None or number < 0:
        raise CountError("a number needed for this comparison is missing")
    return number
