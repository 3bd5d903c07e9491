"""A line on an exam: nothing before it is confirmed, then what the buttons record.

The words recorded are common practice, no source; that they equal what the same entry
by buttons records is compared with the buttons' own changes.
"""

import json
from dataclasses import replace

import pytest

from exam_app.app import exam_sessions, region_changes
from exam_app.app.exam_sessions import open_exam, start_exam
from exam_app.app.exam_start import ExamOrder
from exam_app.app.forms.vital_form import form_for, to_entry, type_text
from exam_app.app.session import Session, SetUp
from exam_app.app.words.line_state import LineState
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.region_states import RegionState
from exam_app.domain.exam.vitals import RateState, Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.domain.wording.written_record import write_record
from exam_app.protocols.loader import load_protocol
from exam_app.protocols.trade_words import FILE_NAME
from tests.app.test_signing import BOUNDS, CHEAP, PASSPHRASE
from tests.exam_samples import ANIMAL, TECHNICIAN


@pytest.fixture
async def session(tmp_path):
    """A set-up session."""
    made = Session(tmp_path, CHEAP, BOUNDS)
    answers = SetUp("field", "Invented", "", PASSPHRASE, TECHNICIAN, "4321")
    await made.set_up(answers)
    yield made
    await made.typed.settle()
    made.close()


async def state_of(session, text, species="dog", scope=Scope.TECHNICIAN, **animal):
    one = replace(ANIMAL, species=species, **animal)
    order = ExamOrder(one, scope, Setting.CLINIC)
    editor = await start_exam(session, order, load_protocol(species))
    state = LineState(session, editor)
    state.write(text)
    return state


def shown(state):
    return [(p.title, p.value) for p in state.understood()]


def answer(state, said, key):
    (one,) = [a for a in state.asked() if a.said == said]
    assert one.question is not None
    assert key in [a.key for a in one.question.answers]
    state.answer(one.item_id, key)


async def test_nothing_is_recorded_before_it_is_confirmed(session):
    state = await state_of(session, "T 38.5 C, nose normal, left ear red")
    before = state.editor.exam
    assert shown(state) == [
        ("Temperature", "38.5 °C"),
        ("Nose", "no abnormality found"),
        ("Ears, left", "red"),
    ]
    assert state.editor.exam == before
    made, refused = await state.confirm()
    assert [p.title for p in made] == ["Temperature", "Nose", "Ears, left"]
    assert refused == ()
    exam = state.editor.exam
    assert str(exam.vital("temperature").reading.value) == "38.5"
    assert exam.entry("nose").state is RegionState.NO_ABNORMALITY
    assert exam.entry("ears.left").findings[0].term_id == "red"
    assert state.text == ""


async def test_the_name_of_a_vital_is_said_once_where_its_scale_has_the_same(session):
    state = await state_of(session, "BAR")
    ((title, value),) = shown(state)
    assert title == "Mentation"
    assert value.startswith("0 (0 to 5): ")


async def test_a_line_records_what_the_buttons_record(session):
    """The same three answers by the buttons' own changes give the same record."""
    by_words = await state_of(session, "T 38.5 C, nose normal, left ear red")
    await by_words.confirm()
    by_taps = await state_of(session, "", animal_id="f" * 32)
    editor, protocol = by_taps.editor, by_taps.editor.protocol
    vital = protocol.vital("temperature")
    form = form_for(editor.exam, protocol, vital, editor.now())
    form = replace(type_text(form, "38.5"), unit="degC")
    entry = to_entry(editor.exam, protocol, vital, form)
    await exam_sessions.record(session, editor, vital, entry)
    nose, ears = protocol.region("nose"), protocol.region("ears")
    made = region_changes.what_is_left(("nose",), (), (), None)
    await exam_sessions.change(session, editor, made, "Nose")
    find = region_changes.Found(ears, (("ears.left", "a" * 32),), ears.term("red"))
    await exam_sessions.change(session, editor, region_changes.found(find), "Ears")
    assert nose is not None

    def told(exam: Exam) -> list[str]:
        text = write_record(exam, protocol).as_text().splitlines()
        wanted = ("Temperature", "Nose", "Ears", "red", "38.5")
        return [line for line in text if any(w in line for w in wanted)]

    assert told(by_words.editor.exam) == told(editor.exam)


