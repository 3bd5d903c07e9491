"""What a tap on the drawing proposes, and how marks are said and found again."""

from dataclasses import replace

import pytest

from exam_app.app.exam_editor import Edit
from exam_app.app.region_changes import Found, found, found_again, mark_placed
from exam_app.app.view.mark_presenter import (
    drawing_words,
    mark_under,
    proposals,
    shown_marks,
    views_marked,
    why_not_there,
)
from exam_app.domain.animal.body_marks import BodyMark, MarkView
from exam_app.domain.exam.findings import EarlierFinding, EarlierOutcome, Finding
from exam_app.domain.exam.marks import marked_findings
from exam_app.domain.exam.transitions import answer_earlier
from exam_app.domain.lumps.lumps import Lump, LumpDepth, LumpSize, LumpTool
from exam_app.domain.protocol.protocol import Scope
from exam_app.protocols.bodies import load_body
from exam_app.protocols.loader import load_protocol
from tests.exam_samples import BY, new_exam

DOG = load_protocol("dog").protocol
BODY = load_body("dog")
LEFT = BODY.views["left"]
FINGER = 56 * 1000 / 334
EDIT = Edit(DOG, BY, lambda: "b" * 32)
CHEST = (470, 300)
LUMP = Lump(LumpDepth.IN_SKIN, LumpSize((), LumpTool.BY_EYE, "", "Kim"))


def exam_of_a_dog():
    return new_exam(protocol_id=DOG.protocol_id)


def region(name):
    return next(r for r in DOG.regions if r.region_id == name)


def term(name, term_id):
    return next(t for t in region(name).terms if t.term_id == term_id)


def before(number=1, outcome=None):
    return EarlierFinding(
        "e" * 32,
        "f" * 32,
        "skin_coat",
        "2026-01-20",
        f"Lump, left, mark {number}, left view, 22 mm",
        outcome,
        LUMP,
        "lump",
        BodyMark(number, MarkView.LEFT, 620, 400),
    )


def labels(view, point):
    drawn = BODY.views[view]
    return [
        p.label for p in proposals(exam_of_a_dog(), DOG, BODY, drawn, point, FINGER)
    ]


def test_a_tap_proposes_what_lies_below_it_and_the_skin_with_the_side():
    assert labels("left", CHEST) == [
        "Lungs, left",
        "Chest wall, left",
        "Skin and coat, left",
    ]
    assert labels("top", (500, 620))[-1] == "Skin and coat, on the midline"
    assert labels("right", (530, 300))[0] == "Lungs, right"


def test_a_tap_beside_the_animal_proposes_nothing():
    assert labels("left", (500, 40)) == []


def test_a_part_that_is_not_asked_is_not_proposed():
    focused = replace(exam_of_a_dog(), scope=Scope.FOCUSED, focus=("chest",))
    offered = proposals(focused, DOG, BODY, LEFT, CHEST, FINGER)
    assert [one.key for one in offered] == ["chest"]


def test_marked_once_the_finding_has_the_next_number_and_the_marks_side():
    exam = replace(exam_of_a_dog(), earlier=(before(),))
    find = Found(region("chest"), (("chest", "1" * 32),), term("chest", "lump"))
    place = BodyMark(77, MarkView.LEFT, 470, 395)
    exam = found(find, "", place)(exam, EDIT)
    ((key, finding),) = marked_findings(exam)
    assert (key, finding.side) == ("chest", "left")
    assert finding.mark == replace(place, number=2)
    moved = mark_placed("chest", "1" * 32, BodyMark(9, MarkView.RIGHT, 500, 400))
    ((_, finding),) = marked_findings(moved(exam, EDIT))
    assert (finding.mark.number, finding.side) == (2, "right")


def test_without_a_mark_the_same_finding_is_recorded_as_before():
    find = Found(region("chest"), (("chest", "1" * 32),), term("chest", "lump"))
    exam = found(find)(exam_of_a_dog(), EDIT)
    assert exam.regions["chest"].findings[0].mark is None
    assert shown_marks(exam, DOG) == ()


def test_earlier_marks_are_said_with_their_day_until_gone_or_measured_again():
    exam = replace(exam_of_a_dog(), earlier=(before(),))
    (shown,) = shown_marks(exam, DOG)
    assert shown.is_earlier
    assert shown.is_lump
    assert shown.words == (
        "Earlier mark 1, 2026-01-20: Skin and coat: Lump, left, 22 mm"
    )
    again = found_again("f" * 32, "1" * 32, LUMP)(exam, EDIT)
    (shown,) = shown_marks(again, DOG)
    assert not shown.is_earlier
    assert shown.words == "Mark 1, left view: Skin and coat: Lump"
    gone = answer_earlier(exam, DOG, "f" * 32, EarlierOutcome.GONE)
    assert shown_marks(gone, DOG) == ()


def test_a_screen_reader_hears_each_mark_of_a_drawing():
    exam = replace(exam_of_a_dog(), earlier=(before(),))
    find = Found(region("chest"), (("chest", "1" * 32),), term("chest", "wound"))
    exam = found(find, "", BodyMark(1, MarkView.LEFT, 470, 395))(exam, EDIT)
    assert drawing_words(LEFT, shown_marks(exam, DOG)) == (
        "Drawing, left. "
        "Earlier mark 1, 2026-01-20: Skin and coat: Lump, left, 22 mm. "
        "Mark 2, left view: Chest wall: Wound"
    )
    assert [view.name for view in views_marked(shown_marks(exam, DOG), BODY)] == [
        "left"
    ]


def test_a_tap_on_a_mark_means_that_one_and_of_two_the_one_of_now():
    exam = replace(exam_of_a_dog(), earlier=(before(),))
    shown = shown_marks(exam, DOG)
    at = shown[0].mark.point(LEFT)
    assert mark_under(shown, LEFT, at, 70) is shown[0]
    assert mark_under(shown, LEFT, (at[0] + 71, at[1]), 70) is None
    assert mark_under(shown, BODY.views["right"], at, 70) is None
    own = replace(shown[0], is_earlier=False)
    assert mark_under((*shown, own), LEFT, at, 70) is own


@pytest.mark.parametrize(
    ("more", "view", "point", "said"),
    [
        ({}, "left", CHEST, ""),
        ({}, "left", (650, 330), "Chest wall is not drawn there."),
        ({"side": "right"}, "left", CHEST, "recorded on the right; this is the left."),
        ({"place": "right wall"}, "left", CHEST, "recorded on the right;"),
        ({"place": "left wall"}, "left", CHEST, ""),
    ],
)
def test_a_finding_is_not_marked_at_another_part_or_side(more, view, point, said):
    exam, drawn = exam_of_a_dog(), BODY.views[view]
    offered = proposals(exam, DOG, BODY, drawn, point, FINGER)
    finding = Finding("1" * 32, "Lump", BY, **more)
    mark = BodyMark(1, MarkView(view), 470, 395)
    why = why_not_there(exam, DOG, "chest", finding, mark, offered)
    assert said in why
    assert bool(said) == bool(why)
