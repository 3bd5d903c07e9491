"""A bite stands on every view of its animal, while its exam is open and once closed."""

from dataclasses import asdict, replace

import pytest

from exam_app.app import exam_sessions
from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.queries import day_plan
from exam_app.app.session import SetUp
from exam_app.app.signing import store_closed
from exam_app.domain.animal.groups import row_animal
from exam_app.domain.animal.signalment import Animal
from exam_app.domain.exam.closing import close, stop_early
from exam_app.domain.exam.exam import StopReason
from exam_app.domain.exam.visit import BiteHistory
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.protocols.loader import load_protocol
from exam_app.record.plain_form import to_plain
from exam_app.store.repositories.rows import OpenExam, open_projection
from exam_app.ui.animal import animals, bite_notice, kennel
from exam_app.ui.day import day
from exam_app.ui.day import day as plan
from exam_app.ui.exam import start
from exam_app.ui.handover import drafts as hand_over_drafts
from exam_app.ui.record import records
from exam_app.ui.round import round_sheet
from tests.app.test_signing import PASSPHRASE, new_session
from tests.exam_samples import ANIMAL, BY, NOW, TECHNICIAN
from tests.screen_words import tab_at, words_of

DOG, SHEEP = load_protocol("dog"), load_protocol("sheep")
BITTEN, OTHER, GROUP, EWE = "e" * 32, "f" * 32, "d" * 32, "c" * 32
WORDS = "a neighbour, 2026-09-20 18:00"
BITE = BiteHistory("a neighbour", "2026-09-20 18:00", reported="the owner")
MARK = f"{ANIMAL.name} · bite or scratch"
CALM = replace(ANIMAL, animal_id="7" * 32, name="Calm Demo")
FLOCK = Animal("5" * 32, "Low field (demo)", "sheep", is_group=True, is_demo=True)
SHEEP_ROW = row_animal(FLOCK, "6" * 32, "0417")


def begun(exam_id, animal=ANIMAL, loaded=DOG, scope=Scope.TECHNICIAN, **more):
    order = ExamOrder(animal, scope, Setting.SHELTER)
    exam = begin_exam(
        order, loaded.protocol, loaded.content_hash, TECHNICIAN, exam_id, NOW
    )
    return replace(exam, **more)


def put(vault, exam, loaded=DOG):
    shown = open_projection(exam, loaded.protocol, NOW)
    vault.drafts.put(exam.exam_id, to_plain(exam), shown)


@pytest.fixture
async def session(tmp_path):
    """A set-up session with two dogs in a shelter; nothing is open in memory."""
    made = new_session(tmp_path)
    await made.set_up(SetUp("field", "Invented", "", PASSPHRASE, TECHNICIAN, "4321"))
    vault = made.vault
    with vault.transaction():
        for loaded in (DOG, SHEEP):
            vault.protocols.put(loaded.content_hash, loaded.content)
        for animal in (ANIMAL, CALM, FLOCK, SHEEP_ROW):
            vault.animals.put(to_plain(animal))
    yield made
    made.close()


@pytest.fixture(params=["open", "closed", "open, of an earlier version"])
def state(request, session):
    """The exam with the bite, and another dog's without: open, or closed."""
    vault = session.vault
    for exam in (record_visit(begun(BITTEN), BITE), begun("8" * 32, CALM)):
        if request.param == "closed":
            stopped = stop_early(exam, DOG.protocol, StopReason.ESCAPED, "", BY)
            store_closed(
                vault, close(stopped, DOG.protocol, TECHNICIAN, NOW), DOG.protocol
            )
        else:
            put(vault, exam)
    if "earlier" in request.param:
        put_as_before(vault, record_visit(begun(BITTEN), BITE))
    return request.param


def put_as_before(vault, exam):
    """Keep a draft with the row that earlier versions made, without newer fields."""
    shown = asdict(open_projection(exam, DOG.protocol, NOW))
    for field in ("bite", "setting", "continues", "revision"):
        del shown[field]
    row = {**shown, "draft": to_plain(exam)}
    vault.drafts._table.put_last(exam.exam_id, row)


def is_marked(words):
    assert MARK in words
    assert f"{CALM.name} · bite" not in words
    return True


async def test_bite_stands_in_the_day_list(session, state):
    assert is_marked(words_of(await day.build(tab_at(session, "/"))))


async def test_bite_stands_in_the_day_list_beside_another_exam_of_the_animal(
    session, state
):
    put(session.vault, begun(OTHER))
    said = words_of(await day.build(tab_at(session, "/")))
    assert said.count(MARK) == 2


async def test_bite_stands_above_the_start_of_an_exam_and_on_its_row_there(
    session, state
):
    tab = tab_at(session, f"/start/{ANIMAL.animal_id}")
    assert words_of(bite_notice.notice(tab)) == f"BITE OR SCRATCH: {WORDS}"
    screen = words_of(await start.build(tab, ANIMAL.animal_id))
    row = f"{NOW.date_and_time()[:10]}" if state == "closed" else "Go on with it"
    assert f"{row} · bite or scratch" in screen


