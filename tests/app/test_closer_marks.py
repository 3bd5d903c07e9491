"""What a tap on a closer drawing proposes, and where its mark stands on the body."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.app.exam_editor import Edit
from exam_app.app.region_changes import Found, found, mark_placed
from exam_app.app.view.mark_presenter import (
    closer_label,
    closer_offers,
    drawing_words,
    on_view,
    place_words,
    proposals,
    shown_marks,
    views_marked,
)
from exam_app.domain.animal.body_marks import (
    BodyMark,
    CloserPlace,
    CloserView,
    MarkView,
    OwnSide,
)
from exam_app.domain.errors import MarkError
from exam_app.domain.exam.findings import EarlierFinding
from exam_app.domain.exam.marks import marked_findings
from exam_app.domain.protocol.protocol import Scope, split_key
from exam_app.domain.wording.exam_wording import without_mark
from exam_app.domain.wording.written_record import write_record
from exam_app.protocols.bodies import load_body
from exam_app.protocols.loader import available, load_protocol
from tests.exam_samples import BY, new_exam

FINGER = 56 * 1000 / 334
FOOT = "fore_foot_under.left"


def protocol_of(species):
    return load_protocol(species).protocol


def exam_of(species):
    exam = new_exam(protocol_id=protocol_of(species).protocol_id)
    return replace(exam, animal=replace(exam.animal, species=species))


def offered(species, name, point, near=(), exam=None):
    body = load_body(species)
    exam = exam or exam_of(species)
    drawn = body.drawing(name)
    return proposals(exam, protocol_of(species), body, drawn, point, FINGER, near)


def test_a_tap_on_a_foot_proposes_its_limb_and_the_skin_with_both_places():
    near = offered("dog", "left", (352, 715))
    limb, skin = offered("dog", FOOT, (500, 700), near)
    assert (limb.key, limb.label) == ("forelimb.left", "Forelimbs, left")
    assert skin.label == "Skin and coat, left"
    place = CloserPlace(CloserView.FORE_FOOT_UNDER, 500, 648, OwnSide.LEFT)
    assert limb.mark == BodyMark(1, MarkView.LEFT, 352, 941, place)
    assert skin.mark == limb.mark


def test_without_a_tap_on_the_body_the_mark_stands_where_the_part_is_drawn():
    (limb, skin) = offered("dog", "fore_foot_under.right", (500, 700))
    view = load_body("dog").views[limb.mark.view.value]
    area = view.area("forelimb.right")
    assert not area.is_far
    assert limb.mark.point(view) == pytest.approx(area.label, abs=1)
    # The skin is drawn nowhere: it is marked where the foot is.
    assert skin.mark == limb.mark


def test_another_quarter_than_the_tapped_one_stands_where_that_is_drawn():
    near = offered("cattle", "left", load_body("cattle").views["left"].areas[0].label)
    (rear, *_) = offered("cattle", "udder", (270, 560), near)
    assert (rear.key, rear.mark.side) == ("udder_rear.right", "right")
    assert rear.mark.side_of_view != "left"


def test_in_a_mouth_the_skin_is_not_proposed_and_inside_both_parts_are():
    exam = replace(exam_of("dog"), scope=Scope.VETERINARIAN)
    told = offered("dog", "mouth", (500, 720), exam=exam)
    assert [one.key for one in told] == ["mouth_deep", "mouth"]
    assert [one.key for one in offered("dog", "mouth", (500, 70))] == ["mouth"]
    assert {one.mark.side for one in told} == {"midline"}


def test_a_part_of_the_right_seen_from_the_left_changes_the_view_and_not_the_side():
    # The left head was tapped; the tooth is one of the right.
    near = offered("dog", "left_head", (300, 440))
    assert near[0].mark.view is MarkView.LEFT_HEAD
    (mouth, *_) = offered("dog", "mouth", (300, 160), near)
    assert mouth.mark.side == "right"
    assert mouth.mark.side_of_view != "left"


def test_a_part_that_is_not_asked_is_not_proposed():
    exam = replace(exam_of("dog"), scope=Scope.FOCUSED, focus=("mouth",))
    assert [one.key for one in offered("dog", "mouth", (500, 720), exam=exam)] == [
        "mouth"
    ]


@given(data=st.data(), species=st.sampled_from(available()))
def test_no_tap_makes_a_mark_that_says_two_sides_or_another_part(data, species):
    body = load_body(species)
    name = data.draw(st.sampled_from(sorted(body.closer)))
    view = body.closer[name]
    point = (data.draw(st.integers(0, 1000)), data.draw(st.integers(0, view.height)))
    first = data.draw(st.sampled_from([*body.views]))
    across = data.draw(st.integers(0, 1000))
    down = data.draw(st.integers(0, body.views[first].height))
    near = offered(species, first, (across, down))
    for one in offered(species, name, point, near):
        assert {one.mark.side, one.mark.side_of_view} != {"left", "right"}
        assert one.mark.closer.drawing == name
        side = split_key(one.key)[1]
        assert {side, one.mark.side} != {"left", "right"}
        if limb := name.partition(".")[2]:
            assert one.mark.side == limb
            assert side in ("", limb)


@pytest.mark.parametrize(
    ("species", "keys", "at", "labels"),
    [
        ("dog", ["forelimb.left"], ("left", (352, 715)), ["left fore foot"]),
        ("dog", ["forelimb.left"], ("left", (400, 450)), ["left forelimb"]),
        ("dog", ["forelimb.left"], (), ["left forelimb"]),
        (
            "horse",
            ["hoof_fore.right", "forelimb.right"],
            (),
            ["right fore foot", "right forelimb"],
        ),
        ("cattle", ["udder_fore.left", "udder_rear.left"], (), ["udder"]),
        ("dog", ["mouth", "mouth_deep", "nose"], (), ["open mouth"]),
        ("dog", ["mammary.left"], (), ["mammary glands"]),
        ("chicken", ["hindlimb.left"], (), ["left foot"]),
        ("dog", ["chest", "skin_coat"], (), []),
    ],
)
def test_a_part_offers_its_closer_drawings_once(species, keys, at, labels):
    body = load_body(species)
    where = (body.views[at[0]], at[1]) if at else ()
    assert [one.label for one in closer_offers(body, keys, *where)] == labels


def test_the_drawings_of_a_part_are_told_apart_in_few_words():
    names = load_body("dog").closer_of["forelimb.left"]
    assert [closer_label(name) for name in names] == [
        "Limb, outer",
        "Limb, inner",
        "Foot, outer",
        "Foot, inner",
        "Foot, under",
    ]
    assert closer_label("mammary") == "Mammary glands"


def marked_exam():
    """A finding marked on a foot, and an earlier one in the mouth."""
    protocol = protocol_of("dog")
    earlier = EarlierFinding(
        "e" * 32,
        "f" * 32,
        "mouth",
        "2026-01-20",
        "Tartar, mark 1, open mouth, closer drawing",
        mark=BodyMark(
            1, MarkView.LEFT_HEAD, 300, 700, CloserPlace(CloserView.MOUTH, 520, 300)
        ),
    )
    exam = replace(exam_of("dog"), earlier=(earlier,))
    edit = Edit(protocol, BY, lambda: "b" * 32)
    region = protocol.region("forelimb")
    find = Found(region, (("forelimb.left", "1" * 32),), region.terms[0])
    (limb, _) = offered("dog", FOOT, (500, 700), exam=exam)
    return found(find, "", limb.mark)(exam, edit), edit


def test_it_is_numbered_said_and_drawn_like_any_other():
    exam, _ = marked_exam()
    protocol, body = protocol_of("dog"), load_body("dog")
    ((key, finding),) = marked_findings(exam)
    assert (key, finding.side, finding.mark.number) == ("forelimb.left", "left", 2)
    shown = shown_marks(exam, protocol)
    names = [view.name for view in views_marked(shown, body)]
    assert names[-2:] == [FOOT, "mouth"]
    assert "left_head" in names
    (before,) = on_view(shown, body.closer["mouth"])
    assert before.is_earlier
    assert drawing_words(body.closer[FOOT], on_view(shown, body.closer[FOOT])) == (
        "Closer drawing, under side of the left fore foot. Mark 2, under side of the "
        f"left fore foot, closer drawing: Forelimbs, left: {finding.words}"
    )
    text = write_record(exam, protocol).as_text()
    assert "mark 2, under side of the left fore foot, closer drawing" in text
    assert "500 of 1000 across, 648 of 1000 down" in text


def test_an_earlier_line_is_said_without_its_closer_mark():
    exam, _ = marked_exam()
    assert without_mark(exam.earlier[0]) == "Tartar"


def test_moved_on_the_whole_body_it_has_no_closer_place_any_more():
    exam, edit = marked_exam()
    moved = mark_placed("forelimb.left", "1" * 32, BodyMark(9, MarkView.LEFT, 350, 900))
    ((_, finding),) = marked_findings(moved(exam, edit))
    assert finding.mark == BodyMark(2, MarkView.LEFT, 350, 900)


@pytest.mark.parametrize(
    ("name", "point", "said"),
    [
        (FOOT, (500, 700), "Forelimbs, left, main pad"),
        ("mouth", (500, 104), "Mouth, lips lifted, on the midline"),
        ("mouth", (500, 20), "Beside what is drawn"),
        ("left", (470, 300), "Lungs, left"),
        ("left", (500, 40), "Beside what is drawn"),
    ],
)
def test_a_place_is_said_for_whoever_goes_there_by_keys(name, point, said):
    body = load_body("dog")
    exam, protocol = exam_of("dog"), protocol_of("dog")
    told = place_words(exam, protocol, body, body.drawing(name), point, 20)
    assert told == said


@pytest.mark.parametrize(
    "changed",
    [
        {"x": 1001},
        {"y": -1},
        {"x": True},
        {"y": 0.5},
        {"limb": None},
        {"view": CloserView.UDDER},
    ],
)
def test_a_closer_place_that_is_nowhere_cannot_be_made(changed):
    place = CloserPlace(CloserView.FORE_FOOT_OUTER, 1, 2, OwnSide.LEFT)
    with pytest.raises(MarkError):
        replace(place, **changed)


def test_a_closer_place_of_the_other_side_than_the_view_cannot_be_made():
    place = CloserPlace(CloserView.FORE_FOOT_OUTER, 1, 2, OwnSide.RIGHT)
    with pytest.raises(MarkError):
        BodyMark(1, MarkView.LEFT, 1, 2, place)
    # On the midline of a view from above either side can be.
    assert BodyMark(1, MarkView.TOP, 500, 2, place).side == "right"
