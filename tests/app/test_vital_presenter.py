"""What the vitals show and take, decided without a screen."""

from dataclasses import replace
from decimal import Decimal

import pytest

from exam_app.app.forms import vital_form as forms
from exam_app.app.view.vital_offers import (
    chosen_units,
    offers_rhythm,
    pad_units,
)
from exam_app.app.view.vital_presenter import (
    NOT_TAKEN,
    RECOUNT_ADVICE,
    STATE_STANDS_MS,
    CardState,
    FlagWeight,
    card,
    flag_notice,
    recent_state,
    recount_advice,
)
from exam_app.domain.errors import MissingReasonError, ReadingError
from exam_app.domain.exam.exam import Exam, vitals_in_scope
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import RateState, Setting, VitalEntry
from exam_app.domain.measure.counting import CountAlong, CountKind
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.intervals import flag_reading
from exam_app.domain.protocol.protocol import Choice, Scope, Vital, VitalKind
from exam_app.protocols.loader import available, load_protocol
from tests.exam_samples import BY, NOW, PROTOCOL, WEIGHT, new_exam
from tests.published_rows import compared_together

URGENT_IDS = tuple(f"{n:032x}" for n in range(4))


def vital(vital_id: str) -> Vital:
    found = PROTOCOL.vital(vital_id)
    assert found is not None
    return found


def typed(vital_id: str, *keys: str, **fields: object) -> forms.VitalForm:
    form = forms.form_for(new_exam(), PROTOCOL, vital(vital_id), NOW)
    for key in keys:
        form = forms.press(form, key)
    return replace(form, **fields)


def recorded(vital_id: str, form: forms.VitalForm, exam: Exam | None = None) -> Exam:
    exam = exam or new_exam()
    entry = forms.to_entry(exam, PROTOCOL, vital(vital_id), form)
    return record_vital(exam, PROTOCOL, vital_id, entry, BY, URGENT_IDS)


def test_a_vital_nobody_answered_says_so_and_is_needed():
    shown = card(new_exam(), PROTOCOL, vital("weight"))
    assert (shown.state, shown.shown) == (CardState.OPEN, NOT_TAKEN)
    assert shown.is_needed


def test_a_vital_that_is_not_required_is_open_without_being_needed():
    assert not card(new_exam(), PROTOCOL, vital("heart_rate")).is_needed


def test_pressed_pounds_and_ounces_are_shown_as_typed_with_kilograms():
    form = typed("weight", "2", "2", "lb", "9", "oz")
    shown = card(recorded("weight", form), PROTOCOL, vital("weight"))
    # 22 lb 9 oz is 10.2342… kg by the international pound of 0.45359237 kg.
    assert shown.shown == "22 lb 9 oz (10.2 kg)"
    assert not shown.is_needed


def test_a_point_pressed_first_reads_as_zero_point():
    assert typed("weight", ".", "4").typed == "0.4"


def test_the_erase_key_takes_back_one_sign_and_a_unit_letter_by_letter():
    assert typed("weight", "1", "0", forms.ERASE).typed == "1"


def test_a_refused_temperature_is_shown_with_its_reason_and_is_no_longer_needed():
    exam = record_vital(
        new_exam(), PROTOCOL, "temperature", VitalEntry(reason="refused"), BY, ()
    )
    shown = card(exam, PROTOCOL, vital("temperature"))
    assert shown.state is CardState.REASON
    assert shown.shown == "not done: refused"
    assert not shown.is_needed


def test_temperature_outside_the_range_is_two_lines_with_the_source_one_tap_behind():
    exam = recorded("temperature", typed("temperature", "3", "9", ".", "4"))
    flag = flag_notice(exam.vital("temperature").flag, PROTOCOL)
    assert flag is not None
    assert flag.weight is FlagWeight.OUTSIDE
    assert flag.word + flag.text == "Outside: above the published range"
    ((line, about),) = flag.behind
    assert (
        line == "Above 37.7–38.5 °C (Invented numbers for tests; recalled, not checked)"
    )
    assert about == "Invented numbers for tests. Recalled by us, not checked."


def test_every_flag_of_every_species_fits_two_lines_of_a_phone():
    # Two lines of small type on 390 points hold some 90 letters; the words of a flag
    # near a limit are the longest.
    for species, measure, rows in compared_together():
        step = Decimal(4) if measure.unit.endswith("/min") else None
        for end in {end for row in rows for end in (row.low, row.high) if end}:
            for value in (end - 1, end, end + 1):
                notice = flag_notice(flag_reading(value, measure, rows, step, {}))
                assert notice is not None
                assert len(notice.word + notice.text) <= 90, (species, notice)


