"""A whole late entry is said once, holds through a restart, and dates what was seen."""

from dataclasses import replace

from exam_app.app import exam_sessions
from exam_app.app.late_entry import begin_late_entry, end_late_entry, late_words
from exam_app.domain.exam.late_entries import minutes_before
from exam_app.domain.exam.vitals import RateState, VitalEntry
from exam_app.domain.measure.counting import CountAlong
from exam_app.domain.measure.units import parse_reading
from exam_app.ui.exam.seen_earlier import notice
from tests.app.test_bites_on_every_view import begun, put, session
from tests.screen_words import tab_at, words_of

__all__ = ["session"]

EXAM, OTHER = "e" * 32, "f" * 32


async def opened(session, exam_id=EXAM):
    """Open an exam anew, as after a restart."""
    session.editors.clear()
    if session.vault.drafts.get(exam_id) is None:
        put(session.vault, begun(exam_id))
    return await exam_sessions.open_exam(session, exam_id)


async def begun_late(session):
    """Open an exam, and say that all of it was seen an hour and a half ago."""
    editor = await opened(session)
    seen = minutes_before(editor.now(), 90)
    await begin_late_entry(session, editor, seen)
    return editor, seen


def rate(editor, **more):
    heart = editor.protocol.vital("heart_rate")
    reading = parse_reading("88", heart.measure.unit, heart.measure)
    return heart, VitalEntry(reading=reading, state=RateState.RESTING, **more)


async def test_it_holds_after_a_restart_for_its_own_exam_until_it_is_ended(session):
    editor, seen = await begun_late(session)
    assert (await opened(session, OTHER)).seen_late is None
    editor = await opened(session)
    assert editor.seen_late == seen
    await end_late_entry(session, editor)
    assert (await opened(session)).seen_late is None


async def test_what_was_typed_is_late_and_what_was_counted_here_is_of_now(session):
    editor, seen = await begun_late(session)
    heart, typed = rate(editor)
    await exam_sessions.record(session, editor, heart, typed)
    assert editor.exam.vital("heart_rate").attribution.observed == seen
    heart, counted = rate(editor, evidence=CountAlong(22, 15))
    await exam_sessions.record(session, editor, heart, counted)
    assert not editor.exam.vital("heart_rate").attribution.is_late


async def test_it_stands_above_the_exam_and_its_review_and_above_no_count(session):
    editor, seen = await begun_late(session)
    words = late_words(seen, editor.now())
    for route in (f"/exam/{EXAM}", f"/exam/{EXAM}/review"):
        assert f"{words}. End this" in words_of(notice(tab_at(session, route)))
    for route in (f"/exam/{EXAM}/count/heart_rate/15", f"/exam/{OTHER}", "/"):
        assert words_of(notice(tab_at(session, route))) == ""


async def test_another_day_is_said_with_its_date(session):
    editor = await opened(session)
    now = editor.now()
    seen = replace(now, utc_ms=now.utc_ms - 86_400_000)
    day = seen.local().date()
    assert late_words(seen, now) == (
        f"All I enter now was seen on {day} at {seen.clock()}"
    )
