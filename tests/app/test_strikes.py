"""What is struck on a part's page is what its button records, wherever it is tapped."""

import asyncio
from dataclasses import replace
from itertools import count
from types import SimpleNamespace

from exam_app.app.exam_editor import ExamEditor
from exam_app.app.strikes import Strikes
from exam_app.app.typed_entries import TypedEntries
from exam_app.app.view.region_presenter import (
    answer_head,
    normal_label,
    not_seen,
    sentence_shown,
)
from exam_app.domain.protocol.protocol import Clause, Scope
from exam_app.domain.wording.written_record import write_record
from tests.app.test_exam_editor import DraftStore
from tests.small_dog import DOG, NINE_O_CLOCK, TECHNICIAN, new_exam, no_abnormality

NOSE = DOG.region("nose")
LIDS = Clause("third", "lids even", "eyelids even", tuple(Scope))
EYES = replace(DOG.region("eyes"), clauses=(*DOG.region("eyes").clauses, LIDS))
TWO = replace(
    DOG, regions=tuple(EYES if r.region_id == "eyes" else r for r in DOG.regions)
)
BOTH_EYES = ("eyes.left", "eyes.right")


class NoTable:
    def put(self, place, label, words):
        pass


async def write(action):
    action()


def session_over(drafts):
    return SimpleNamespace(typed=drafts)


async def strikes_of(region, *struck, drafts=None):
    drafts = drafts or TypedEntries(write, NoTable)
    numbers = count(1)
    editor = ExamEditor(
        new_exam(),
        TWO,
        TECHNICIAN,
        DraftStore().put,
        lambda: NINE_O_CLOCK,
        lambda: f"{next(numbers):032x}",
    )
    strikes = Strikes(session_over(drafts), editor, region)
    for clause_id, reason in struck:
        strikes.strike(clause_id, reason)
    return strikes


async def record(strikes, *keys):
    made = no_abnormality(keys, strikes.now())
    await strikes.editor.apply(made)
    strikes.settle()


def words_of(strikes):
    return write_record(strikes.editor.exam, TWO).as_text()


def test_the_record_never_claims_what_was_struck_before_the_tap():
    async def tapped():
        strikes = await strikes_of(NOSE, ("air", "unsafe"))
        await record(strikes, "nose")
        return strikes

    strikes = asyncio.run(tapped())
    text = words_of(strikes)
    assert "Nose: no discharge" in text
    assert "not seen: air moves through both nostrils (unsafe)" in text
    assert text.count("air moves through both nostrils") == 1
    assert not strikes.is_changed()


def test_the_button_says_how_much_of_it_is_not_seen():
    strikes = asyncio.run(strikes_of(NOSE, ("air", "unsafe")))
    exam = strikes.editor.exam
    assert normal_label("", 1) == "No abnormality, but 1 not seen"
    assert normal_label("Left") == "Left: no abnormality"
    shown = sentence_shown(exam, NOSE, ("nose",), strikes.now())
    assert shown == "No abnormality found: no discharge"
    left_out = not_seen(exam, NOSE, strikes.now())
    assert left_out == "Not seen: air moves through both nostrils (unsafe)"


def test_strikes_are_there_again_after_leaving_the_page():
    async def left_and_back():
        drafts = TypedEntries(write, NoTable)
        first = await strikes_of(NOSE, ("air", "unsafe"), drafts=drafts)
        again = Strikes(session_over(drafts), first.editor, NOSE)
        return again.now(), drafts.of_exam(first.editor.exam.exam_id)

    now, unsaved = asyncio.run(left_and_back())
    assert now == (("air", "unsafe"),)
    assert [one.label for one in unsaved] == ["Nose: struck as not seen"]


def test_a_strike_taken_back_in_is_claimed_again():
    strikes = asyncio.run(strikes_of(NOSE, ("air", "unsafe"), ("air", "")))
    assert strikes.now() == ()
    assert not strikes.is_changed()


def test_strikes_of_one_side_stand_for_the_other_until_it_is_answered_too():
    async def one_after_the_other():
        clause = EYES.clauses[0].clause_id
        strikes = await strikes_of(EYES, (clause, "unsafe"))
        await record(strikes, "eyes.left")
        between = strikes.now()
        await record(strikes, "eyes.right")
        return strikes, between, clause

    strikes, between, clause = asyncio.run(one_after_the_other())
    assert between == ((clause, "unsafe"),)
    assert strikes.now() == ((clause, "unsafe"),)
    assert strikes.typed.entries.words(strikes.typed.place) == {}


def test_a_recorded_strike_can_be_taken_back_in_and_is_a_change():
    async def later():
        strikes = await strikes_of(NOSE, ("air", "unsafe"))
        await record(strikes, "nose")
        strikes.strike("air", "")
        return strikes

    strikes = asyncio.run(later())
    assert strikes.is_changed()
    assert strikes.now() == ()


def test_everything_struck_is_not_examined_and_no_sentence():
    every = [(clause.clause_id, "unsafe") for clause in NOSE.clauses]
    assert asyncio.run(strikes_of(NOSE, *every)).leaves_nothing()


def test_an_open_card_never_reads_as_answered():
    async def left_answered():
        strikes = await strikes_of(EYES)
        before = answer_head(strikes.editor.exam, BOTH_EYES)
        await record(strikes, "eyes.left")
        return before, answer_head(strikes.editor.exam, BOTH_EYES), strikes

    before, between, strikes = asyncio.run(left_answered())
    assert before == "Not answered yet. One tap records:"
    assert between == "Right not answered yet. One tap records:"
    asyncio.run(record(strikes, "eyes.right"))
    assert answer_head(strikes.editor.exam, BOTH_EYES) == "Recorded:"