async def test_a_flag_and_an_urgent_sign_come_as_with_the_buttons(session):
    state = await state_of(session, "T 41.5 C, gums blue", birth_date="2019-04-01")
    await state.confirm()
    assert state.editor.exam.urgent


async def test_one_undo_takes_a_confirmed_line_back(session):
    state = await state_of(session, "T 38.5 C, nose normal")
    before = state.editor.exam
    await state.confirm()
    await exam_sessions.undo(session, state.editor)
    assert state.editor.exam.vitals == before.vitals
    assert state.editor.exam.regions == before.regions


async def test_a_unit_that_was_not_said_is_asked_and_then_understood(session):
    state = await state_of(session, "T 38.5")
    assert shown(state) == []
    assert state.to_record() == ()
    answer(state, "T 38.5", "unit:degC")
    assert [(p.title, p.value) for p in state.to_record()] == [
        ("Temperature", "38.5 °C")
    ]
    await state.confirm()
    assert state.editor.exam.vital("temperature").reading.unit == "degC"


async def test_fahrenheit_is_taken_as_it_was_said(session):
    state = await state_of(session, "temp 101.3 F, wt 22 lb 9 oz")
    values = dict(shown(state))
    assert values["Temperature"] == "101.3 °F (38.5 °C)"
    assert values["Weight"] == "22 lb 9 oz (10.23 kg)"


async def test_what_the_animal_did_is_asked_once_for_all_rates(session):
    state = await state_of(session, "HR 88, R 24")
    asked = state.asked()
    assert len(asked) == 1
    assert "what was the animal doing" in asked[0].question.text
    state.answer(asked[0].item_id, f"state:{RateState.RESTING.value}")
    assert [p.value for p in state.to_record()] == ["88/min", "24/min"]
    await state.confirm()
    assert state.editor.exam.vital("heart_rate").state is RateState.RESTING
    assert state.editor.exam.vital("respiratory_rate").state is RateState.RESTING


async def test_a_count_keeps_its_length_as_evidence(session):
    state = await state_of(session, "HR 22 in 15 s at rest")
    await state.confirm()
    entry = state.editor.exam.vital("heart_rate")
    assert (entry.evidence.count, entry.evidence.seconds) == (22, 15)
    assert str(entry.reading.value) == "88"


async def test_clear_eyes_are_less_than_the_sentence(session):
    state = await state_of(session, "left eye clear, no discharge")
    assert state.to_record() == ()
    (first,) = state.asked()
    said = [text for text, is_said in first.question.claims if is_said]
    assert said == ["no discharge seen", "cornea clear in this light"]
    assert len(first.question.claims) > len(said)
    labels = [a.label for a in first.question.answers]
    assert labels == [
        "All of this was seen",
        "Only what I said, as a remark",
        "Not this",
    ]
    before = state.editor.exam.entry("eyes.left")
    state.answer(first.item_id, "remark")
    await state.confirm()
    after = state.editor.exam.entry("eyes.left")
    assert after.state is before.state
    assert after.remark == "left eye clear, no discharge"


async def test_a_denial_of_a_pair_may_be_of_both_sides(session):
    state = await state_of(session, "lungs no crackles")
    (one,) = state.asked()
    state.answer(one.item_id, "side:both")
    state.answer(one.item_id, "remark")
    assert state.to_record()[0].title == "Lungs, both"
    await state.confirm()
    exam = state.editor.exam
    assert exam.entry("lungs.left").remark == "no crackles"
    assert exam.entry("lungs.right").remark == "no crackles"