@pytest.mark.parametrize("species", available())
def test_every_range_behind_a_flag_says_who_when_and_how_it_was_checked(species):
    protocol = load_protocol(species).protocol
    titles = protocol.source_titles()
    for vital_of in protocol.vitals:
        if vital_of.measure is None:
            continue
        of_measure = vital_of.measure.measure_id
        rows = [row for row in protocol.intervals if row.measure_id == of_measure]
        if not rows:
            continue
        flag = flag_reading(Decimal(40), vital_of.measure, rows, None, titles)
        notice = flag_notice(flag, protocol)
        assert notice is not None
        assert len(notice.behind) == len(flag.lines)
        for _line, about in notice.behind:
            assert "Read by us" in about or "Recalled by us, not checked" in about


def test_sources_that_differ_are_not_shown_as_within():
    exam = replace(new_exam(), setting=Setting.FARM)
    goat = load_protocol("goat").protocol
    breathing = goat.vital("respiratory_rate")
    assert breathing is not None
    form = forms.VitalForm("32", "breath/min", state=RateState.RESTING)
    entry = forms.to_entry(exam, goat, breathing, form)
    exam = record_vital(exam, goat, "respiratory_rate", entry, BY, URGENT_IDS)
    flag = card(exam, goat, breathing).flag
    assert flag is not None
    assert flag.weight is FlagWeight.DISPUTED
    assert flag.word + flag.text == (
        "Sources differ: inside 1 of 3 published ranges, above 2"
    )


def test_an_ear_temperature_is_not_flagged_by_rectal_ranges():
    form = typed("temperature", "3", "9", ".", "4", site="ear")
    shown = card(recorded("temperature", form), PROTOCOL, vital("temperature"))
    assert shown.flag is None
    assert shown.not_compared == "No range compared: published ranges are for rectal"


def test_a_fast_first_count_asks_to_be_counted_again_and_a_second_one_stands():
    rate_of = vital("heart_rate")
    form = replace(
        forms.take_count(typed("heart_rate"), rate_of, CountAlong(40, 15)),
        state=RateState.RESTING,
    )
    once = recorded("heart_rate", form)
    assert recount_advice(once, PROTOCOL, rate_of) == RECOUNT_ADVICE
    again = forms.take_count(form, rate_of, CountAlong(38, 15))
    twice = recorded("heart_rate", again, once)
    assert recount_advice(twice, PROTOCOL, rate_of) == ""
    assert twice.vital("heart_rate").earlier[0].evidence == CountAlong(40, 15)
    assert "counted again" in card(twice, PROTOCOL, rate_of).detail


def test_a_second_temperature_is_measured_again_and_not_counted():
    form = typed("temperature", *"40.6")
    once = recorded("temperature", form)
    again = forms.type_text(forms.once_more(form), "40.5")
    twice = recorded("temperature", again, once)
    detail = card(twice, PROTOCOL, vital("temperature")).detail
    assert "measured again" in detail
    assert "counted" not in detail


def test_a_rate_inside_its_range_asks_for_no_recount():
    form = typed("heart_rate", "9", "0", state=RateState.RESTING)
    exam = recorded("heart_rate", form)
    assert recount_advice(exam, PROTOCOL, vital("heart_rate")) == ""


def test_a_rate_without_the_animals_state_is_marked():
    shown = card(
        recorded("heart_rate", typed("heart_rate", "9", "0")),
        PROTOCOL,
        vital("heart_rate"),
    )
    assert shown.lacks_state


def test_a_count_keeps_its_evidence_and_a_key_pressed_afterwards_drops_it():
    form = forms.take_count(
        typed("heart_rate"), vital("heart_rate"), CountAlong(31, 15)
    )
    assert (form.typed, form.evidence) == ("124", CountAlong(31, 15))
    assert forms.press(form, forms.ERASE).evidence is None


def test_the_state_of_another_rate_is_offered_for_ten_minutes():
    form = typed("heart_rate", "9", "0", state=RateState.ALERT)
    exam = recorded("heart_rate", form)
    assert recent_state(exam, PROTOCOL, NOW) is RateState.ALERT
    later = Moment(NOW.utc_ms + STATE_STANDS_MS + 1, NOW.offset_min)
    assert recent_state(exam, PROTOCOL, later) is None


