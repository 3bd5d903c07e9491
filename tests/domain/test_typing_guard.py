"""A number that is far off is asked about, its likelier unit first."""

import itertools
from decimal import Decimal
from fractions import Fraction

import pytest

from exam_app.app.forms import vital_form as forms
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.measure.conversion import convert, plain_number
from exam_app.domain.measure.units import in_unit, is_plausible, parse_reading
from exam_app.protocols.loader import available, load_protocol


def form(typed, unit):
    return forms.VitalForm(typed=typed, unit=unit)


def asked_of(vital, form, stage=""):
    reading = parse_reading(form.typed, form.unit, vital.measure)
    return forms.question(vital, VitalEntry(reading=reading), stage)


def vital_of(species, vital_id):
    vital = load_protocol(species).protocol.vital(vital_id)
    assert vital is not None
    return vital


def stages(species):
    return ("", *(s.stage_id for s in load_protocol(species).protocol.life_stages))


def test_fahrenheit_typed_as_celsius_is_offered_as_fahrenheit_first():
    temperature = vital_of("dog", "temperature")
    asked = asked_of(temperature, form("101.3", "degC"), "adult")
    assert asked is not None
    assert asked.text == "Is 101.3 °C right? Expected here: 28–44 °C."
    assert [choice.label for choice in asked.units] == ["°F? 38.5 °C"]
    assert asked.as_typed == "As typed: 101.3 °C"
    taken = forms.in_this_unit(form("101.3", "degC"), asked.units[0].reading)
    assert asked_of(temperature, taken, "adult") is None
    reading = parse_reading(taken.typed, taken.unit, temperature.measure)
    assert reading is not None
    assert in_unit(reading, "degC", Decimal("0.1")) == Decimal("38.5")


def test_unit_typed_behind_the_number_is_replaced_by_the_one_chosen():
    temperature = vital_of("dog", "temperature")
    asked = asked_of(temperature, form("101.8 C", "degC"), "adult")
    assert asked is not None
    taken = forms.in_this_unit(form("101.8 C", "degC"), asked.units[0].reading)
    assert (taken.typed, taken.unit) == ("101.8", "degF")


def test_celsius_typed_as_fahrenheit_is_offered_as_celsius():
    asked = asked_of(vital_of("cat", "temperature"), form("38.5", "degF"))
    assert asked is not None
    assert [choice.label for choice in asked.units] == ["°C? 38.5 °C"]


def test_guinea_pig_of_850_is_offered_in_grams_and_a_cat_of_9_pounds_is_no_question():
    asked = asked_of(vital_of("guinea_pig", "weight"), form("850", "kg"), "adult")
    assert asked is not None
    assert [choice.label for choice in asked.units] == ["g? 0.85 kg"]
    assert asked_of(vital_of("cat", "weight"), form("9", "lb"), "adult") is None


def test_number_that_fits_no_unit_is_asked_without_one_and_two_numbers_say_theirs():
    weight = vital_of("dog", "weight")
    asked = asked_of(weight, form("990000", "kg"), "adult")
    assert asked is not None
    assert asked.units == ()
    pounds = asked_of(weight, form("990 lb 3 oz", "kg"), "adult")
    assert pounds is not None
    assert pounds.units == ()


def meant_values(species):
    """Yield vital, stage, unit meant and number, at both ends and the middle."""
    for vital in load_protocol(species).protocol.vitals:
        measure = vital.measure
        if measure is None or len(measure.units_offered) < 2:
            continue
        for stage, meant in itertools.product(stages(species), measure.units_offered):
            low, high = measure.expected_at(stage)
            for value in (low, (low + high) / 2, high):
                exact = convert(value, measure.unit, meant)
                number = Decimal(exact.numerator) / exact.denominator
                typed = plain_number(number.quantize(Decimal("0.0001")))
                if is_plausible(parse_reading(typed, meant, measure), measure, stage):
                    yield vital, stage, meant, typed


@pytest.mark.parametrize("species", available())
def test_number_meant_in_another_unit_is_offered_in_it_when_it_is_far_off(species):
    asked_about = silent = 0
    for vital, stage, meant, typed in meant_values(species):
        for wrong in set(vital.measure.units_offered) - {meant}:
            asked = asked_of(vital, form(typed, wrong), stage)
            if asked is None:
                silent += 1
                continue
            asked_about += 1
            assert meant in [choice.reading.unit for choice in asked.units]
            for choice in asked.units:
                assert is_plausible(choice.reading, vital.measure, stage)
    assert asked_about > silent


@pytest.mark.parametrize("species", available())
def test_every_published_temperature_typed_in_the_other_unit_is_asked_of(species):
    protocol = load_protocol(species).protocol
    vital = vital_of(species, "temperature")
    for row in protocol.intervals:
        if row.measure_id != "temperature":
            continue
        for end in (row.low, row.high):
            if end is None:
                continue
            fahrenheit = Fraction(end) * 9 / 5 + 32
            typed = str(round(float(fahrenheit), 1))
            asked = asked_of(vital, form(typed, "degC"))
            assert asked is not None, (row.interval_id, typed)
            assert asked.units[0].reading.unit == "degF"
            back = asked_of(vital, form(str(end), "degF"))
            assert back is not None, (row.interval_id, end)
            assert back.units[0].reading.unit == "degC"


# --- what is expected at a stage of life ---


def test_adult_dog_of_200_grams_is_asked_about_and_a_newborn_is_not():
    weight = vital_of("dog", "weight")
    asked = asked_of(weight, form("0.2", "kg"), "adult")
    assert asked is not None
    assert asked.text == "Is 0.2 kg right? Expected at this age: 0.6–120 kg."
    assert asked_of(weight, form("0.2", "kg"), "newborn") is None


def test_age_that_is_not_known_is_held_to_the_widest_limits():
    weight = vital_of("dog", "weight")
    assert asked_of(weight, form("0.2", "kg"), "") is None
    assert asked_of(weight, form("60", "kg"), "") is None
    assert asked_of(weight, form("0.01", "kg"), "") is not None


@pytest.mark.parametrize("species", available())
def test_every_stage_has_limits_of_weight_and_none_is_wider_than_that_of_any_age(
    species,
):
    measure = vital_of(species, "weight").measure
    assert measure is not None
    named = {stage for limits in measure.plausible for stage in limits.life_stages}
    assert named == set(stages(species)) - {""}
    low, high = measure.expected_at("")
    assert low == min(limits.low for limits in measure.plausible)
    assert high == max(limits.high for limits in measure.plausible)


def test_limits_by_stage_are_counted_with_what_they_rest_on():
    lines, together = [""], 0
    for species in available():
        protocol = load_protocol(species).protocol
        sources = {s.source_id: s.provenance for s in protocol.sources}
        rests = [
            sources[limits.source_id]
            for vital in protocol.vitals
            if vital.measure
            for limits in vital.measure.plausible
        ]
        together += len(rests)
        read = rests.count("read")
        lines.append(
            f"{species:>12}: plausible by stage {read} read, {len(rests) - read} not"
        )
    print("\n".join(lines))
    assert together >= 3 * len(available()) - 5


@pytest.mark.parametrize("species", available())
def test_every_published_range_lies_within_what_is_expected_at_its_age(species):
    protocol = load_protocol(species).protocol
    measures = {v.measure.measure_id: v.measure for v in protocol.vitals if v.measure}
    for row in protocol.intervals:
        for stage in row.life_stages or stages(species):
            low, high = measures[row.measure_id].expected_at(stage)
            for end in (row.low, row.high):
                assert end is None or low is None or low <= end, row.interval_id
                assert end is None or high is None or end <= high, row.interval_id
