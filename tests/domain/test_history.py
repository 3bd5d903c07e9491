"""An animal over time: hand-worked changes of weight, series, ranges, finds."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from exam_app.domain.animal.history import exam_past, history_of, looked_at
from exam_app.domain.animal.weight_changes import is_unlikely_weight, weight_change
from exam_app.domain.exam.findings import EarlierFinding, EarlierOutcome, Finding
from exam_app.domain.exam.people import Attribution, Role
from exam_app.domain.exam.region_states import Conclusion, RegionEntry
from exam_app.domain.exam.transitions import mark_not_present
from exam_app.domain.exam.visit import Given, Plan
from exam_app.domain.exam.vital_transitions import record_vital
from exam_app.domain.exam.vitals import RateState, VitalEntry
from exam_app.domain.lumps.lumps import LUMP_LENGTH, Lump, LumpDepth, LumpSize, LumpTool
from exam_app.domain.measure.units import parse_reading
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.limits import Limits
from exam_app.domain.protocol.scales import Graded
from exam_app.domain.protocol.sex_limits import OTHER_SEX
from tests.exam_samples import BY, PROTOCOL, TECHNICIAN, WEIGHT, new_exam

FIRST = datetime(2026, 3, 1, 10, tzinfo=UTC)


def day(number):
    return Moment.from_datetime(FIRST + timedelta(days=number))


def by(moment):
    return Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, moment, moment)


def typed(text, vital="weight"):
    measure = PROTOCOL.vital(vital).measure
    return parse_reading(text, measure.unit, measure)


def exam_on(number, life_stage="adult", **vitals):
    """An exam of one day with these answers, recorded as a screen records them."""
    exam = replace(
        new_exam(),
        exam_id=f"{number:032x}",
        started=day(number),
        life_stage=life_stage,
    )
    for vital_id, entry in vitals.items():
        ids = ("e" * 32,)
        exam = record_vital(exam, PROTOCOL, vital_id, entry, by(day(number)), ids)
    return exam


def weighed(number, text, *, estimate=False):
    return exam_on(number, weight=VitalEntry(typed(text), is_estimate=estimate))


def history(*exams, reader=Role.TECHNICIAN):
    return history_of(exam_past(exam, PROTOCOL, reader) for exam in exams)


def change(before, now):
    (series,) = history(before, now).series_of("weight")
    return weight_change(*series.values)


def test_a_change_of_weight_says_kilograms_percent_and_days():
    # 23.6 to 24.4 kg: 0.8 kg, and 0.8 / 23.6 is 3.39 %.
    found = change(weighed(0, "23.6"), weighed(30, "24.4"))
    assert found.words == "0.8 kg more (+3.4 %) after 30 days"
    # 10.0 to 9.2 kg: 0.8 / 10.0 is 8 %.
    found = change(weighed(0, "10.0"), weighed(1, "9.2"))
    assert found.words == "0.8 kg less (\N{MINUS SIGN}8.0 %) after 1 day"


def test_a_change_of_weight_says_which_weight_was_an_estimate():
    first, second = weighed(0, "24"), weighed(9, "42")
    guessed = weighed(0, "24", estimate=True), weighed(9, "42", estimate=True)
    assert change(first, second).words == "18 kg more (+75.0 %) after 9 days"
    assert change(guessed[0], second).words.endswith(
        "; the earlier weight is an estimate"
    )
    assert change(first, guessed[1]).words.endswith("; this weight is an estimate")
    assert change(*guessed).words.endswith("; both weights are estimates")


def test_a_weight_typed_in_pounds_is_compared_in_kilograms():
    # 53 lb is 24.04 kg, compared as 24.0 kg; the words keep what was typed.
    (series,) = history(weighed(0, "53 lb"), weighed(2, "25 kg")).series_of("weight")
    assert [value.number for value in series.values] == [
        Decimal("24.0"),
        Decimal("25.0"),
    ]
    assert series.values[0].shown == "53 lb (24.0 kg)"
    assert weight_change(*series.values).by == Decimal("1.0")


def test_the_same_weight_again_is_said_as_that():
    found = change(weighed(0, "24 kg"), weighed(7, "24.0"))
    assert found.words == "the same weight after 7 days"


def test_a_weight_entered_late_and_seen_before_the_last_one_says_no_change():
    (series,) = history(weighed(6, "25 kg"), weighed(7, "24")).series_of("weight")
    seen_before, last = series.values
    assert weight_change(last, seen_before) is None


def test_two_weights_of_one_day_are_no_days_apart():
    found = change(weighed(0, "24 kg"), replace(weighed(0, "25"), exam_id="f" * 32))
    assert found.words == "1 kg more (+4.2 %) that day"


@pytest.mark.parametrize(
    ("now", "grown", "asks"),
    [
        ("42", True, True),
        ("32", True, False),
        ("32.1", True, True),
        ("18", True, False),
        ("17.9", True, True),
        ("42", False, False),
        ("48.1", False, True),
        ("17.9", False, True),
        ("52.9 lb", True, False),
    ],
)
def test_a_weight_far_off_the_last_one_is_asked_about_and_a_growing_one_is_not(
    now, grown, asks
):
    # Of 24 kg three quarters are 18, four thirds 32, twice 48.
    last = history(weighed(0, "24")).last_value("weight")
    assert (
        is_unlikely_weight(last, parse_reading(now, "kg", WEIGHT), is_grown=grown)
        is asks
    )


def test_a_value_stands_over_the_ranges_it_was_compared_with_then():
    counted = VitalEntry(typed("130", "heart_rate"), state=RateState.RESTING)
    excited = replace(counted, state=RateState.AFTER_EXERTION)
    exams = exam_on(0, heart_rate=counted), exam_on(1, heart_rate=excited)
    first, second = history(*exams).series_of("heart_rate")[0].values
    assert first.ranges == (Limits(Decimal(60), Decimal(120)),)
    assert first.flag.startswith("above the published range")
    assert first.detail == "resting"
    assert (second.ranges, second.flag) == ((), "")


def test_values_stand_in_the_order_in_which_they_were_taken():
    exams = weighed(9, "26"), weighed(0, "24"), weighed(4, "25")
    told = history(*exams)
    assert [value.shown for value in told.series[0].values] == [
        "24 kg",
        "25 kg",
        "26 kg",
    ]
    assert [past.at for past in told.exams] == [day(0), day(4), day(9)]


def test_grades_of_two_scales_are_two_series():
    short = VitalEntry(grade=Graded("size", "2", "large"))
    other = VitalEntry(grade=Graded("size9", "7", "heavy"))
    exams = [
        replace(exam_on(n), vitals={"gums": entry})
        for n, entry in enumerate((short, other))
    ]
    found = history(*exams).series_of("gums")
    assert [(one.scale_id, one.values[0].number) for one in found] == [
        ("size9", Decimal(7)),
        ("size", Decimal(2)),
    ]


def test_an_answer_in_words_has_no_number_and_a_reason_is_no_value():
    pink = VitalEntry(words=("pink",), values=("pink",))
    told = history(exam_on(0, gums=pink), exam_on(1, gums=VitalEntry(reason="refused")))
    (series,) = told.series_of("gums")
    assert [value.shown for value in series.values] == ["pink"]
    assert series.numbers == ()


def test_lumps_wounds_and_what_became_of_them_stand_by_their_parts():
    size = LumpSize(
        (parse_reading("12", "mm", LUMP_LENGTH),), LumpTool.CALLIPER, "along", "Kim"
    )
    lump = Finding("1" * 32, "lump", BY, lump=Lump(LumpDepth.UNDER_SKIN, size))
    wound = Finding("2" * 32, "wound", BY, qualities=("fresh",), place="left flank")
    first = replace(exam_on(0), regions={"nose": RegionEntry(findings=(lump, wound))})
    before = EarlierFinding(
        first.exam_id, "2" * 32, "nose", "2026-03-01", "wound", EarlierOutcome.GONE
    )
    told = history(first, replace(exam_on(9), earlier=(before,)))
    assert [(line.part, line.text.split(",")[0]) for line in told.lumps] == [
        ("Nose", "lump")
    ]
    # In own words: no protocol says that it is one.
    assert told.wounds == ()
    assert [line.text for line in told.found] == [
        "wound, fresh, left flank",
        "found 2026-03-01 (wound): gone",
    ]


def marked(protocol=PROTOCOL):
    """The same protocol, in which the first find of the nose is a wound's."""
    nose, *others = protocol.regions
    wound = replace(nose.terms[0], is_wound=True)
    nose = replace(nose, terms=(wound, *nose.terms[1:]))
    return wound, replace(protocol, regions=(nose, *others))