def test_what_is_no_number_is_refused_and_nothing_at_all_needs_a_reason():
    with pytest.raises(ReadingError):
        recorded("weight", typed("weight", typed="heavy"))
    with pytest.raises(MissingReasonError):
        recorded("weight", typed("weight"))


def entry_of(weighed, form):
    return forms.to_entry(new_exam(), PROTOCOL, weighed, form)


def test_an_implausible_weight_is_asked_about_once_and_then_believed():
    guarded = replace(
        vital("weight"),
        measure=replace(
            WEIGHT, plausible_low=Decimal("0.05"), plausible_high=Decimal(120)
        ),
    )
    entry = entry_of(guarded, typed("weight", "1", "0", "2", "0"))
    asked = forms.question(guarded, entry)
    assert asked is not None
    assert "1020 kg" in asked.text
    assert "0.05–120 kg" in asked.text
    believed = entry_of(guarded, typed("weight", *"1020", is_confirmed=True))
    assert forms.question(guarded, believed) is None
    assert forms.question(guarded, entry_of(guarded, typed("weight", *"10"))) is None


def test_the_unit_last_used_on_this_device_is_offered_as_chosen():
    weight = vital("weight")
    form = forms.form_for(new_exam(), PROTOCOL, weight, NOW, "lb")
    assert form.unit == "lb"
    assert forms.form_for(new_exam(), PROTOCOL, weight, NOW, "stone").unit == "kg"


def test_one_choice_replaces_another_but_signs_stand_together():
    form = forms.choose_value(forms.VitalForm(), "pink", several=False)
    assert forms.choose_value(form, "white", several=False).values == ("white",)
    both = forms.choose_value(form, "dry", several=True)
    assert both.values == ("pink", "dry")
    assert forms.choose_value(both, "pink", several=True).values == ("dry",)


def test_none_seen_never_stands_beside_a_sign():
    form = forms.choose_value(forms.VitalForm(), "dry", several=True)
    none = forms.choose_value(form, forms.NONE_SEEN, several=True)
    assert none.values == (forms.NONE_SEEN,)
    assert forms.choose_value(none, "dry", several=True).values == ("dry",)


def test_white_gums_are_shown_and_open_their_urgent_sign():
    form = forms.choose_value(typed("gums"), "white", several=False)
    exam = recorded("gums", form)
    assert card(exam, PROTOCOL, vital("gums")).shown == "white"
    assert [entry.label for entry in exam.urgent] == ["White gums"]


def test_only_a_weight_can_be_an_estimate_and_says_so():
    assert vital("weight").is_body_weight
    assert not vital("temperature").is_body_weight
    form = typed("weight", "1", "0", is_estimate=True)
    shown = card(recorded("weight", form), PROTOCOL, vital("weight"))
    assert "estimated, not weighed" in shown.detail
    assert shown.shown == "about 10 kg"


def test_rhythm_is_asked_of_heartbeats_and_every_beat_felt_of_a_pulse_only():
    pulse = replace(vital("heart_rate"), counts=CountKind.PULSE)
    assert offers_rhythm(vital("heart_rate"))
    assert not offers_rhythm(vital("weight"))
    assert pulse.counted is CountKind.PULSE
    assert vital("heart_rate").counted is CountKind.HEART


def test_pounds_bring_their_ounces_to_the_pad_and_degrees_bring_nothing():
    temperature = vital("temperature").measure
    assert temperature is not None
    assert pad_units(WEIGHT) == ("lb", "oz")
    assert pad_units(temperature) == ()
    assert chosen_units(temperature) == (("degC", "°C"), ("degF", "°F"))


def test_every_vital_of_the_scope_has_a_card_and_counts_in_the_progress():
    assert [v.vital_id for v in vitals_in_scope(new_exam(), PROTOCOL)] == [
        "weight",
        "temperature",
        "heart_rate",
        "gums",
    ]
    assert [v.vital_id for v in vitals_in_scope(new_exam(Scope.INTAKE), PROTOCOL)] == [
        "weight",
        "gums",
    ]


def test_volunteers_read_plain_words():
    from exam_app.app.view.vital_presenter import choice_label
    from exam_app.domain.exam.review import vital_label

    assert vital_label(vital("heart_rate"), Role.VOLUNTEER) == "Heartbeat"
    assert vital_label(vital("heart_rate"), Role.TECHNICIAN) == "Heart rate"
    assert choice_label(Choice("a", "icteric", "yellow"), Role.VOLUNTEER) == "yellow"
    assert vital("gums").kind is VitalKind.CHOICE