async def test_bite_stands_in_the_animal_list(session, state):
    assert is_marked(words_of(await animals.build(tab_at(session, "/animals"))))


async def test_bite_stands_on_the_animals_page(session, state):
    tab = tab_at(session, f"/animal/{ANIMAL.animal_id}")
    assert WORDS in words_of(bite_notice.notice(tab))
    calm = tab_at(session, f"/animal/{CALM.animal_id}")
    assert bite_notice.notice(calm) == []


async def test_bite_stands_in_the_list_of_kennel_cards_and_on_the_card(session, state):
    assert is_marked(words_of(await kennel.build_list(tab_at(session, "/kennel"))))
    card = words_of(await kennel.build(tab_at(session, "/kennel/x"), ANIMAL.animal_id))
    # It hangs on a door: when it was, and not who was bitten.
    assert f"BITE OR SCRATCH\n{BITE.when}" in card
    assert "neighbour" not in card


async def test_bite_stands_in_the_plan(session, state):
    tab = tab_at(session, "/plan")
    await day_plan.add(tab.session, [ANIMAL.animal_id, CALM.animal_id])
    assert is_marked(words_of(await plan.build(tab)))


async def test_bite_stands_on_every_screen_of_the_exam_opened_or_not(session, state):
    kind = "record" if state == "closed" else "exam"
    tab = tab_at(session, f"/{kind}/{BITTEN}/review")
    assert WORDS in words_of(bite_notice.notice(tab))
    if state != "closed":
        await exam_sessions.open_exam(tab.session, BITTEN)
        assert WORDS in words_of(bite_notice.notice(tab))


async def test_bite_stands_on_another_exam_of_the_animal(session, state):
    put(session.vault, begun(OTHER))
    tab = tab_at(session, f"/exam/{OTHER}")
    assert WORDS in words_of(bite_notice.notice(tab))
    await exam_sessions.open_exam(tab.session, OTHER)
    assert WORDS in words_of(bite_notice.notice(tab))


async def test_bite_stands_in_the_list_of_records_and_at_the_hand_over(session, state):
    if state == "closed":
        assert is_marked(words_of(await records.build(tab_at(session, "/records"))))
    else:
        said = words_of(hand_over_drafts.draft_section(tab_at(session, "/hand-over")))
        assert is_marked(said)


@pytest.mark.parametrize("when", ["now", "earlier"])
async def test_bite_stands_on_the_row_of_a_round(session, when):
    vault = session.vault
    put(vault, begun(GROUP, FLOCK, SHEEP, Scope.GROUP), SHEEP)
    row = begun(EWE, SHEEP_ROW, SHEEP, Scope.GROUP, group_exam=GROUP)
    bitten = record_visit(row, BITE)
    if when == "earlier":
        before = stop_early(
            replace(bitten, exam_id=OTHER, group_exam=""),
            SHEEP.protocol,
            StopReason.ESCAPED,
            "",
            BY,
        )
        closed = close(before, SHEEP.protocol, TECHNICIAN, NOW)
        store_closed(vault, closed, SHEEP.protocol)
    put(vault, bitten if when == "now" else row, SHEEP)
    said = words_of(await round_sheet.build(tab_at(session, f"/round/{GROUP}"), GROUP))
    assert f"{SHEEP_ROW.name} · bite or scratch" in said


async def test_bite_of_a_group_stands_above_its_round(session):
    put(
        session.vault,
        record_visit(begun(GROUP, FLOCK, SHEEP, Scope.GROUP), BITE),
        SHEEP,
    )
    tab = tab_at(session, f"/round/{GROUP}")
    assert WORDS in words_of(bite_notice.notice(tab))


async def test_animal_of_an_open_technician_exam_in_a_shelter_has_a_kennel_card(
    session,
):
    put(session.vault, begun(OTHER, CALM))
    assert CALM.name in words_of(await kennel.build_list(tab_at(session, "/kennel")))


async def test_draft_of_an_earlier_version_shows_what_its_row_does_not_hold(session):
    exam = begun(BITTEN, bite=BITE, continues=OTHER, revision=0)
    put_as_before(session.vault, exam)
    assert session.vault.drafts.shown(BITTEN) == open_projection(
        exam, DOG.protocol, NOW
    )


async def test_draft_that_cannot_be_read_is_still_listed(session):
    row = {"animal_id": ANIMAL.animal_id, "name": ANIMAL.name, "draft": {"version": 99}}
    session.vault.drafts._table.put_last(BITTEN, row)
    assert session.vault.drafts.open() == [
        OpenExam(BITTEN, ANIMAL.animal_id, ANIMAL.name)
    ]
