"""The sheet of bites names for whom each time and each first aid is."""

import pytest

from exam_app.app.forms import visit_forms as forms
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.wording.written_record import write_record
from tests.exam_samples import PROTOCOL, new_exam

NEIGHBOUR = {
    "bit_or_scratched": "a neighbour",
    "when": "two days ago",
    "first_aid": "washed at once",
}
THUMB = {
    "examiner_bitten": "left thumb",
    "examiner_when": "14:05",
    "washed": "not washed yet",
}
ANOTHER = (
    "BITE OR SCRATCH: a neighbour, two days ago, "
    "first aid as they tell it: washed at once"
)
OWN = (
    "Examiner bitten or scratched: left thumb, 14:05, "
    "first aid by the examiner: not washed yet"
)


def written(texts):
    """Return what the record says of bites typed in their sheet."""
    exam = new_exam()
    empty = forms.texts_of(None, forms.BITE)
    exam = record_visit(exam, forms.whole_said(exam, "bite", {**empty, **texts}))
    sections = write_record(exam, PROTOCOL).sections
    return next(s.lines for s in sections if s.heading == "Bite and rabies")


@pytest.mark.parametrize(
    ("texts", "lines"),
    [
        (NEIGHBOUR, (ANOTHER,)),
        (THUMB, (OWN,)),
        ({**NEIGHBOUR, **THUMB}, (ANOTHER, OWN)),
    ],
    ids=["another, washed", "examiner, not washed", "both"],
)
def test_record_says_of_each_person_bitten_exactly_what_was_typed(texts, lines):
    assert written(texts) == lines


@pytest.mark.parametrize(
    ("name", "who"),
    [
        ("when", "bit_or_scratched"),
        ("first_aid", "bit_or_scratched"),
        ("examiner_when", "examiner_bitten"),
        ("washed", "examiner_bitten"),
    ],
)
def test_time_or_first_aid_that_names_nobody_is_asked_about(name, who):
    assert forms.nobody_bitten({name: "x"})[0] == who
    assert forms.nobody_bitten({name: "x", who: "said"}) == ("", "")
    assert forms.nobody_bitten({}) == ("", "")


def test_every_field_stands_under_the_heading_of_its_person():
    heads, head = {}, ""
    for ask in forms.BITE:
        head = ask.block or head
        heads[ask.name] = head
    assert {heads[name] for name in NEIGHBOUR} == {"Somebody else"}
    assert {heads[name] for name in THUMB} == {"You, who examine"}
    assert heads["reported"] == "Either bite"
