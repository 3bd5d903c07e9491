"""A bitten examiner has no free hand: one tap keeps the bite, its time and the sign."""

from dataclasses import replace

import pytest

from exam_app.app.exam_editor import Edit
from exam_app.app.forms.bite_form import bites_asked
from exam_app.app.region_changes import SIGN_ID, examiner_bitten, with_examiners_name
from exam_app.domain.exam.continued import combined
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.visit import BiteHistory
from exam_app.domain.wording.visit_wording import bite_lines
from exam_app.domain.wording.written_record import write_record
from exam_app.protocols.loader import load_protocol
from tests.small_dog import (
    COLLEAGUE,
    DOG,
    NINE_O_CLOCK,
    TECHNICIAN,
    new_exam,
)

BY = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, NINE_O_CLOCK, NINE_O_CLOCK)


def bitten(exam, species="dog"):
    protocol = load_protocol(species).protocol
    return examiner_bitten("Bit someone")(exam, Edit(protocol, BY, lambda: "1" * 32))


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_bite_of_the_examiner_is_kept_with_its_time_and_must_be_told(species):
    exam = bitten(new_exam(), species)
    assert exam.bite.concern == "examiner: bitten or scratched, 2025-11-25 09:00"
    (sign,) = exam.urgent
    assert sign.sign_id == SIGN_ID
    assert not sign.is_answered
    assert "local authority" in sign.action


def test_what_was_said_of_a_bite_before_stands():
    said = BiteHistory(bit_or_scratched="a neighbour", examiner_bitten="left thumb")
    exam = bitten(replace(new_exam(), bite=said))
    assert exam.bite == said


def test_second_tap_opens_no_second_sign():
    assert len(bitten(bitten(new_exam())).urgent) == 1


def lines_of(exam):
    return [line for line in write_record(exam, DOG).as_text().splitlines() if line]


def with_bite(**said):
    return replace(new_exam(), bite=BiteHistory(**said))


def test_first_aid_of_the_person_bitten_is_not_the_examiners():
    exam = with_bite(
        bit_or_scratched="the owner", when="at noon", first_aid="washed at once"
    )
    text = "\n".join(lines_of(exam))
    assert (
        "BITE OR SCRATCH: the owner, at noon, first aid as they tell it: washed at once"
        in text
    )
    assert "xaminer bitten" not in text
    assert "by the examiner" not in text


def test_two_persons_bitten_are_two_blocks_each_with_its_time_and_first_aid():
    exam = with_bite(
        bit_or_scratched="the owner",
        when="at noon",
        first_aid="not washed yet",
        examiner_bitten="left thumb",
        examiner_when="2026-11-25 09:00",
        washed="washed at once",
        examiner_name="Toni Lark",
        reported="the health office",
    )
    text = "\n".join(lines_of(exam))
    for line in (
        "BITE OR SCRATCH: the owner, at noon, "
        "first aid as they tell it: not washed yet",
        "Examiner bitten or scratched: bitten: Toni Lark, left thumb, "
        "2026-11-25 09:00, first aid by the examiner: washed at once",
        "Bite or scratch reported to: the health office",
    ):
        assert line in text, text


@pytest.mark.parametrize("name", ["washed", "first_aid"])
def test_first_aid_beside_nobody_is_written_as_nobodys(name):
    # Older records kept it beside the examiner, whoever had been bitten.
    text = "\n".join(lines_of(with_bite(bit_or_scratched="", **{name: "washed"})))
    assert "whose was not said: first aid: washed" in text
    assert "Examiner bitten" not in text
    older = "\n".join(lines_of(with_bite(bit_or_scratched="a child", washed="washed")))
    assert "BITE OR SCRATCH: a child\n" in older
    assert "whose was not said: first aid: washed" in older


def test_the_bitten_examiner_is_named_and_another_ones_entry_renames_nobody():
    exam = bitten(replace(new_exam(), people=(TECHNICIAN, COLLEAGUE)))
    assert exam.bite.blocks[0].name == TECHNICIAN.name
    later = replace(BY, examined_by=COLLEAGUE.person_id)
    said = with_examiners_name(exam, replace(exam.bite, washed="washed"), later)
    assert said.blocks[0].name == TECHNICIAN.name


def test_bites_of_an_exam_and_its_continuation_are_never_mixed():
    first = with_bite(examiner_bitten="left thumb", washed="washed at once")
    later = with_bite(examiner_bitten="right hand", examiner_when="10:00")
    both = combined(first, (replace(later, exam_id="f" * 32),), DOG).bite
    assert bite_lines(both) == (
        "Examiner bitten or scratched: left thumb, "
        "first aid by the examiner: washed at once",
        "Examiner bitten or scratched: right hand, 10:00",
    )


def test_after_i_was_bitten_only_the_examiners_own_block_is_asked():
    bite = bitten(new_exam()).bite
    asks = bites_asked(bite, NINE_O_CLOCK, {}).asks
    assert [ask.block for ask in asks if ask.block] == ["You, who examine"]
