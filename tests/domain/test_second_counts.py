"""A rate at the limit of an urgent sign asks for the second count the sign demands."""

from dataclasses import replace
from decimal import Decimal

import pytest

from exam_app.app.forms import vital_form as forms
from exam_app.app.view.vital_presenter import RECOUNT_ADVICE, recount_advice
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import RateState
from exam_app.domain.measure.counting import CountAlong
from exam_app.domain.protocol.urgent_signs import Trigger, UrgentSign
from exam_app.protocols.loader import available, load_protocol
from tests.exam_samples import BY, NOW, PROTOCOL, new_exam

IDS = tuple(f"{number:032x}" for number in range(8))
# Invented: wider than the sample's range of 60 to 120, so that the flag is silent.
RACING = UrgentSign(
    "racing",
    "Racing heart",
    "Heart races",
    "Tell now.",
    triggers=(
        Trigger(
            "heart_rate", above="110", states=("resting", "hot"), counted_twice=True
        ),
    ),
)
SAMPLE = replace(PROTOCOL, urgent_signs=(*PROTOCOL.urgent_signs, RACING))
HEART = SAMPLE.vital("heart_rate")
SIGN_ADVICE = (
    "This is at the limit of an urgent sign (Racing heart). Count again: "
    "two counts decide."
)


def taken(exam, protocol, vital, form):
    entry = forms.to_entry(exam, protocol, vital, form)
    return record_vital(
        exam, protocol, vital.vital_id, entry, BY, IDS, is_repeat=form.is_repeat
    )


def counted(exam, count, state=RateState.RESTING, seconds=15):
    form = forms.form_for(exam, SAMPLE, HEART, NOW)
    form = forms.take_count(form, HEART, CountAlong(count, seconds))
    return taken(exam, SAMPLE, HEART, replace(form, state=state))


def labels(exam):
    return [entry.label for entry in exam.urgent]


def test_first_count_beyond_the_limit_opens_no_sign_and_asks_for_the_second():
    once = counted(new_exam(), 28)
    assert labels(once) == []
    assert recount_advice(once, SAMPLE, HEART) == SIGN_ADVICE


def test_second_count_beyond_the_limit_opens_the_sign_and_asks_no_more():
    twice = counted(counted(new_exam(), 28), 29)
    assert labels(twice) == ["Racing heart"]
    assert recount_advice(twice, SAMPLE, HEART) == ""


def test_second_count_that_says_exactly_the_same_opens_the_sign_too():
    once = counted(new_exam(), 28)
    twice = counted(once, 28)
    assert labels(twice) == ["Racing heart"]
    assert len(twice.vital("heart_rate").earlier) == 1


def test_rhythm_or_note_added_to_a_count_is_no_second_count():
    once = counted(new_exam(), 28)
    form = forms.form_for(once, SAMPLE, HEART, NOW)
    noted = taken(once, SAMPLE, HEART, replace(form, note="restless", rhythm="regular"))
    assert noted.vital("heart_rate").earlier == ()
    assert labels(noted) == []


def test_temperature_that_decides_by_two_readings_is_measured_again():
    cat = load_protocol("cat").protocol
    temperature = cat.vital("temperature")
    assert temperature is not None
    exam = new_exam()
    form = forms.form_for(exam, cat, temperature, NOW)
    once = taken(exam, cat, temperature, forms.type_text(form, "40.0"))
    assert "Measure again: two readings decide." in recount_advice(
        once, cat, temperature
    )
    form = forms.once_more(forms.form_for(once, cat, temperature, NOW))
    assert form.typed == ""
    twice = taken(once, cat, temperature, forms.type_text(form, "40.0"))
    assert len(twice.urgent) == 1
    assert recount_advice(twice, cat, temperature) == ""


@pytest.mark.parametrize("count", [27, 28])
def test_count_within_one_step_of_the_limit_asks_once(count):
    # Over 15 s one beat is 4/min: 27 is 108 and 28 is 112, around the limit of 110.
    once = counted(new_exam(), count)
    assert recount_advice(once, SAMPLE, HEART) == SIGN_ADVICE
    twice = counted(once, 27 if count == 28 else 26)
    assert recount_advice(twice, SAMPLE, HEART) == ""


def test_second_count_beyond_after_a_calm_first_one_asks_for_a_third():
    twice = counted(counted(new_exam(), 20), 28)
    assert labels(twice) == []
    assert recount_advice(twice, SAMPLE, HEART) == SIGN_ADVICE


def test_count_well_inside_asks_nothing():
    assert recount_advice(counted(new_exam(), 24), SAMPLE, HEART) == ""


def test_limit_of_another_state_asks_nothing_and_one_compared_with_nothing_does():
    alert = counted(new_exam(), 28, RateState.ALERT)
    assert recount_advice(alert, SAMPLE, HEART) == ""
    hot = counted(new_exam(), 28, RateState.HOT)
    assert hot.vital("heart_rate").flag is None
    assert recount_advice(hot, SAMPLE, HEART) == SIGN_ADVICE


def test_rate_outside_its_range_and_far_from_any_sign_asks_as_before():
    slow = counted(new_exam(), 12)
    assert recount_advice(slow, SAMPLE, HEART) == RECOUNT_ADVICE


def twice_counted():
    """Yield every sign that asks for two counts, with what it asks them under."""
    for species in available():
        protocol = load_protocol(species).protocol
        for sign in protocol.urgent_signs:
            for trigger in sign.every_trigger():
                if trigger.counted_twice:
                    yield species, protocol, sign, trigger


def test_every_sign_that_demands_two_counts_is_asked_for_on_the_sheet():
    tried = 0
    for species, protocol, sign, trigger in twice_counted():
        vital = protocol.vital(trigger.vital_id)
        assert vital is not None
        assert vital.measure is not None
        step = vital.measure.precision
        beyond = Decimal(trigger.above) + step if trigger.above else None
        value = beyond or Decimal(trigger.below) - step
        state = RateState(next(iter(trigger.states), "resting"))
        exam = replace(new_exam(), life_stage=next(iter(trigger.life_stages), "adult"))
        if trigger.settings:
            exam = replace(exam, setting=type(exam.setting)(trigger.settings[0]))
        typed, unit = str(value), vital.measure.unit
        form = forms.VitalForm(typed, unit, state=state, is_confirmed=True)
        exam = taken(exam, protocol, vital, form)
        assert "decide" in recount_advice(exam, protocol, vital), (
            species,
            sign.sign_id,
        )
        tried += 1
    assert tried >= 6
