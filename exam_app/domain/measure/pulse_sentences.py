"""What a record says of a pulse beside a heartbeat: kept English, shown as chosen."""

from exam_app.domain.wording.kept_words import sentence_shown
from exam_app.language.catalogue import to_translate

COUNTED_APART = to_translate(
    "Heartbeat and pulse were counted one after the other: "
    "a difference between them says nothing about beats without a pulse."
)
# Each of these without and with how long both were attended to.
EVERY_BEAT = (
    to_translate("A pulse was felt with every beat heard."),
    to_translate("A pulse was felt with every beat heard in {seconds} s."),
)
ONE_BEAT = (
    to_translate("1 beat without a pulse."),
    to_translate("1 beat without a pulse in {seconds} s."),
)
SOME_BEATS = (
    to_translate("{missed} beats without a pulse."),
    to_translate("{missed} beats without a pulse in {seconds} s."),
)
MORE_PULSES = (
    to_translate("More pulses ({felt}) than beats ({heard}): count again."),
    to_translate(
        "More pulses ({felt}) than beats ({heard}) in {seconds} s: count again."
    ),
)
ONE_OF_BOTH = (
    to_translate("{heard} beats, {felt} pulses: 1 beat without a pulse."),
    to_translate(
        "{heard} beats, {felt} pulses in {seconds} s: 1 beat without a pulse."
    ),
)
SOME_OF_BOTH = (
    to_translate("{heard} beats, {felt} pulses: {missed} beats without a pulse."),
    to_translate(
        "{heard} beats, {felt} pulses in {seconds} s: {missed} beats without a pulse."
    ),
)
# The longer ones first: a number of seconds is none of beats.
_PULSE_SENTENCES = (
    COUNTED_APART,
    *reversed(EVERY_BEAT),
    *reversed(MORE_PULSES),
    *reversed(ONE_OF_BOTH),
    *reversed(SOME_OF_BOTH),
    *reversed(ONE_BEAT),
    *reversed(SOME_BEATS),
)


def pulse_words(kept: str) -> str:
    """Return the sentence of a comparison, which is kept in English, as it is shown."""
    return sentence_shown(kept, _PULSE_SENTENCES)