async def test_a_denial_that_becomes_a_remark_keeps_its_no(session):
    state = await state_of(session, "abdomen not painful; heart no murmur, muffled")
    first, second, third = state.asked()
    state.answer(first.item_id, "remark")
    state.answer(second.item_id, "remark")
    state.answer(third.item_id, "denied")
    state.answer(third.item_id, "remark")
    await state.confirm()
    exam = state.editor.exam
    assert exam.entry("abdomen").remark == "not painful"
    assert exam.entry("heart").remark == "no murmur; no muffled"


async def test_all_of_the_sentence_is_recorded_only_when_all_was_seen(session):
    state = await state_of(session, "nose clear")
    (one,) = state.asked()
    state.answer(one.item_id, "all")
    await state.confirm()
    assert state.editor.exam.entry("nose").state is RegionState.NO_ABNORMALITY


async def test_what_is_struck_is_not_recorded(session):
    state = await state_of(session, "T 38.5 C, nose normal")
    state.strike(state.understood()[1].item_id)
    await state.confirm()
    assert state.editor.exam.entry("nose").state is RegionState.UNEXAMINED
    assert state.editor.exam.vital("temperature").reading is not None


async def test_words_not_understood_stay_until_put_or_dismissed(session):
    state = await state_of(session, "nose normal; wagged happily")
    await state.confirm()
    assert [n.words for n in state.not_read()] == ["wagged", "happily"]
    assert state.text
    assert await state.put_into_remark(state.not_read()[0], "nose")
    state.dismiss(state.not_read()[0])
    assert state.editor.exam.entry("nose").remark == "wagged"
    assert state.text == ""


async def test_a_remark_that_stands_is_kept(session):
    state = await state_of(session, "")
    made = region_changes.remark(("nose",), "old scar")
    await exam_sessions.change(session, state.editor, made, "Nose")
    state.write("blimp")
    await state.put_into_remark(state.not_read()[0], "nose")
    assert state.editor.exam.entry("nose").remark == "old scar; blimp"


async def test_a_value_that_stands_is_not_overwritten_unseen(session):
    state = await state_of(session, "T 38.5 C")
    await state.confirm()
    state.write("T 39.1 C")
    (one,) = state.asked()
    assert "is recorded as 38.5 °C" in one.question.text
    state.answer(one.item_id, "repeat")
    await state.confirm()
    entry = state.editor.exam.vital("temperature")
    assert str(entry.reading.value) == "39.1"
    assert [str(e.reading.value) for e in entry.earlier] == ["38.5"]


async def test_two_values_are_asked_and_one_taken(session):
    state = await state_of(session, "T 38.5 C T 39.5 C")
    _, second = state.asked()
    state.answer(second.item_id, "this")
    assert [p.value for p in state.to_record()] == ["39.5 °C"]
    await state.confirm()
    assert state.text == ""


async def test_an_unexpected_number_is_asked_in_the_forms_words(session):
    state = await state_of(session, "T 101.2 C")
    (one,) = state.asked()
    assert "Is 101.2 °C right?" in one.question.text
    assert one.question.answers[0].key == "unit:degF"
    state.answer(one.item_id, "unit:degF")
    assert state.to_record()[0].value == "101.2 °F (38.4 °C)"


async def test_a_lump_with_size_unit_and_tool(session):
    state = await state_of(session, "skin: lump L flank 14x12 firm")
    answer(state, "lump L flank 14x12 firm", "unit:mm")
    answer(state, "lump L flank 14x12 firm", "tool:calliper")
    await state.confirm()
    (finding,) = state.editor.exam.entry("skin_coat").findings
    assert [d.typed for d in finding.lump.size.dimensions] == ["14 mm", "12 mm"]
    assert finding.lump.consistency.value == "firm"
    assert (finding.side, finding.place) == ("left", "flank")


async def test_a_find_with_grade_kind_and_place(session):
    state = await state_of(session, "murmur 3/6 systolic left apex")
    await state.confirm()
    (finding,) = state.editor.exam.entry("heart").findings
    assert finding.grades[0].value == "3"
    assert finding.qualities == ("systolic",)
    assert finding.place == "left apex (mitral)"


