"""Marks: a place on a drawing, its number, its words, and the same lump again.

What a change between two readings may be called: Ranganathan 2018, callipers, 12
subcutaneous tumours of dogs, longest diameter: limits of agreement 11.9 to 28.1 mm
within one rater, 15.9 to 55.6 mm between four.
"""

from dataclasses import replace
from decimal import Decimal

import pytest

from exam_app.app.exam_start import open_findings
from exam_app.domain.animal.body_drawing import BodyView, Curve
from exam_app.domain.animal.body_marks import BodyMark, MarkView, mark_at
from exam_app.domain.errors import FoundAgainError, MarkError
from exam_app.domain.exam.closing import continuation, stop_early
from exam_app.domain.exam.corrections import changes
from exam_app.domain.exam.exam import StopReason
from exam_app.domain.exam.finding_transitions import (
    add_finding,
    find_again,
    remove_finding,
)
from exam_app.domain.exam.findings import EarlierFinding, EarlierOutcome, Finding
from exam_app.domain.exam.marks import (
    earlier_marks,
    highest_number,
    marked_findings,
    next_number,
    open_earlier,
)
from exam_app.domain.exam.review import PointKind, review
from exam_app.domain.exam.transitions import answer_earlier
from exam_app.domain.lumps.lumps import Lump, LumpDepth, LumpSize, LumpTool
from exam_app.domain.measure.units import Reading
from exam_app.domain.wording.exam_wording import without_mark
from exam_app.domain.wording.written_record import write_record
from tests.exam_samples import BY, PROTOCOL, new_exam

VIEW = BodyView("top", 1200, Curve(((0, 0), (1000, 0), (500, 1200))))
PLACE = BodyMark(1, MarkView.LEFT, 300, 400)


def lump(size: str, who: str = "Kim", tool: LumpTool = LumpTool.CALLIPER) -> Lump:
    reading = Reading(size, "mm", Decimal(size))
    return Lump(LumpDepth.IN_SKIN, LumpSize((reading,), tool, "along the body", who))


def found(number: int, mark: BodyMark | None = None, **more) -> Finding:
    return Finding(f"{number:032x}", "lump", BY, mark=mark, **more)


def before(number: int, mark: BodyMark | None, size: str = "20") -> EarlierFinding:
    return EarlierFinding(
        "e" * 32,
        f"{number:032x}",
        "nose",
        "2026-01-02",
        "lump",
        lump=lump(size),
        mark=mark,
    )


def with_finds(exam, *finds: Finding):
    for one in finds:
        exam = add_finding(exam, PROTOCOL, "nose", one, "b" * 32)
    return exam


@pytest.mark.parametrize(
    "changed",
    [
        {"x": 1001},
        {"x": -1},
        {"y": 1001},
        {"y": True},
        {"x": 0.5},
        {"number": 0},
        {"number": 10_000},
        {"number": True},
    ],
)
def test_a_mark_that_is_nowhere_cannot_be_made(changed):
    with pytest.raises(MarkError):
        replace(PLACE, **changed)


def test_a_place_is_kept_in_thousandths_of_width_and_height():
    # 250 of the width; half of a height of 1200 thousandths of the width.
    mark = mark_at(1, VIEW, (250.4, 600.0))
    assert (mark.view, mark.x, mark.y) == (MarkView.TOP, 250, 500)
    assert mark.point(VIEW) == (250, 600)


def test_a_tap_just_beside_the_drawing_is_on_its_edge():
    assert mark_at(1, VIEW, (-3, 1210)) == BodyMark(1, MarkView.TOP, 0, 1000)


@pytest.mark.parametrize(
    ("view", "x", "side"),
    [
        (MarkView.LEFT, 900, "left"),
        (MarkView.RIGHT_HEAD, 100, "right"),
        (MarkView.TOP, 300, "left"),
        (MarkView.TOP, 700, "right"),
        # Lying on its back the animal's right is at the left of who looks at it.
        (MarkView.UNDER, 300, "right"),
        (MarkView.UNDER, 700, "left"),
        (MarkView.UNDER, 510, "midline"),
    ],
)
def test_the_side_is_the_animals_own(view, x, side):
    assert BodyMark(1, view, x, 500).side == side


def test_new_marks_go_on_from_every_number_that_is_known():
    exam = replace(new_exam(), marks_before=4, earlier=(before(8, PLACE),))
    assert next_number(exam) == 5
    exam = with_finds(exam, found(1, replace(PLACE, number=5)), found(2))
    assert next_number(exam) == 6
    assert [f.finding_id for _, f in marked_findings(exam)] == [f"{1:032x}"]


def test_a_number_that_was_taken_back_leaves_the_others_as_they_are():
    exam = with_finds(new_exam(), found(1, PLACE), found(2, replace(PLACE, number=2)))
    exam = remove_finding(exam, PROTOCOL, "nose", f"{1:032x}")
    assert [f.mark.number for _, f in marked_findings(exam)] == [2]


def test_the_next_record_knows_the_marks_and_the_continuation_their_numbers():
    exam = with_finds(new_exam(), found(1, replace(PLACE, number=3)))
    assert [one.mark.number for one in open_findings(exam, PROTOCOL)] == [3]
    person = exam.people[0]
    later = continuation(exam, PROTOCOL, "9" * 32, person, exam.started)
    assert later.marks_before == 3
    assert highest_number(later) == 3