def with_find(number, term, **more):
    found = Finding("2" * 32, term.label, BY, term_id=term.term_id, **more)
    return replace(exam_on(number), regions={"nose": RegionEntry(findings=(found,))})


def told_gone(exam, number, term_id):
    before = EarlierFinding(
        exam.exam_id,
        "2" * 32,
        "nose",
        "2026-03-01",
        "a find",
        EarlierOutcome.GONE,
        term_id=term_id,
    )
    return replace(exam_on(number), earlier=(before,))


@pytest.mark.parametrize("names_term", [True, False])
def test_what_a_protocol_marks_as_a_wound_is_listed_so_with_what_became_of_it(
    names_term,
):
    # An older record tells what became of a find without its term.
    wound, protocol = marked()
    first = with_find(0, wound)
    later = told_gone(first, 9, wound.term_id if names_term else "")
    told = history_of(exam_past(e, protocol, Role.TECHNICIAN) for e in (first, later))
    assert [(line.part, line.key) for line in told.wounds] == [("Nose", "nose")] * 2
    assert told.wounds[1].text == "found 2026-03-01 (a find): gone"
    assert told.found == ()


def test_a_find_is_no_wound_where_neither_its_protocol_nor_a_later_one_says_so():
    wound, _ = marked()
    exam = with_find(0, wound)
    told = history_of([exam_past(exam, PROTOCOL, Role.TECHNICIAN)])
    assert (told.wounds, len(told.found)) == ((), 1)
    marks = {("nose", wound.term_id)}
    told = history_of([exam_past(exam, PROTOCOL, Role.TECHNICIAN, marks)])
    assert (len(told.wounds), told.found) == (1, ())
    elsewhere = {("tail", wound.term_id)}
    told = history_of([exam_past(exam, PROTOCOL, Role.TECHNICIAN, elsewhere)])
    assert told.wounds == ()


