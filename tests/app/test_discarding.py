"""An exam begun by mistake: what it holds is said, it is kept whole, and comes back."""

from dataclasses import asdict, replace

import pytest

from exam_app.app.discarding import discard, held_words, put_back, why_not
from exam_app.app.exam_sessions import ExamNotHereError, open_exam
from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.session import Session, SetUp
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.region_states import RegionEntry
from exam_app.domain.exam.urgent import UrgentEntry
from exam_app.domain.exam.visit import BiteHistory, Presentation
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.headline import found_line
from exam_app.exchange.erasure import owner_traces
from exam_app.protocols.loader import load_protocol
from exam_app.record.plain_form import from_plain, to_plain
from exam_app.store.repositories.rows import is_whole_row, open_projection
from tests.app.test_signing import new_session
from tests.exam_samples import ANIMAL, NOW, TECHNICIAN

PASSPHRASE = "four quiet words here"
DOG = load_protocol("dog")
EXAM_ID = "e" * 32
BY = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, NOW, NOW)
FOUND = Finding("1" * 32, "redness", BY)


def begun(**fields):
    order = ExamOrder(ANIMAL, Scope.FOCUSED, Setting.CLINIC, ("nose",))
    exam = begin_exam(order, DOG.protocol, DOG.content_hash, TECHNICIAN, EXAM_ID, NOW)
    return replace(exam, **fields)


EXAM = begun(regions={"nose": RegionEntry(findings=(FOUND,))})


@pytest.fixture
async def session(tmp_path):
    """A set-up session with one animal and one draft that holds a find."""
    made: Session = new_session(tmp_path)
    await made.set_up(SetUp("field", "Invented", "", PASSPHRASE, TECHNICIAN, "4321"))
    with made.vault.transaction():
        made.vault.protocols.put(DOG.content_hash, DOG.content)
        made.vault.animals.put(to_plain(ANIMAL))
        shown = open_projection(EXAM, DOG.protocol, NOW)
        made.vault.drafts.put(EXAM_ID, to_plain(EXAM), shown)
    yield made
    made.close()


async def test_a_discarded_exam_is_in_no_list_and_cannot_be_gone_on_with(session):
    await open_exam(session, EXAM_ID)
    await discard(session, EXAM_ID)
    drafts = session.vault.drafts
    assert drafts.open() == []
    assert drafts.of_animal(ANIMAL.animal_id) == []
    (row,) = drafts.discarded()
    assert row.exam_id == EXAM_ID
    assert row.discarded.endswith(f"by {TECHNICIAN.name}")
    with pytest.raises(ExamNotHereError):
        await open_exam(session, EXAM_ID)


async def test_a_discarded_exam_comes_back_as_it_was(session):
    await discard(session, EXAM_ID)
    await put_back(session, EXAM_ID)
    assert session.vault.drafts.discarded() == []
    (row,) = session.vault.drafts.open()
    assert row.found == "Nose: redness"
    editor = await open_exam(session, EXAM_ID)
    assert editor.exam.regions == EXAM.regions


async def test_a_discarded_exam_outlives_a_restart(session):
    await discard(session, EXAM_ID)
    folder = session.folder
    session.close()
    later = new_session(folder)
    await later.open_with_passphrase(PASSPHRASE)
    (row,) = later.vault.drafts.discarded()
    plain = later.vault.drafts.get(row.exam_id)
    assert from_plain(type(EXAM), plain).regions == EXAM.regions
    later.close()


async def test_the_owner_is_erased_from_a_discarded_exam_too(session):
    named = begun(presentation=Presentation(consent_by="Somebody Invented"))
    shown = open_projection(named, DOG.protocol, NOW)
    session.vault.drafts.put(EXAM_ID, to_plain(named), shown)
    await discard(session, EXAM_ID)
    assert owner_traces(session.vault, ANIMAL.animal_id).drafts == (EXAM_ID,)


def test_a_row_of_an_earlier_version_is_whole_without_the_new_fields():
    row = {
        name: value
        for name, value in asdict(open_projection(EXAM, DOG.protocol, NOW)).items()
        if name not in ("found", "discarded")
    }
    assert is_whole_row(row)


def test_what_an_exam_holds_is_said_in_words():
    assert held_words(begun(), DOG.protocol) == "Nothing is answered in it yet."
    assert held_words(EXAM, DOG.protocol).endswith("Found: Nose: redness.")


def test_a_line_of_findings_names_the_urgent_sign_first_and_counts_the_rest():
    many = tuple(replace(FOUND, finding_id=f"{n}" * 32) for n in range(1, 5))
    exam = begun(
        regions={"nose": RegionEntry(findings=many)},
        urgent=(UrgentEntry("9" * 32, "Pale gums", BY),),
    )
    assert found_line(exam, DOG.protocol) == (
        "URGENT: Pale gums; Nose: redness; Nose: redness; 2 more"
    )
    assert found_line(begun(), DOG.protocol) == ""


def test_danger_that_was_told_is_never_discarded():
    sign = begun(urgent=(UrgentEntry("9" * 32, "Pale gums", BY),))
    assert why_not(sign).startswith("It holds an urgent sign (Pale gums): stop it")
    bite = begun(bite=BiteHistory(bit_or_scratched="a child"))
    assert why_not(bite).startswith("It tells of a bite or scratch")
    assert "correction" in why_not(begun(revision=1))
    assert why_not(EXAM) == ""
