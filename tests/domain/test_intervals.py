"""Flags against published ranges: the values are the sources' own."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.domain.errors import UnitMismatchError
from exam_app.domain.measure.units import Measure, in_unit, parse_reading
from exam_app.domain.protocol.intervals import (
    LIMIT_STATISTICS,
    Flag,
    ReferenceInterval,
    applicable,
    flag_reading,
    interval_problems,
    is_limit,
)
from exam_app.domain.protocol.limits import FlagLevel

TEMPERATURE = Measure(
    "temperature",
    "Temperature",
    "Temperature",
    "degC",
    ("degC", "degF"),
    Decimal("0.1"),
)
HEART_RATE = Measure(
    "heart_rate", "Heart rate", "Heart rate", "beat/min", ("beat/min",), Decimal(1)
)
BREATHING = Measure(
    "breathing", "Breathing", "Breathing", "breath/min", ("breath/min",), Decimal(1)
)
REFILL = Measure("refill", "Refill", "Refill", "s", ("s",), Decimal("0.1"))
SOURCES = {
    "dorn2024": "Dorn 2024",
    "dohvh": "Dog Owner's Home Veterinary Handbook",
    "triage": "Merck triage table",
    "merck_hr": "Merck heart rates",
    "dijkstra2018": "Dijkstra 2018",
}


def row(measure, low, high, source="triage", **changes):
    values = {
        "interval_id": f"{source}-{low}-{high}",
        "measure_id": measure.measure_id,
        "low": None if low is None else Decimal(low),
        "high": None if high is None else Decimal(high),
        "unit": measure.unit,
        "life_stages": ("adult",),
        "settings": (),
        "states": (),
        "statistic": "range",
        "source_id": source,
        "provenance": "read",
    }
    return ReferenceInterval(**(values | changes))


def flag(value, measure, *rows, step=None):
    number = None if step is None else Decimal(step)
    return flag_reading(Decimal(value), measure, rows, number, SOURCES)


# Dog, adult: Dorn 2024 37.7-39.5 C (95 % reference interval, n=9117); the owner's
# handbook 37.7-39.2 C; a triage table of heart rates 60-120/min; a table recalled
# as 70-120/min. Cat: Dijkstra 2018, breathing in the consulting room 32-135/min,
# awake at home 16-60/min. Sleeping cats: up to 30/min (Ljungvall).
DORN = row(TEMPERATURE, "37.7", "39.5", "dorn2024", statistic="95% reference interval")
HANDBOOK = row(TEMPERATURE, "37.7", "39.2", "dohvh")
TRIAGE = row(HEART_RATE, "60", "120")
RECALLED = row(HEART_RATE, "70", "120", "merck_hr", provenance="memory")
CAT_ROOM = row(BREATHING, "32", "135", "dijkstra2018", settings=("clinic",))
CAT_HOME = row(
    BREATHING,
    "16",
    "60",
    "dijkstra2018",
    settings=("home",),
    states=("resting", "alert"),
    statistic="observed range",
)
CAT_ASLEEP = row(
    BREATHING, None, "30", "ljungvall", states=("asleep",), statistic="upper limit"
)
PUPPY = row(HEART_RATE, "160", "240", life_stages=("weeks 1-2",))


@pytest.mark.reference
@pytest.mark.parametrize(
    ("value", "level"),
    [
        ("37.6", FlagLevel.BELOW),
        ("37.7", FlagLevel.WITHIN),
        ("38.6", FlagLevel.WITHIN),
        ("39.5", FlagLevel.WITHIN),
        ("39.6", FlagLevel.ABOVE),
    ],
)
def test_both_ends_of_a_range_are_within(value, level):
    assert flag(value, TEMPERATURE, DORN).level is level


@pytest.mark.reference
def test_reading_on_the_upper_limit_in_fahrenheit_is_within():
    # 103.1 F is 39.5 C; floats would leave it a hair above.
    reading = parse_reading("103.1 F", "degC", TEMPERATURE)
    value = in_unit(reading, "degC", TEMPERATURE.precision)
    assert flag(value, TEMPERATURE, DORN).level is FlagLevel.WITHIN


def test_a_value_is_rounded_to_the_items_step_before_it_is_compared():
    assert flag("39.54", TEMPERATURE, DORN).level is FlagLevel.WITHIN
    assert flag("39.55", TEMPERATURE, DORN).level is FlagLevel.ABOVE
    assert flag("120.4", HEART_RATE, TRIAGE).level is FlagLevel.WITHIN


def test_a_range_in_another_unit_of_the_same_thing_is_converted():
    printed = row(TEMPERATURE, "101.3", "102.5", unit="degF")
    found = flag("38.5", TEMPERATURE, printed)
    assert found.level is FlagLevel.WITHIN
    assert "38.5–39.2 °C" in found.text


def test_a_row_of_breaths_does_not_flag_heartbeats():
    wrong = row(HEART_RATE, "10", "34", unit="breath/min")
    with pytest.raises(UnitMismatchError):
        flag("80", HEART_RATE, wrong)


def test_a_flag_says_the_value_the_range_the_source_and_how_it_was_checked():
    found = flag("130", HEART_RATE, TRIAGE)
    assert found.summary == "130/min: above the published range"
    assert found.lines == ("Above 60–120/min (Merck triage table)",)
    assert found.interval_ids == ("triage-60-120",)
    assert found.source_ids == ("triage",)
    assert not found.unchecked


def test_within_says_so():
    assert flag("38.5", TEMPERATURE, DORN).text == (
        "38.5 °C: inside the published range\nInside 37.7–39.5 °C (Dorn 2024)"
    )
    assert flag("38.5", TEMPERATURE, DORN).sentence == (
        "38.5 °C: inside the published range. Inside 37.7–39.5 °C (Dorn 2024)"
    )


def test_a_recalled_row_flags_and_says_that_nobody_checked_it():
    found = flag("130", HEART_RATE, RECALLED)
    assert found.level is FlagLevel.ABOVE
    assert found.unchecked
    assert "recalled, not checked" in found.text


@pytest.mark.reference
def test_where_ranges_disagree_only_a_value_outside_all_of_them_is_flagged():
    both = (HANDBOOK, DORN)
    assert flag("39.4", TEMPERATURE, HANDBOOK).level is FlagLevel.ABOVE
    found = flag("39.4", TEMPERATURE, *both)
    assert found.level is FlagLevel.WITHIN
    assert found.summary == "39.4 °C: inside 1 of 2 published ranges, above 1"
    assert found.lines == (
        "Above 37.7–39.2 °C (Dog Owner's Home Veterinary Handbook)",
        "Inside 37.7–39.5 °C (Dorn 2024)",
    )
    outside = flag("39.6", TEMPERATURE, *both)
    assert outside.level is FlagLevel.ABOVE
    assert outside.summary == "39.6 °C: above both published ranges"
    for shown in ("37.7–39.2 °C", "37.7–39.5 °C", "Dorn 2024", "Handbook"):
        assert shown in outside.text


def test_below_every_range_is_below():
    assert flag("55", HEART_RATE, TRIAGE, RECALLED).level is FlagLevel.BELOW
    assert flag("65", HEART_RATE, TRIAGE, RECALLED).level is FlagLevel.WITHIN


def test_a_value_between_two_ranges_that_do_not_meet_takes_the_nearer_side():
    # Breathing of sheep: 9-20 and 26-50 stand for the nearly disjoint rows.
    low, high = row(BREATHING, "9", "20"), row(BREATHING, "26", "50", "other")
    nearer_low = flag("22", BREATHING, low, high)
    assert nearer_low.level is FlagLevel.ABOVE
    assert nearer_low.summary == (
        "22/min: between the published ranges: above 1, below 1"
    )
    assert flag("24", BREATHING, low, high).level is FlagLevel.BELOW
    assert flag("23", BREATHING, low, high).level is FlagLevel.ABOVE


@pytest.mark.parametrize(
    ("value", "level"),
    [
        # Counted over 15 s: one step is 4/min.
        ("55", FlagLevel.BELOW),
        ("56", FlagLevel.NEAR_LOW),
        ("60", FlagLevel.NEAR_LOW),
        ("63", FlagLevel.NEAR_LOW),
        ("64", FlagLevel.WITHIN),
        ("116", FlagLevel.WITHIN),
        ("117", FlagLevel.NEAR_HIGH),
        ("120", FlagLevel.NEAR_HIGH),
        ("124", FlagLevel.NEAR_HIGH),
        ("125", FlagLevel.ABOVE),
    ],
)
def test_within_one_counting_step_of_a_limit_is_near(value, level):
    assert flag(value, HEART_RATE, TRIAGE, step="4").level is level


def test_near_names_the_limit_the_side_and_the_step():
    assert flag("118", HEART_RATE, TRIAGE, step="4").text == (
        "118/min: inside the published range, near the upper limit "
        "(counting step 4/min)\nInside 60–120/min (Merck triage table)"
    )
    assert flag("122", HEART_RATE, TRIAGE, step="4").summary == (
        "122/min: above the published range by one counting step (4/min) or less"
    )
    assert flag("58", HEART_RATE, TRIAGE, RECALLED, step="4").summary == (
        "58/min: below both published ranges, the nearest by 4/min or less"
    )


def test_a_limit_that_another_range_reaches_past_is_not_near():
    # 68 is near the recalled lower end of 70 but well inside 60-120.
    assert flag("68", HEART_RATE, TRIAGE, RECALLED, step="4").level is FlagLevel.WITHIN


def test_an_open_end_is_never_near_nor_passed():
    assert flag("4", BREATHING, CAT_ASLEEP, step="4").level is FlagLevel.WITHIN
    assert flag("28", BREATHING, CAT_ASLEEP, step="4").level is FlagLevel.NEAR_HIGH
    over = row(HEART_RATE, "220", None, statistic="lower limit")
    assert flag("400", HEART_RATE, over, step="4").level is FlagLevel.WITHIN
    assert "from 220/min" in flag("200", HEART_RATE, over).text


def test_an_upper_limit_alone_reads_up_to():
    refill = row(REFILL, None, "2", statistic="upper limit")
    found = flag("2.1", REFILL, refill)
    assert found.level is FlagLevel.ABOVE
    assert "up to 2.0 s" in found.text
    assert flag("0.4", REFILL, refill).level is FlagLevel.WITHIN


def test_without_a_range_nothing_is_claimed():
    found = flag("130", HEART_RATE)
    assert found.level is FlagLevel.NONE
    assert found.text == "130/min: no published range applies here"
    assert (found.interval_ids, found.source_ids, found.unchecked) == ((), (), False)


def test_a_row_of_another_measure_does_not_flag():
    assert flag("130", HEART_RATE, DORN).level is FlagLevel.NONE


def test_a_source_without_a_title_is_shown_by_its_id():
    assert "(ljungvall)" in flag("20", BREATHING, CAT_ASLEEP).text


def test_two_rows_of_one_source_name_it_once():
    found = flag("20", BREATHING, CAT_ROOM, CAT_HOME)
    assert found.source_ids == ("dijkstra2018",)
    assert len(found.interval_ids) == 2
    assert found.lines == ("Below 32–135/min, inside 16–60/min (Dijkstra 2018)",)


# Ranges that disagree, stand apart, or were worked out here -------------------

# Cattle: beef 36.7-39.1 C, its low end far below every other source; a
# cooperative's list 38.0-39.4, an extension table 38.0-39.5.
BEEF = row(TEMPERATURE, "36.7", "39.1", "beef", far_off=True)
COOPERATIVE = row(TEMPERATURE, "38.0", "39.4", "coop")
EXTENSION = row(TEMPERATURE, "38.0", "39.5", "extension")


@pytest.mark.reference
def test_a_range_far_off_the_others_does_not_take_their_flag_away():
    found = flag("37.0", TEMPERATURE, BEEF, COOPERATIVE, EXTENSION)
    assert found.level is FlagLevel.BELOW
    assert found.summary == (
        "37.0 °C: below 2 of 3 published ranges, inside one far off"
    )
    assert found.lines[0] == "Inside 36.7–39.1 °C, far off the others (beef)"


def test_a_range_far_off_is_compared_like_any_other_where_it_stands_alone():
    assert flag("37.0", TEMPERATURE, BEEF).level is FlagLevel.WITHIN
    assert flag("36.0", TEMPERATURE, BEEF).level is FlagLevel.BELOW


def test_a_range_far_off_is_counted_where_the_others_hold_the_value_too():
    found = flag("38.5", TEMPERATURE, BEEF, COOPERATIVE, EXTENSION)
    assert found.summary == "38.5 °C: inside all 3 published ranges"
    found = flag("39.3", TEMPERATURE, BEEF, COOPERATIVE, EXTENSION)
    assert found.level is FlagLevel.WITHIN
    assert found.summary == "39.3 °C: inside 2 of 3 published ranges, above 1"


def test_a_span_worked_out_here_says_so_and_names_all_its_sources():
    span = row(
        HEART_RATE,
        "160",
        "240",
        "dohvh",
        provenance="computed",
        also_from=("dorn2024", "triage"),
    )
    found = flag("250", HEART_RATE, span)
    assert found.lines == (
        "Above 160–240/min (worked out by us from Dog Owner's Home Veterinary "
        "Handbook, Dorn 2024 and Merck triage table)",
    )
    assert found.source_ids == ("dohvh", "dorn2024", "triage")
    assert not found.unchecked


def test_a_flag_of_an_earlier_version_keeps_its_one_line():
    text = "38.5 °C: within the published range 37.7–39.5 °C (Dorn 2024; read)"
    old = Flag(FlagLevel.WITHIN, text, ("d",), ("dorn2024",), unchecked=False)
    assert (old.summary, old.lines, old.sentence) == (text, (), text)


@pytest.mark.parametrize(
    "statistic",
    [
        "mean",
        "mean +/- SD",
        "mean +/- spread",
        "mean +/- variation",
        "mean +/- 2 SD (computed here)",
        "band of means",
        "single value",
        "typical",
        "typical / alert",
        "effect size",
        "method effect",
        "study cut-off",
        "target",
        "",
        "a word nobody thought of",
    ],
)
def test_what_is_no_limit_never_flags(statistic):
    # Edwards 2022: healthy dogs in the consulting room 123.5 +/- 21.2.
    spread = row(HEART_RATE, "102.3", "144.7", statistic=statistic)
    assert not is_limit(spread)
    assert flag("230", HEART_RATE, spread).level is FlagLevel.NONE
    assert applicable([spread], "heart_rate", "adult", "", "") == ()


@pytest.mark.parametrize("statistic", sorted(LIMIT_STATISTICS))
def test_a_range_or_limit_flags(statistic):
    assert is_limit(row(HEART_RATE, "60", "120", statistic=statistic))


def test_a_row_without_an_end_is_no_limit():
    assert not is_limit(row(HEART_RATE, None, None))


# Which rows apply ----------------------------------------------------------


@pytest.mark.reference
def test_only_rows_of_the_same_life_stage_setting_and_state_apply():
    cat = (CAT_ROOM, CAT_HOME, CAT_ASLEEP)
    chosen = applicable(cat, "breathing", "adult", "clinic", "alert")
    assert chosen == (CAT_ROOM,)
    assert applicable(cat, "breathing", "adult", "home", "resting") == (CAT_HOME,)
    assert applicable(cat, "breathing", "adult", "home", "asleep") == (CAT_ASLEEP,)


@pytest.mark.reference
def test_the_same_breathing_rate_reads_differently_at_home_and_in_the_clinic():
    # Dijkstra: 64/min is the median of healthy cats in the room, and over 60 at home.
    assert flag("64", BREATHING, CAT_ROOM).level is FlagLevel.WITHIN
    assert flag("64", BREATHING, CAT_HOME).level is FlagLevel.ABOVE


def test_an_unknown_setting_meets_only_rows_for_any_setting():
    cat = (CAT_ROOM, CAT_HOME, CAT_ASLEEP)
    assert applicable(cat, "breathing", "adult", "", "asleep") == (CAT_ASLEEP,)
    assert applicable(cat, "breathing", "adult", "", "") == ()


def test_adult_limits_do_not_apply_to_a_puppy():
    rows = (TRIAGE, PUPPY)
    assert applicable(rows, "heart_rate", "weeks 1-2", "", "") == (PUPPY,)


def test_a_row_that_names_no_life_stage_holds_for_any():
    refill = row(REFILL, None, "2", life_stages=(), statistic="upper limit")
    assert applicable([refill], "refill", "weeks 1-2", "", "") == (refill,)


def test_rows_of_another_measure_do_not_apply():
    assert applicable([DORN], "heart_rate", "adult", "", "") == ()


# Faults of a row -----------------------------------------------------------


def test_a_sound_row_has_no_problems():
    assert interval_problems(DORN, TEMPERATURE) == ()
    assert interval_problems(CAT_ASLEEP, BREATHING) == ()


@pytest.mark.parametrize(
    ("changes", "problem"),
    [
        ({"measure_id": "weight"}, "another measure"),
        ({"unit": "breath/min"}, "unit does not fit"),
        ({"low": None, "high": None}, "no end"),
        ({"low": Decimal(130)}, "low end is above"),
        ({"provenance": "guessed"}, "neither read nor memory nor computed"),
        ({"also_from": ("dohvh",)}, "was not computed"),
        ({"source_id": ""}, "no source"),
    ],
)
def test_a_faulty_row_names_its_fault(changes, problem):
    faulty = replace(row(HEART_RATE, "60", "120"), **changes)
    (found,) = interval_problems(faulty, HEART_RATE)
    assert problem in found


# Properties ----------------------------------------------------------------

ends = st.tuples(st.integers(1, 300), st.integers(1, 300)).map(sorted)
rows_of_ends = st.lists(ends, min_size=1, max_size=4)
steps = st.sampled_from([None, "0.5", "1", "2", "4", "6"])


def rows_from(pairs):
    return [row(HEART_RATE, low, high, f"s{i}") for i, (low, high) in enumerate(pairs)]


@given(value=st.integers(0, 320), pairs=rows_of_ends)
def test_without_a_step_a_value_is_flagged_exactly_when_outside_all(value, pairs):
    level = flag(value, HEART_RATE, *rows_from(pairs)).level
    is_inside = any(low <= value <= high for low, high in pairs)
    assert (level is FlagLevel.WITHIN) == is_inside


@given(value=st.integers(0, 320), pairs=rows_of_ends, step=steps)
def test_outside_all_ranges_is_never_silent(value, pairs, step):
    found = flag(value, HEART_RATE, *rows_from(pairs), step=step)
    if not any(low <= value <= high for low, high in pairs):
        assert found.level is not FlagLevel.WITHIN
    for low, high in pairs:
        assert f"{low}–{high}/min" in found.text


@given(value=st.integers(0, 320), pairs=rows_of_ends, step=steps)
def test_the_order_of_the_rows_does_not_change_the_level(value, pairs, step):
    forward = flag(value, HEART_RATE, *rows_from(pairs), step=step).level
    backward = flag(value, HEART_RATE, *rows_from(pairs[::-1]), step=step).level
    assert forward is backward


@given(value=st.integers(0, 320), pairs=rows_of_ends, extra=ends)
def test_another_source_never_turns_a_silent_value_into_a_flagged_one(
    value, pairs, extra
):
    before = flag(value, HEART_RATE, *rows_from(pairs)).level
    after = flag(value, HEART_RATE, *rows_from([*pairs, extra])).level
    assert before is not FlagLevel.WITHIN or after is FlagLevel.WITHIN


@given(value=st.integers(0, 320), pairs=rows_of_ends, extra=ends)
def test_a_range_far_off_never_takes_a_flag_away(value, pairs, extra):
    before = flag(value, HEART_RATE, *rows_from(pairs)).level
    off = replace(rows_from([extra])[0], interval_id="off", far_off=True)
    after = flag(value, HEART_RATE, *rows_from(pairs), off)
    assert after.level is before


@given(value=st.integers(0, 320), pairs=rows_of_ends, step=steps)
def test_the_words_count_every_range_that_holds_the_value_and_no_other(
    value, pairs, step
):
    found = flag(value, HEART_RATE, *rows_from(pairs), step=step)
    held = sum(low <= value <= high for low, high in pairs)
    assert sum(line.startswith("Inside") for line in found.lines) == held
    assert found.is_disputed == (0 < held < len(pairs))
    if found.is_disputed:
        assert f"inside {held} of {len(pairs)} published ranges" in found.summary
    else:
        assert " of " not in found.summary


@given(value=st.integers(0, 320), pairs=rows_of_ends, step=steps)
def test_a_flag_never_names_what_an_animal_has(value, pairs, step):
    text = flag(value, HEART_RATE, *rows_from(pairs), step=step).text.lower()
    for word in (
        "tachy",
        "brady",
        "fever",
        "therm",
        "shock",
        "ill",
        "abnormal",
        "sick",
    ):
        assert word not in text
