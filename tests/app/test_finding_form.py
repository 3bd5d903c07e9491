"""A finding's details and a lump's sizes as they are typed and tapped."""

from dataclasses import replace
from decimal import Decimal

import pytest

from exam_app.app.forms.finding_form import (
    Place,
    asks_of,
    graded,
    lacks_side,
    read_place,
    read_since,
)
from exam_app.app.forms.lump_form import lump_of, read_sizes, texts_of
from exam_app.domain.animal.body_marks import BodyMark, MarkView
from exam_app.domain.errors import LumpSizeError, ReadingError, UnitMismatchError
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.people import Attribution
from exam_app.domain.lumps.lumps import Consistency, LumpDepth, LumpTool
from exam_app.domain.protocol.protocol import Term
from exam_app.domain.wording.exam_wording import describe_finding
from exam_app.domain.wording.pressing_words import finding_words
from tests.small_dog import DOG, NINE_O_CLOCK, TECHNICIAN

BY = Attribution(TECHNICIAN.person_id, TECHNICIAN.person_id, NINE_O_CLOCK, NINE_O_CLOCK)
LIDS = Term("redness", "redness", places=("lid", "lid, upper"))


def test_place_is_landmark_and_own_words_and_is_read_back_as_both():
    for place in (
        Place("lid, upper", "2 cm from the corner"),
        Place("lid"),
        Place(words="behind the ear"),
        Place(),
    ):
        assert read_place(place.text(), LIDS) == place


def test_time_from_a_button_is_told_from_own_words():
    assert read_since("weeks") == ("weeks", "")
    assert read_since("since the move") == ("", "since the move")


def test_grade_of_an_unknown_scale_is_left_out():
    assert graded(Finding("f" * 32, "x", BY), DOG, "murmur", "3") == ()


def test_a_lump_is_asked_its_side_only_where_nothing_else_tells_it():
    skin = Term("lump", "lump", places=("neck", "back"), is_lump=True)
    wall = Term("lump", "lump", places=("left wall", "navel"), is_lump=True)
    found = Finding("f" * 32, "lump", BY)
    assert "side" in {ask.name for ask in asks_of(skin, DOG, "skin", found)}
    for term, key in ((skin, "ear.left"), (wall, "chest"), (LIDS, "skin")):
        assert not lacks_side(term, key)


def test_beside_a_mark_no_side_is_asked_and_no_place_of_the_other_side_offered():
    skin = Term("lump", "lump", places=("neck", "left wall", "right wall", "both"))
    lump = replace(skin, is_lump=True)
    mark = BodyMark(1, MarkView.LEFT, 500, 500)
    found = Finding("f" * 32, "lump", BY, side="left", mark=mark)

    def offered(finding):
        asks = {ask.name: ask.choices for ask in asks_of(lump, DOG, "skin", finding)}
        assert "side" not in asks
        return [name for name, _ in asks["place"]]

    assert offered(found) == ["neck", "left wall"]
    # What was said before stays to be seen.
    assert "right wall" in offered(replace(found, place="right wall"))


def test_the_written_record_says_the_side_of_a_lump_of_the_skin():
    for side, said in (("left", "Lump, left, neck"), ("midline", "on the midline")):
        lump = Finding("f" * 32, "Lump", BY, side=side, place="neck")
        assert said in describe_finding(lump, DOG)
        assert said in finding_words("skin", lump)


def test_sizes_are_read_with_any_sign_between_and_one_unit_for_all():
    for typed in ("12 x 8 mm", "12×8mm", "12 by 8 mm", "12mm x 8 mm", "12 * 8"):
        sizes = read_sizes(typed, "mm")
        assert [(s.value, s.unit) for s in sizes] == [
            (Decimal(12), "mm"),
            (Decimal(8), "mm"),
        ]
    assert read_sizes("1.2 cm", "mm")[0].unit == "cm"


def test_no_size_too_many_sizes_and_no_number_are_refused():
    form = {"tool": "ruler"}
    with pytest.raises(LumpSizeError):
        lump_of(form, "T")
    with pytest.raises(LumpSizeError):
        lump_of({"typed": "1 x 2 x 3 x 4", "tool": "ruler"}, "T")
    with pytest.raises(LumpSizeError):
        lump_of({"typed": "0", "tool": "ruler"}, "T")
    with pytest.raises(ReadingError):
        lump_of({"typed": "pea", "tool": "ruler"}, "T")
    with pytest.raises(UnitMismatchError):
        lump_of({"typed": "12 kg", "tool": "ruler"}, "T")


def test_what_it_was_measured_with_is_asked_for_and_by_eye_is_an_answer():
    with pytest.raises(LumpSizeError):
        lump_of({"typed": "12"}, "T")
    assert lump_of({"typed": "12", "tool": "by_eye"}, "T").size.tool is LumpTool.BY_EYE


def test_lump_keeps_what_was_noted_and_leaves_open_what_was_not():
    form = {"typed": "12 x 8", "second": "13 x 8", "tool": "calliper", "feel": "firm"}
    lump = lump_of(form, "Tana Demo")
    assert lump.depth is LumpDepth.NOT_SURE
    assert lump.consistency is Consistency.FIRM
    assert lump.mobility is None
    assert lump.second_size.dimensions[0].value == Decimal(13)
    assert lump.size.measured_by == "Tana Demo"


def test_lump_opened_again_reads_as_it_was_typed():
    form = {"typed": "1.2 cm x 8 mm", "tool": "ruler", "direction": "along the body"}
    lump = lump_of(form, "T")
    assert lump_of(texts_of(lump), "T") == lump
    assert texts_of(None) == {}
