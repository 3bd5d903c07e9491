"""What the veterinarian sent back, and what older records leave to be asked again."""

from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace

import pytest

from exam_app.app.queries.animals import last_time, unasked
from exam_app.app.queries.day_list import recheck_lines
from exam_app.app.queries.record_chain import is_answered, open_requests
from exam_app.domain.exam.exam import words_for
from exam_app.domain.exam.findings import EarlierFinding
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.transitions import assert_no_abnormality
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.measure.units import Reading
from exam_app.domain.moments import Moment
from exam_app.record.notes import Note, NoteKind
from tests.exam_samples import TECHNICIAN, VETERINARIAN
from tests.handover_places import (
    DOG,
    LATER,
    NOW,
    named_id,
    paired_places,
    small_exam,
)


@pytest.fixture
async def places(tmp_path, each_store):
    async with paired_places(tmp_path, register=each_store) as opened:
        yield opened


def note(kind, exam, written, asks_for=(), text="please", exam_hash="ab" * 32):
    note_id = named_id(f"{kind} {written.utc_ms}")
    return Note(
        note_id,
        kind,
        exam.exam_id,
        exam_hash,
        VETERINARIAN,
        written,
        text,
        asks_for,
        is_demo=True,
    )


def looked_at(exam, *keys):
    by = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, NOW, NOW)
    exam = replace(exam, closing=None)
    for key in keys:
        exam = assert_no_abnormality(exam, DOG.protocol, (key,), words_for(exam), by)
    return exam


def test_a_request_stays_until_a_later_exam_looked_at_the_part():
    first = small_exam("first")
    asked = note(NoteKind.RECHECK_REQUEST, first, LATER, ("nose",))
    begun = Moment(LATER.utc_ms + 1, 0)
    skipped = replace(small_exam("second"), started=begun)
    done = looked_at(replace(small_exam("third"), started=begun, regions={}), "nose")
    assert not is_answered(asked, [])
    # Stopped early: a reason why the nose was not looked at answers nothing.
    assert not is_answered(asked, [first, skipped])
    assert is_answered(asked, [first, skipped, done])
    assert not is_answered(asked, [replace(done, started=NOW)])


def test_a_request_for_everything_is_answered_by_any_later_exam():
    first = small_exam("first")
    asked = note(NoteKind.RECHECK_REQUEST, first, NOW)
    assert not is_answered(asked, [first])
    assert is_answered(asked, [replace(first, started=LATER)])


def ask_for_the_nose(clinic, tablet, exam_id):
    """Ask for a re-check at the clinic, and let it come back to the tablet."""
    signed = clinic.sign_note(
        "ask",
        exam_id,
        kind=NoteKind.RECHECK_REQUEST,
        asks_for=("nose",),
        text="In two weeks.",
        written=LATER,
    )
    tablet.vault.notes.put(named_id("ask"), exam_id, signed)


async def test_a_request_from_the_clinic_is_shown_at_the_next_exam(places):
    clinic, tablet = places
    exam = small_exam("one")
    exam_id = tablet.close_exam(exam)
    ask_for_the_nose(clinic, tablet, exam_id)
    (request,) = open_requests(tablet.vault, exam.animal.animal_id)
    assert request.words == "Look again at: Nose. In two weeks."
    assert VETERINARIAN.name in request.asked


async def test_a_request_from_the_clinic_stands_on_the_first_screen_until_answered(
    places,
):
    clinic, tablet = places
    exam = small_exam("one")
    exam_id = tablet.close_exam(exam)
    assert recheck_lines(tablet.vault) == ()
    ask_for_the_nose(clinic, tablet, exam_id)
    (line,) = recheck_lines(tablet.vault)
    assert line.title.startswith("Re-check asked: ")
    assert line.words.startswith("Look again at: Nose. In two weeks.\nasked by ")
    assert line.address == f"/start/{exam.animal.animal_id}"


def finding(name):
    return EarlierFinding("e" * 32, named_id(name), "nose", "2026-01-01", name)


def test_a_finding_of_an_older_record_that_nobody_was_asked_about_is_asked_again():
    knows = SimpleNamespace(earlier=(finding("scar"),))
    newer = (knows, (finding("crust"),))
    older = (SimpleNamespace(earlier=()), (finding("scar"), finding("wart")))
    assert [f.summary for f in unasked([newer, older])] == ["crust", "wart"]


async def test_the_last_weight_is_told_with_its_day_also_from_an_older_exam(places):
    _, tablet = places
    weighed = {"weight": VitalEntry(reading=Reading("24.1", "kg", Decimal("24.1")))}
    first = small_exam("first", vitals=weighed)
    tablet.close_exam(first)
    tablet.close_exam(small_exam("second", started=LATER))
    session = SimpleNamespace(vault=tablet.vault)
    last = last_time(session, first.animal.animal_id)
    assert last.weight == f"24.1 kg, {NOW.local():%Y-%m-%d}"
    assert last_time(session, "0" * 32).weight == ""
