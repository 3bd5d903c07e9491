"""A record says its offset from UTC once, or at each time where two of them differ."""

import re
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from exam_app.domain.exam.closing import close, stop_early
from exam_app.domain.exam.corrections import (
    begin_correction,
    changes,
    close_correction,
    statements,
)
from exam_app.domain.exam.exam import StopReason
from exam_app.domain.exam.late_entries import minutes_before, regions_seen_earlier
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.transitions import (
    answer_urgent,
    assert_no_abnormality,
    open_urgent,
)
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer, UrgentEntry
from exam_app.domain.exam.visit import Given, PrivateNote
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.moments import Moment
from exam_app.domain.wording.record_times import style_of
from exam_app.domain.wording.written_record import write_record
from tests.exam_samples import BY, HASH, NOW, PROTOCOL, TECHNICIAN, new_exam

_TIME = re.compile(r"\d\d:\d\d(?: [+-]\d\d:\d\d)?")
# The clocks in the north went back by an hour at 01:00 UTC on 2026-10-25 (European
# Union, directive 2000/84/EC): 02:30 was there twice, at +02:00 and at +01:00.
_START = datetime.fromisoformat("2026-10-25T02:00:00+02:00")
SUMMER = Moment.from_datetime(_START + timedelta(minutes=30))
WINTER = Moment(SUMMER.utc_ms + 3_600_000, 60)


def by(moment):
    return replace(BY, observed=moment, entered=moment)


def noted(first, then):
    """Give an exam begun at one moment, in which the rest is noted at another."""
    exam, late = new_exam(started=first), by(then)
    exam = assert_no_abnormality(exam, PROTOCOL, ("nose",), TECHNICIAN.role, by(first))
    exam = open_urgent(exam, UrgentEntry("1" * 32, "Bleeding", late, action="tell"))
    told = UrgentAnswer(AnswerKind.TOLD, late, "Dr Mar Ondine", "phone", then)
    exam = answer_urgent(exam, "1" * 32, told)
    exam = record_visit(exam, Given("meloxicam", by(first), "0.2 mg/kg", at=first))
    exam = record_visit(exam, Given("saline", late, "10 mL", at=then))
    earlier = replace(late, observed=minutes_before(then, 20))
    exam = regions_seen_earlier(exam, PROTOCOL, ("nose",), earlier)
    note = PrivateNote("keep her calm", late)
    exam = replace(exam, private_notes=(note,))
    exam = stop_early(exam, PROTOCOL, StopReason.UNSAFE, "", late)
    return close(exam, PROTOCOL, TECHNICIAN, then)


def text_of(exam, **more):
    return write_record(exam, PROTOCOL, **more).as_text()


def test_half_past_two_was_twice_that_night():
    assert SUMMER.clock() == WINTER.clock() == "02:30"


def test_a_record_noted_at_one_offset_says_it_once_at_its_top():
    written = write_record(
        noted(SUMMER, minutes_before(SUMMER, -40)), PROTOCOL, for_veterinarian=True
    )
    title, _, rest = written.as_text().partition("\n")
    assert title.endswith("2026-10-25 02:30, times noted at UTC+02:00")
    times = _TIME.findall(rest)
    assert len(times) > 6
    assert not [one for one in times if " " in one]
    assert "UTC" not in rest


def test_a_record_noted_at_two_offsets_says_each_at_its_time():
    text = text_of(noted(SUMMER, WINTER), for_veterinarian=True)
    assert "noted at" not in text
    times = _TIME.findall(text)
    assert len(times) > 6
    assert not [one for one in times if " " not in one]
    assert "meloxicam, 0.2 mg/kg, 02:30 +02:00" in text
    assert "saline, 10 mL, 02:30 +01:00" in text
    assert "told Dr Mar Ondine 02:30 +01:00" in text


@pytest.mark.parametrize("then", [minutes_before(SUMMER, -40), WINTER])
def test_every_time_of_a_record_can_be_told_in_utc(then):
    exam = noted(SUMMER, then)
    text = text_of(exam)
    found = re.search(r"Closed (\S+ \S+?)(?: ([+-]\d\d:\d\d))? by", text)
    offset = found[2] or re.search(r"noted at UTC(\S+)", text)[1]
    told = datetime.fromisoformat(f"{found[1].replace(' ', 'T')}:00{offset}")
    assert told.timestamp() * 1000 == then.utc_ms


def test_one_time_at_another_offset_is_enough_also_one_that_is_not_shown():
    exam = noted(SUMMER, minutes_before(SUMMER, -40))
    assert not style_of(exam).on_dates
    note = PrivateNote("seen again", by(WINTER))
    assert style_of(replace(exam, private_notes=(note,))).on_clocks


def test_what_a_record_states_is_worded_as_it_was_signed():
    for exam in (noted(SUMMER, WINTER), noted(SUMMER, minutes_before(SUMMER, -40))):
        words = " ".join(said for _, said in statements(exam, PROTOCOL))
        assert "told Dr Mar Ondine" in words
        assert not re.search(r"[+-]\d\d:\d\d", words)


def test_a_correction_at_another_offset_changes_what_was_corrected_and_nothing_else():
    first = noted(SUMMER, minutes_before(SUMMER, -40))
    later = Moment(WINTER.utc_ms + 3_600_000, 60)
    who = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, later, later)
    draft = begin_correction(first, HASH, "another dose", who)
    draft = replace(
        draft, given=(replace(draft.given[0], dose="0.1 mg/kg"), *draft.given[1:])
    )
    assert [one.item for one in changes(first, draft, PROTOCOL)] == ["Given"]
    closed = close_correction(draft, first, PROTOCOL, TECHNICIAN, later)
    text = text_of(closed)
    line = next(x for x in text.splitlines() if x.startswith("- meloxicam"))
    assert line.startswith("- meloxicam, 0.1 mg/kg, 02:30 +02:00")
    assert "Corrected 2026-10-25 03:30 +01:00" in text


def test_a_draft_noted_at_one_offset_says_it_too():
    assert write_record(new_exam(), PROTOCOL).title.endswith(
        f"{NOW.local():%Y-%m-%d %H:%M}, times noted at UTC+01:00"
    )