async def test_reasons_are_recorded(session):
    state = await state_of(session, "temp refused; mouth not examined, unsafe")
    await state.confirm()
    assert state.editor.exam.vital("temperature").reason == "refused"
    assert state.editor.exam.entry("mouth").reason == "unsafe"


async def test_what_was_given_is_asked_and_recorded_as_said(session):
    state = await state_of(session, "gave meloxicam 1 mg PO")
    assert state.to_record() == ()
    (one,) = state.asked()
    assert one.question.text == "Given: meloxicam, 1 mg, by mouth?"
    state.answer(one.item_id, "yes")
    await state.confirm()
    (given,) = state.editor.exam.given
    assert (given.product, given.dose, given.route) == ("meloxicam", "1 mg", "by mouth")


async def test_the_words_are_kept_as_evidence_when_wanted(session):
    state = await state_of(session, "T 38.5 C, left ear red, nose normal")
    await state.keep_words(is_wanted=True)
    assert LineState(session, state.editor).keeps_words
    await state.confirm()
    exam = state.editor.exam
    assert exam.vital("temperature").note == "as entered: “T 38.5 C”"
    assert "left ear red" in exam.entry("ears.left").findings[0].note
    assert "nose normal" in exam.entry("nose").remark


async def test_line_and_answers_survive_a_lock_and_a_restart(session):
    state = await state_of(session, "T 38.5, blimp; BCS 5/9")
    answer(state, "T 38.5", "unit:degC")
    exam_id = state.editor.exam.exam_id
    await session.typed.settle()
    session.editors.clear()
    session.typed.load_anew()
    editor = await open_exam(session, exam_id)
    again = LineState(session, editor)
    assert again.text == "T 38.5, blimp; BCS 5/9"
    assert "38.5 °C" in [a.chosen[0] for a in again.asked()]


@pytest.mark.slow
@pytest.mark.parametrize(
    "kept", ["{", "[]", "3", '{"answers": 3}', '{"answers": {"a": "b"}}', "null"]
)
async def test_answers_that_cannot_be_read_were_never_given(session, kept):
    state = await state_of(session, "T 38.5")
    state.typed.note("answers", kept)
    again = LineState(session, state.editor)
    assert again.to_record() == ()
    assert again.asked()


async def test_what_an_exam_does_not_offer_is_not_read(session):
    state = await state_of(session, "HR 88", scope=Scope.INTAKE)
    assert state.to_record() == ()
    assert [n.words for n in state.not_read()] == ["HR", "88"]


async def test_a_practices_short_form_is_expanded_visibly(session, tmp_path):
    (tmp_path / FILE_NAME).write_text('[phrases]\n"usual" = "nose normal, T 38.5 C"\n')
    state = await state_of(session, "usual")
    assert state.line.expanded == {"usual": "nose normal, T 38.5 C"}
    assert [p.title for p in state.understood()] == ["Nose", "Temperature"]


async def test_json_of_answers_holds_no_more_than_keys(session):
    state = await state_of(session, "T 38.5")
    answer(state, "T 38.5", "unit:degC")
    kept = json.loads(state.typed.value("answers"))
    assert set(kept) == {"answers", "struck", "done", "dismissed"}


@pytest.mark.slow
@pytest.mark.parametrize(
    "text",
    [
        "T 38.5 C HR 88 R 24 nose normal",
        "murmur 3/6, left ear discharge, abdomen not painful",
        "wt 22, CRT <2, HR 31/15, BCS 5, ears red, eyes clear",
        "yesterday T 39 C; gave 2 ml meloxicam; lump 5 mm",
        "left ear red, left ear normal, HR 120 HR 102",
    ],
)
async def test_every_question_can_be_answered_to_its_end(session, text):
    """Whatever is answered, each question ends in a record or in nothing."""
    state = await state_of(session, text)
    for _ in range(40):
        open_now = [a for a in state.asked() if a.question]
        if not open_now:
            break
        one = open_now[0]
        state.answer(one.item_id, one.question.answers[0].key)
    else:
        pytest.fail("questions without end")
    await state.confirm()
    write_record(state.editor.exam, state.editor.protocol).as_text()
