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
class PulseComparison:
    """Beats without a pulse, or None when that cannot be said, and a sentence."""

    deficit: int | None
    text: str


def pulse_comparison(
    method: PulseMethod,
    seconds: int | None = None,
    *,
    dropped: int | None = None,
    beats: int | None = None,
    pulses: int | None = None,
) -> PulseComparison:
    """Compare pulse and heartbeat, and state a deficit only when both ran together.

    Args:
        method: How they were compared; what it does not use is ``None``.
        seconds: How long both were attended to, in seconds.
        dropped: Beats heard without a pulse, for "every beat felt?"; 0 when each
            beat was felt.
        beats: Heartbeats counted.
        pulses: Pulses counted.

    Raises:
        CountError: A number the method needs is missing or below zero.
    """
    if method is PulseMethod.COUNTED_APART:
        return PulseComparison(
            None,
            "Heartbeat and pulse were counted one after the other: "
            "a difference between them says nothing about beats without a pulse.",
        )
    span = f" in {seconds} s" if seconds else ""
    if method is PulseMethod.EVERY_BEAT_FELT:
        missed = _counted(dropped)
        if missed == 0:
            return PulseComparison(0, f"A pulse was felt with every beat heard{span}.")
        told = f"{count_words(missed, 'beat')} without a pulse{span}."
        return PulseComparison(missed, told)
    heard, felt = _counted(beats), _counted(pulses)
    if felt > heard:
        told = f"More pulses ({felt}) than beats ({heard}){span}: count again."
        return PulseComparison(None, told)
    without = f"{count_words(heard - felt, 'beat')} without a pulse."
    told = f"{heard} beats, {felt} pulses{span}: {without}"
    return PulseComparison(heard - felt, told)


def _counted(number: int | None) -> int:
    if number is None or number < 0:
        raise CountError("a number needed for this comparison is missing")
    return number
