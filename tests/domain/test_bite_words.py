"""The sheet of bites names for whom each time, first aid and person told is."""

from dataclasses import replace

import pytest

from exam_app.app.forms.bite_form import bites_asked
from exam_app.domain.exam.review import PointKind, review
from exam_app.domain.exam.visit import BiteHistory, Bitten
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.wording.written_record import write_record
from exam_app.record.plain_form import to_plain
from tests.exam_samples import PROTOCOL, new_exam
from tests.small_dog import NINE_O_CLOCK

NEIGHBOUR = Bitten(
    "a neighbour", "2025-11-24 18:00", "washed at once", told="the owner"
)
CHILD = Bitten("a child", "2025-11-25, time not known", told="nobody yet")
THUMB = Bitten(
    "left thumb",
    "2025-11-25 08:55",
    "not washed yet",
    "Toni Lark",
    "a physician",
    is_examiner=True,
)
LINES = {
    NEIGHBOUR: "BITE OR SCRATCH: a neighbour, 2025-11-24 18:00, "
    "first aid as they tell it: washed at once, told of it: the owner",
    CHILD: "BITE OR SCRATCH: a child, 2025-11-25, time not known, "
    "told of it: nobody yet",
    THUMB: "Examiner bitten or scratched: bitten: Toni Lark, left thumb, "
    "2025-11-25 08:55, first aid by the examiner: not washed yet, "
    "told of it: a physician",
}
EVERY = (
    (NEIGHBOUR,),
    (THUMB,),
    (NEIGHBOUR, THUMB),
    (NEIGHBOUR, CHILD),
    (NEIGHBOUR, CHILD, THUMB),
)


def exam_with(*blocks):
    return record_visit(new_exam(), BiteHistory().with_blocks(blocks))


def written(exam):
    sections = write_record(exam, PROTOCOL).sections
    return next(s.lines for s in sections if s.heading == "Bite and rabies")


def asked_of(exam):
    points = review(exam, PROTOCOL)
    return [p.message for p in points if p.kind is PointKind.BITE]


@pytest.mark.parametrize("blocks", EVERY)
def test_record_says_of_each_person_bitten_exactly_what_was_typed(blocks):
    exam = exam_with(*blocks)
    assert written(exam) == tuple(map(LINES.get, blocks))
    for block in blocks:
        assert f"{block.who}, {block.when}" in exam.bite.concern
    assert asked_of(exam) == []


@pytest.mark.parametrize("blocks", EVERY)
def test_device_that_knows_no_blocks_misses_nobody_and_no_word(blocks):
    texts = replace(BiteHistory().with_blocks(blocks), bitten=())
    said = " ".join(str(value) for value in to_plain(texts).values())
    for block in blocks:
        for words in (block.who, block.when, block.first_aid, block.told):
            assert words in said


def test_one_bite_and_one_of_the_examiner_need_no_new_field():
    assert BiteHistory().with_blocks((NEIGHBOUR,)).bitten == ()
    assert BiteHistory().with_blocks((THUMB,)).bitten == ()


def test_texts_that_say_otherwise_than_the_blocks_are_written_too():
    bite = BiteHistory(bit_or_scratched="the postman", bitten=(NEIGHBOUR, CHILD))
    lines = "\n".join(written(record_visit(new_exam(), bite)))
    for who in ("the postman", "a neighbour", "a child"):
        assert f"BITE OR SCRATCH: {who}" in lines


@pytest.mark.parametrize(
    ("block", "asked"),
    [
        (replace(CHILD, told=""), "who was told of it"),
        (replace(CHILD, when="two days ago"), "when (date and time, or not known)"),
        (replace(CHILD, when="14:05"), "when (date and time, or not known)"),
        (
            replace(CHILD, when="10 days ago, 9:00"),
            "when (date and time, or not known)",
        ),
        (
            replace(CHILD, when="", told=""),
            "when (date and time, or not known) and who was told of it",
        ),
    ],
)
def test_signing_asks_when_a_bite_was_and_who_was_told_of_it(block, asked):
    assert asked_of(exam_with(NEIGHBOUR, block)) == [f"Bite of a child: say {asked}"]


@pytest.mark.parametrize(
    "when",
    ["2025-11-24 9:05", "24.11.2025, 18:00", "24 November at 18:00", "Not known"],
)
def test_a_date_and_a_time_in_any_usual_spelling_answer_when_it_was(when):
    assert asked_of(exam_with(replace(CHILD, when=when))) == []


def test_a_record_of_old_that_says_who_was_told_of_two_bites_is_not_asked_again():
    bite = BiteHistory(
        "the owner",
        "2025-11-24 18:00",
        examiner_bitten="left thumb",
        examiner_when="2025-11-24 18:05",
        reported="the health office",
    )
    exam = record_visit(new_exam(), bite)
    assert asked_of(exam) == []
    assert written(exam)[-1] == "Bite or scratch reported to: the health office"
    again = bite.with_blocks(bite.blocks)
    assert again == bite


@pytest.mark.parametrize("own", ["", "-own"])
@pytest.mark.parametrize("name", ["when", "first_aid", "told"])
def test_time_or_first_aid_that_names_nobody_is_asked_about(name, own):
    asked = bites_asked(None, NINE_O_CLOCK, {}, "own" if own else "other")
    texts = {**asked.texts(), f"{name}-0{own}": "x"}
    assert asked.nobody_bitten(texts)[0] == f"who-0{own}"
    assert asked.nobody_bitten({**texts, f"who-0{own}": "said"}) == ("", "")
    assert asked.nobody_bitten(asked.texts()) == ("", "")


def test_a_bite_that_is_emptied_goes_and_the_others_keep_their_words():
    before = BiteHistory(rabies_vaccine="2024").with_blocks((NEIGHBOUR, CHILD, THUMB))
    asked = bites_asked(before, NINE_O_CLOCK, {})
    gone = {name: "" for name in asked.texts() if name.endswith("-0")}
    texts = {**asked.texts(), **gone}
    # Kept again from the same sheet, it is the same: no other bite is emptied.
    for _ in range(2):
        said = asked.said(texts)
        assert said.blocks == (CHILD, THUMB)
        assert said.rabies_vaccine == "2024"


def test_words_typed_of_a_further_bite_bring_its_block_back():
    before = BiteHistory().with_blocks((NEIGHBOUR,))
    asked = bites_asked(before, NINE_O_CLOCK, {"first_aid-1-own": "washed"})
    assert asked.blocks == (NEIGHBOUR, Bitten(is_examiner=True))
    assert bites_asked(before, NINE_O_CLOCK, {"first_aid-1": " "}).blocks == (
        NEIGHBOUR,
    )


def test_every_field_stands_under_the_heading_of_its_person():
    asked = bites_asked(BiteHistory().with_blocks((NEIGHBOUR, THUMB)), NINE_O_CLOCK, {})
    heads = [ask.block for ask in asked.asks if not ask.is_more]
    assert heads == ["Somebody else", "", "", "", "You, who examine", "", "", ""]