def test_a_lump_that_was_measured_stays_among_the_lumps():
    wound, protocol = marked()
    size = LumpSize(
        (parse_reading("12", "mm", LUMP_LENGTH),), LumpTool.CALLIPER, "along", "Kim"
    )
    exam = with_find(0, wound, lump=Lump(LumpDepth.UNDER_SKIN, size))
    told = history_of([exam_past(exam, protocol, Role.TECHNICIAN)])
    assert (len(told.lumps), told.wounds, told.found) == (1, (), ())


def test_what_was_given_and_when_to_look_again_are_told():
    given = Given("carprofen", by(day(3)), dose="50 mg", given_by="the owner")
    exam = replace(exam_on(3), given=(given,), plan=Plan(recheck="in two weeks"))
    told = history(exam)
    assert told.given[0].text.startswith("carprofen, 50 mg, given by the owner")
    assert [line.text for line in told.rechecks] == ["in two weeks"]


def test_a_reason_why_a_part_was_not_looked_at_is_no_look():
    regions = {
        "nose": RegionEntry(conclusion=Conclusion.ASSERTED),
        "tail": RegionEntry(conclusion=Conclusion.NOT_EXAMINED, reason="unsafe"),
    }
    exam = replace(weighed(0, "24"), regions=regions)
    assert looked_at(exam) == {"nose", "vital:weight"}


def test_a_volunteer_reads_plain_names():
    counted = VitalEntry(typed("96", "heart_rate"), state=RateState.RESTING)
    (series,) = history(exam_on(0, heart_rate=counted), reader=Role.VOLUNTEER).series
    assert series.label == "Heartbeat"


def saying(exam, **reasons):
    """The same exam, saying of these parts that they are not there."""
    for part, reason in reasons.items():
        key = part.replace("__", ".")
        exam = mark_not_present(exam, PROTOCOL, key, reason, by(exam.started), "f" * 32)
    return exam


def seen(exam, key):
    """The same exam, with a part that was looked at and is as usual."""
    entry = RegionEntry(conclusion=Conclusion.ASSERTED, attribution=by(exam.started))
    return replace(exam, regions={**exam.regions, key: entry})


def test_a_part_that_is_gone_is_so_from_the_exam_that_said_it_first():
    told = history(
        saying(exam_on(0), tail="docked"),
        exam_on(10),
        saying(exam_on(20), tail="docked", eyes__left="removed (enucleated)"),
    )
    assert [(line.key, line.text, line.at) for line in told.gone] == [
        ("tail", "docked", day(0)),
        ("eyes.left", "removed (enucleated)", day(20)),
    ]
    assert told.gone[1].part == "Eyes, left"


def test_an_exam_that_looks_at_a_part_takes_back_that_it_is_gone():
    docked, looked = saying(exam_on(0), tail="docked"), seen(exam_on(10), "tail")
    assert history(docked, looked).gone == ()
    again = saying(exam_on(20), tail="amputated")
    assert [(x.text, x.at) for x in history(docked, looked, again).gone] == [
        ("amputated", day(20))
    ]


def test_a_part_of_the_other_sex_and_one_not_examined_are_not_gone():
    refused = replace(
        exam_on(10),
        regions={
            "tail": RegionEntry(conclusion=Conclusion.NOT_EXAMINED, reason="refused")
        },
    )
    docked = saying(exam_on(0), tail="docked")
    assert [line.at for line in history(docked, refused).gone] == [day(0)]
    other = RegionEntry(conclusion=Conclusion.NOT_PRESENT, reason=OTHER_SEX)
    assert history(replace(exam_on(0), regions={"tail": other})).gone == ()
