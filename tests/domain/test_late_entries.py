"""What was seen before it was entered keeps both times."""

from dataclasses import replace

import pytest

from exam_app.app.exam_editor import Edit
from exam_app.app.region_changes import Found, detailed, finding_of
from exam_app.domain.errors import LateEntryError, UnknownItemError
from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.late_entries import (
    minutes_before,
    read_clock,
    regions_seen_earlier,
    vital_seen_earlier,
)
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.transitions import assert_no_abnormality
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.moments import Moment
from exam_app.domain.wording.people_words import examined_by
from tests.exam_samples import BY, NOW, PROTOCOL, TECHNICIAN, new_exam

TEN_PAST_MIDNIGHT = Moment(1_790_035_800_000, 0)


def late(minutes):
    return replace(BY, observed=minutes_before(NOW, minutes))


def test_the_sample_night_is_ten_past_midnight():
    assert TEN_PAST_MIDNIGHT.clock() == "00:10"


@pytest.mark.parametrize(
    ("typed", "minutes_back"),
    [("23:50", 20), ("2350", 20), ("0:05", 5), ("00.10", 0), ("12:10", 720)],
)
def test_time_of_day_is_the_last_moment_the_clock_showed_it(typed, minutes_back):
    seen = read_clock(typed, TEN_PAST_MIDNIGHT)
    assert seen == minutes_before(TEN_PAST_MIDNIGHT, minutes_back)


@pytest.mark.parametrize("typed", ["", "noon", "24:00", "10:60", "00:11", "12:09"])
def test_time_that_is_none_or_not_of_the_last_half_day_is_refused(typed):
    with pytest.raises(LateEntryError) as refused:
        read_clock(typed, TEN_PAST_MIDNIGHT)
    assert str(refused.value) == typed


def test_region_seen_half_an_hour_ago_is_written_as_a_late_entry():
    exam = assert_no_abnormality(new_exam(), PROTOCOL, ("nose",), TECHNICIAN.role, BY)
    exam = regions_seen_earlier(exam, PROTOCOL, ("nose",), late(30))
    assert exam.entry("nose").asserted
    seen, entered = minutes_before(NOW, 30).clock(), NOW.clock()
    expected = f"Late entry: Nose, seen {seen}, entered {entered}"
    assert expected in examined_by(exam, PROTOCOL)


def test_all_that_was_seen_at_one_moment_is_one_line_with_the_times_it_was_entered():
    exam = new_exam()
    for minute, part in enumerate(("nose", "heart", "tail")):
        entered = Moment(NOW.utc_ms + minute * 60_000, NOW.offset_min)
        by = replace(BY, observed=minutes_before(NOW, 30), entered=entered)
        exam = assert_no_abnormality(exam, PROTOCOL, (part,), TECHNICIAN.role, by)
    lines = [line for line in examined_by(exam, PROTOCOL) if "Late" in line]
    seen = minutes_before(NOW, 30).clock()
    until = minutes_before(NOW, -2).clock()
    (line,) = lines
    assert line.startswith("Late entry: Nose; Heart; Tail, seen")
    assert line.endswith(f", seen {seen}, entered {NOW.clock()} to {until}")


def test_what_was_seen_on_another_day_is_written_with_its_date():
    seen = minutes_before(TEN_PAST_MIDNIGHT, 20)
    by = replace(BY, observed=seen, entered=TEN_PAST_MIDNIGHT)
    exam = assert_no_abnormality(new_exam(), PROTOCOL, ("nose",), TECHNICIAN.role, by)
    day = f"{seen.local():%Y-%m-%d}"
    expected = f"Late entry: Nose, seen {day} 23:50, entered 00:10"
    assert expected in examined_by(exam, PROTOCOL)


def test_vital_seen_earlier_keeps_its_value():
    exam = replace(new_exam(), vitals={"weight": VitalEntry(reason="no scale")})
    exam = vital_seen_earlier(exam, PROTOCOL, "weight", late(15))
    assert exam.vital("weight").reason == "no scale"
    assert exam.vital("weight").attribution.is_late


def test_nothing_that_is_unanswered_was_seen_earlier():
    with pytest.raises(UnknownItemError):
        regions_seen_earlier(new_exam(), PROTOCOL, ("nose",), late(15))
    with pytest.raises(UnknownItemError):
        vital_seen_earlier(new_exam(), PROTOCOL, "weight", late(15))


def test_detail_added_after_a_late_find_keeps_the_time_it_was_seen():
    find = Found(PROTOCOL.region("nose"), (("nose", "1" * 32),))
    exam = add_finding(
        new_exam(), PROTOCOL, "nose", Finding("1" * 32, "wound", late(30)), "2" * 32
    )
    after = Moment(NOW.utc_ms + 60_000, NOW.offset_min)
    now = Attribution(BY.examined_by, BY.entered_by, after, after)
    exam = detailed(find, note="old")(exam, Edit(PROTOCOL, now, lambda: "3" * 32))
    found = finding_of(exam, "nose", "1" * 32)
    assert found.note == "old"
    assert found.attribution.observed == minutes_before(NOW, 30)
    assert found.attribution.entered == after
