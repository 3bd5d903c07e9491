"""Pulse beside heartbeat: a deficit is only ever said of one moment."""

from dataclasses import replace

from exam_app.app.forms import pulse_form, vital_form
from exam_app.app.view.count_presenter import windows_for
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import RateState, VitalEntry
from exam_app.domain.measure.counting import CountAlong, PulseMethod
from exam_app.domain.wording.exam_wording import describe_vital
from exam_app.protocols.loader import load_protocol
from tests.exam_samples import BY, NOW, new_exam

DOG = load_protocol("dog").protocol
PULSE = next(vital for vital in DOG.vitals if vital.vital_id == "pulse_rate")
HEART = next(vital for vital in DOG.vitals if vital.vital_id == "heart_rate")
URGENT_IDS = tuple(f"{n:032x}" for n in range(4))


DROPPED = pulse_form.PulseForm(PulseMethod.EVERY_BEAT_FELT)


def pressed(form: pulse_form.PulseForm, *keys: str) -> pulse_form.PulseForm:
    for key in keys:
        form = pulse_form.press(form, key)
    return form


def together(beats: str, pulses: str, seconds: int = 30) -> pulse_form.PulseForm:
    form = pressed(pulse_form.begin_together(), *beats)
    form = pressed(replace(form, is_at_pulses=True), *pulses)
    return replace(form, seconds=seconds)


def test_dropped_beats_give_the_sentence_with_the_time_when_it_was_said():
    form = pressed(DROPPED, "3")
    assert pulse_form.sentence(form) == "3 beats without a pulse."
    timed = replace(form, seconds=30)
    assert pulse_form.sentence(timed) == "3 beats without a pulse in 30 s."


def test_no_number_is_asked_for_instead_of_being_taken_as_none():
    assert "how many" in pulse_form.problem(DROPPED)
    assert "both counts" in pulse_form.problem(together("60", ""))
    assert pulse_form.sentence(together("60", "")) == ""


def test_both_counted_together_give_the_difference_and_the_pulse_rate():
    form = together("60", "52")
    said = "60 beats, 52 pulses in 30 s: 8 beats without a pulse."
    assert pulse_form.sentence(form) == said
    assert pulse_form.pulse_count(form) == CountAlong(52, 30)


def test_more_pulses_than_beats_is_a_miscount_and_not_recorded():
    form = together("50", "52")
    assert "count again" in pulse_form.problem(form)
    assert pulse_form.sentence(form) == ""
    assert pulse_form.pulse_count(form) is None


def test_erase_takes_the_last_digit_of_the_number_asked_for():
    form = pressed(together("60", "52"), "erase")
    assert (form.beats, form.pulses) == ("60", "5")


def test_dropped_beats_alone_give_no_pulse_rate():
    assert pulse_form.pulse_count(pressed(DROPPED, "3")) is None


def recorded(vital, per_minute: str, exam):
    form = vital_form.form_for(exam, DOG, vital, NOW)
    form = vital_form.type_text(form, per_minute)
    form = replace(form, state=RateState.ALERT)
    entry = vital_form.to_entry(exam, DOG, vital, form)
    return record_vital(exam, DOG, vital.vital_id, entry, BY, URGENT_IDS)


def test_two_rates_taken_one_after_the_other_are_never_called_a_deficit():
    heart = recorded(HEART, "120", new_exam())
    assert pulse_form.apart_note(heart, DOG, PULSE) == ""
    both = recorded(PULSE, "100", heart)
    note = pulse_form.apart_note(both, DOG, PULSE)
    assert note.startswith("Heartbeat and pulse were counted one after the other")
    assert "20" not in note
    written = describe_vital(both.vital("pulse_rate"), PULSE, DOG, both)
    assert "without a pulse" not in written


def test_sentence_shown_is_the_one_in_the_written_record():
    said = pulse_form.sentence(together("60", "52"))
    exam = new_exam()
    form = vital_form.form_for(exam, DOG, PULSE, NOW)
    form = vital_form.take_count(form, PULSE, CountAlong(52, 30))
    form = replace(form, beats_felt=said, state=RateState.ALERT)
    entry = vital_form.to_entry(exam, DOG, PULSE, form)
    assert isinstance(entry, VitalEntry)
    assert entry.beats_felt == said
    written = describe_vital(entry, PULSE, DOG, exam)
    assert said.rstrip(".") in written
    assert ".," not in written


def test_windows_offered_for_both_together_are_those_of_a_pulse():
    assert pulse_form.TOGETHER_SECONDS in pulse_form.WINDOWS
    assert pulse_form.WINDOWS == (15, 30, 60)
    assert set(pulse_form.WINDOWS) <= set(windows_for(new_exam(), DOG, PULSE))
