"""Pulse beside heartbeat while it is being entered: keys pressed, then one sentence.

A deficit is only ever said of one moment: each beat felt while listening, or both
counted together. Of two rates taken one after the other the sentence says that their
difference says nothing.
"""

from dataclasses import dataclass, replace

from exam_app.app.view.count_presenter import pad_digits
from exam_app.app.view.vital_offers import offers_rhythm
from exam_app.domain.errors import CountError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.measure.counting import (
    CountAlong,
    CountKind,
    PulseComparison,
    PulseMethod,
    offered_windows,
    pulse_comparison,
)
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital
from exam_app.language.catalogue import in_english, tr

with in_english():
    # Stands in the record.
    EVERY_BEAT_FELT = pulse_comparison(PulseMethod.EVERY_BEAT_FELT, dropped=0).text
WINDOWS = tuple(
    seconds
    for seconds in sorted(offered_windows(None, CountKind.PULSE))
    if seconds in {15, 30, 60}
)
TOGETHER_SECONDS = 30


@dataclass(frozen=True, slots=True)
class PulseForm:
    """Digits pressed so far.

    Attributes:
        method: One of the two that run in the same moment.
        seconds: How long both were attended to; ``None`` when not said.
        dropped: Digits of the beats without a pulse.
        beats: Digits of the heartbeats counted.
        pulses: Digits of the pulses counted.
        is_at_pulses: Whether the next digit belongs to the pulses.
    """

    method: PulseMethod
    seconds: int | None = None
    dropped: str = ""
    beats: str = ""
    pulses: str = ""
    is_at_pulses: bool = False


def begin_together() -> PulseForm:
    """Begin with both counted together, over the window usual for it."""
    return PulseForm(PulseMethod.COUNTED_TOGETHER, TOGETHER_SECONDS)


def press(form: PulseForm, key: str) -> PulseForm:
    """Add a digit to the number asked for now, or take its last one back."""
    if form.method is PulseMethod.EVERY_BEAT_FELT:
        return replace(form, dropped=pad_digits(form.dropped, key))
    if form.is_at_pulses:
        return replace(form, pulses=pad_digits(form.pulses, key))
    return replace(form, beats=pad_digits(form.beats, key))


def problem(form: PulseForm) -> str:
    """Say why this is no comparison yet; empty when it is one."""
    try:
        found = _compared(form)
    except CountError:
        if form.method is PulseMethod.COUNTED_TOGETHER:
            return tr("Type both counts: beats heard and pulses felt.")
        return tr("Type how many beats had no pulse.")
    if form.method is PulseMethod.COUNTED_TOGETHER and not int(form.beats):
        return tr("Type both counts: beats heard and pulses felt.")
    return "" if found.deficit is not None else found.text


def sentence(form: PulseForm) -> str:
    """Return what will stand in the record; empty while something is missing."""
    if problem(form):
        return ""
    with in_english():
        return _compared(form).text


def pulse_count(form: PulseForm) -> CountAlong | None:
    """Return the pulses as a count of their own, when both were counted together."""
    is_counted = form.method is PulseMethod.COUNTED_TOGETHER and form.seconds
    if not is_counted or not form.pulses or not int(form.pulses) or problem(form):
        return None
    return CountAlong(int(form.pulses), form.seconds or TOGETHER_SECONDS)


def apart_note(exam: Exam, protocol: SpeciesProtocol, pulse: Vital) -> str:
    """Say that two rates taken apart show no deficit; empty unless both stand."""
    heart = (
        vital
        for vital in protocol.vitals
        if offers_rhythm(vital) and vital.vital_id != pulse.vital_id
    )
    entries = [exam.vital(vital.vital_id) for vital in (*heart, pulse)]
    if len(entries) < 2 or any(entry.reading is None for entry in entries):
        return ""
    return pulse_comparison(PulseMethod.COUNTED_APART).text


def _compared(form: PulseForm) -> PulseComparison:
    def number(digits: str) -> int | None:
        return int(digits) if digits else None

    return pulse_comparison(
        form.method,
        form.seconds,
        dropped=number(form.dropped),
        beats=number(form.beats),
        pulses=number(form.pulses),
    )
