"""What was said of an animal's danger stands wherever hands come near it."""

from dataclasses import replace

import pytest

from exam_app.app import exam_sessions
from exam_app.app.exam_start import own_dangers
from exam_app.app.forms import visit_forms
from exam_app.domain.animal.signalment import Animal
from exam_app.domain.exam.exam import regions_offered
from exam_app.domain.exam.handling import warnings_of_part
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.wording.written_record import write_record
from exam_app.protocols.loader import load_protocol
from exam_app.record.plain_form import from_plain
from exam_app.ui.exam import exam as exam_screen
from exam_app.ui.exam import handling_warnings, start
from exam_app.ui.region.region_row import RegionRow
from tests.app.test_bites_on_every_view import CALM, DOG, OTHER, begun, put, session
from tests.exam_samples import ANIMAL
from tests.screen_words import tab_at, words_of

__all__ = ["session"]

EXAM = "e" * 32
SNAPS = "Snaps when ears are touched"
WORDS = f"CAN HURT YOU: {SNAPS}"


@pytest.fixture
async def warned(session):
    """Two dogs' open exams; in one of them a warning was typed just now."""
    put(session.vault, begun(EXAM))
    put(session.vault, begun(OTHER, CALM))
    tab = tab_at(session, f"/exam/{EXAM}")
    opened = await exam_sessions.open_exam(tab.session, EXAM)
    said = visit_forms.whole_said(opened.exam, "animal", {"dangers": f" {SNAPS} "})
    assert await exam_sessions.change(
        tab.session, opened, lambda exam, _: record_visit(exam, said), "warning"
    )
    await handling_warnings.keep(tab, opened.exam.animal)
    return tab, opened


@pytest.mark.parametrize("place", ["", "/region/nose", "/vitals", "/review"])
async def test_warning_stands_above_every_screen_of_the_exam(session, warned, place):
    tab = tab_at(session, f"/exam/{EXAM}{place}")
    assert words_of(handling_warnings.notice(tab)) == WORDS
    await exam_sessions.open_exam(tab.session, OTHER)
    calm = tab_at(session, f"/exam/{OTHER}{place}")
    assert WORDS not in words_of(handling_warnings.notice(calm))


async def test_warning_stands_beside_the_part_it_names_and_no_other(warned):
    tab, opened = warned
    marked = [
        region.region_id
        for region in regions_offered(opened.exam, opened.protocol)
        if SNAPS in words_of(RegionRow(tab, opened, region).card())
    ]
    assert marked == ["ears"]
    assert WORDS in words_of(await exam_screen.build(tab, EXAM))


async def test_warning_stands_after_a_restart_and_in_the_record(session, warned):
    tab, opened = warned
    tab.session.editors.clear()
    again = await exam_sessions.open_exam(tab.session, EXAM)
    assert again is not opened
    assert words_of(handling_warnings.notice(tab)) == WORDS
    text = write_record(again.exam, again.protocol).as_text()
    assert f"Can hurt the examiner: {SNAPS}" in text


async def test_warning_stands_at_the_start_and_in_a_later_exam_of_the_animal(
    session, warned
):
    known = from_plain(Animal, session.vault.animals.get(ANIMAL.animal_id))
    assert known == replace(ANIMAL, dangers=SNAPS)
    assert SNAPS in own_dangers(known)
    tab = tab_at(session, f"/start/{ANIMAL.animal_id}")
    assert SNAPS in words_of(await start.build(tab, ANIMAL.animal_id))
    later = "9" * 32
    put(session.vault, begun(later, known))
    tab = tab_at(session, f"/exam/{later}")
    await exam_sessions.open_exam(tab.session, later)
    assert words_of(handling_warnings.notice(tab)) == WORDS


async def test_warning_typed_in_the_animals_form_stands_above_its_open_exam(
    session, warned
):
    plain = session.vault.animals.get(ANIMAL.animal_id)
    with session.vault.transaction():
        session.vault.animals.put({**plain, "dangers": "kicks"})
    tab = tab_at(session, f"/exam/{EXAM}")
    assert words_of(handling_warnings.notice(tab)) == f"{WORDS}; kicks"


@pytest.mark.parametrize(
    ("typed", "parts"),
    [
        ("Snaps when ears are touched", {"ears"}),
        ("BITES at the Mouth. Kicks", {"mouth"}),
        ("mean", set()),
        ("", set()),
    ],
)
def test_a_warning_names_a_part_by_a_word_of_its_name(typed, parts):
    named = {
        region.region_id
        for region in DOG.protocol.regions
        if warnings_of_part(typed, region)
    }
    assert parts <= named
    assert bool(parts) == bool(named)


@pytest.mark.parametrize("species", ["dog", "cat", "horse", "cattle", "rabbit"])
def test_every_part_is_named_by_its_own_name(species):
    for region in load_protocol(species).protocol.regions:
        if region.region_id != "distance":
            assert warnings_of_part(f"bites: {region.label}", region), region.label