@pytest.mark.parametrize("mark", [None, PLACE])
def test_the_words_of_an_earlier_find_lose_its_mark_and_nothing_else(mark):
    said = ", mark 1, left view" if mark else ""
    known = replace(before(8, mark), summary=f"lump, left{said}, 22 mm")
    assert without_mark(known) == "lump, left, 22 mm"


def test_a_gone_mark_is_not_drawn_and_keeps_its_number():
    exam = replace(new_exam(), earlier=(before(8, PLACE),))
    gone = answer_earlier(exam, PROTOCOL, f"{8:032x}", EarlierOutcome.GONE)
    assert earlier_marks(exam) == exam.earlier
    assert earlier_marks(gone) == ()
    assert next_number(gone) == 2


def measured_again(size: str, **how):
    exam = replace(new_exam(), earlier=(before(8, PLACE),))
    again = found(1, lump=lump(size, **how))
    return find_again(exam, PROTOCOL, f"{8:032x}", again, "b" * 32)


def lump_lines(exam) -> str:
    sections = write_record(exam, PROTOCOL).sections
    return "\n".join(next(s.lines for s in sections if s.heading == "Findings"))


@pytest.mark.reference
def test_both_readings_stand_side_by_side_with_tool_and_person():
    said = lump_lines(measured_again("26"))
    assert (
        "The same lump: 20 mm (calliper, along the body, Kim) on 2026-01-02; "
        "now 26 mm (calliper, along the body, Kim)." in said
    )
    assert "11.9 to 28.1 mm. This does not mean unchanged." in said
    assert "Larger" not in said


@pytest.mark.reference
@pytest.mark.parametrize(
    ("size", "who", "is_larger"),
    [
        ("48.1", "Kim", False),
        ("48.2", "Kim", True),
        ("75.6", "Alex", False),
        ("75.7", "Alex", True),
    ],
)
def test_growth_is_stated_only_beyond_what_callipers_differ_by(size, who, is_larger):
    said = lump_lines(measured_again(size, who=who))
    assert ("Larger by more than the measuring error." in said) is is_larger


def test_a_size_by_eye_is_laid_beside_and_not_compared():
    said = lump_lines(measured_again("90", tool=LumpTool.BY_EYE))
    assert "by eye" in said
    assert "Larger" not in said


def test_a_lump_measured_again_is_asked_about_no_more_and_is_not_gone():
    exam = measured_again("21")
    assert open_earlier(exam) == ()
    assert all(point.kind is not PointKind.EARLIER for point in review(exam, PROTOCOL))
    for outcome in (EarlierOutcome.GONE, EarlierOutcome.NOT_LOOKED_FOR):
        with pytest.raises(FoundAgainError):
            answer_earlier(exam, PROTOCOL, f"{8:032x}", outcome)
    changed = answer_earlier(exam, PROTOCOL, f"{8:032x}", EarlierOutcome.CHANGED)
    text = write_record(changed, PROTOCOL).as_text()
    assert "changed; measured again, see the findings" in text
    stopped = stop_early(exam, PROTOCOL, StopReason.UNSAFE, "", BY)
    assert "not looked for" not in write_record(stopped, PROTOCOL).as_text()


def test_a_lump_called_gone_and_then_measured_is_open_and_measured_once():
    exam = replace(new_exam(), earlier=(before(8, PLACE),))
    gone = answer_earlier(exam, PROTOCOL, f"{8:032x}", EarlierOutcome.GONE)
    again = find_again(gone, PROTOCOL, f"{8:032x}", found(1, lump=lump("21")), "b" * 32)
    assert again.earlier == exam.earlier
    ((key, finding),) = marked_findings(again)
    assert (key, finding.mark, finding.same_as) == ("nose", PLACE, f"{8:032x}")
    with pytest.raises(FoundAgainError):
        find_again(again, PROTOCOL, f"{8:032x}", found(2), "b" * 32)


@pytest.mark.parametrize(("said", "side"), [("lump, left", "left"), ("lump", "")])
def test_its_side_is_the_one_that_was_said_then(said, side):
    known = replace(before(8, PLACE), summary=said)
    exam = replace(new_exam(), earlier=(known,))
    again = find_again(exam, PROTOCOL, f"{8:032x}", found(1), "b" * 32)
    assert again.regions["nose"].findings[0].side == side


def test_taken_back_it_is_asked_about_again():
    exam = remove_finding(measured_again("21"), PROTOCOL, "nose", f"{1:032x}")
    assert open_earlier(exam) == exam.earlier


def test_the_exam_after_it_is_asked_about_the_newest_measuring_only():
    left = open_findings(measured_again("21"), PROTOCOL)
    assert [one.finding_id for one in left] == [f"{1:032x}"]
    assert left[0].mark == PLACE


def test_a_mark_that_was_moved_is_a_correction():
    exam = with_finds(new_exam(), found(1, PLACE))
    moved = with_finds(exam, found(1, replace(PLACE, x=310)))
    (made,) = changes(exam, moved, PROTOCOL)
    assert made.item == "Mark 1"
    assert "300 of 1000 across" in made.was
    assert "310 of 1000 across" in made.now
