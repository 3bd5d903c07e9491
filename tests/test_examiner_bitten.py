"""A bitten examiner has no free hand: one tap keeps the bite, its time and the sign."""

from dataclasses import replace

import pytest

from exam_app.domain.people import Attribution
from exam_app.domain.visit import BiteHistory
from exam_app.protocols.loader import load_protocol
from exam_app.ui.examiner_bitten import SIGN_ID, examiner_bitten
from tests.small_dog import NINE_O_CLOCK, TECHNICIAN, new_exam

BY = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, NINE_O_CLOCK, NINE_O_CLOCK)


def bitten(exam, species="dog"):
    protocol = load_protocol(species).protocol
    return examiner_bitten(protocol, "Bit someone")(exam, BY, lambda: "1" * 32)


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_bite_of_the_examiner_is_kept_with_its_time_and_must_be_told(species):
    exam = bitten(new_exam(), species)
    assert exam.bite.concern == "examiner: bitten or scratched, 09:00"
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
