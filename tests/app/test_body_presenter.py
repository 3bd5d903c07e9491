"""What the drawing says to a screen reader is what it shows to the eye."""

from dataclasses import replace

from exam_app.app.view.body_presenter import (
    Mark,
    key_words,
    marks,
    not_drawn,
    view_words,
)
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.region_states import RegionEntry, RegionState
from exam_app.protocols.bodies import load_body
from exam_app.protocols.loader import load_protocol
from tests.exam_samples import BY, new_exam

DOG = load_protocol("dog").protocol
EYE = Finding("1" * 32, "discharge", BY, side="left")


def answered() -> Exam:
    exam = new_exam(protocol_id=DOG.protocol_id)
    entries = {
        "eyes.left": RegionEntry(RegionState.WITH_FINDINGS, findings=(EYE,)),
        "nose": RegionEntry(RegionState.NO_ABNORMALITY),
        "mouth": RegionEntry(RegionState.NOT_EXAMINED, reason="unsafe"),
    }
    return replace(exam, regions={**exam.regions, **entries})


def test_each_side_has_its_own_mark():
    said = marks(answered(), DOG)
    assert said["eyes.left"] is Mark.FINDING
    assert said["eyes.right"] is Mark.OPEN
    assert said["nose"] is Mark.ANSWERED
    assert said["mouth"] is Mark.ANSWERED


def test_the_words_of_a_view_tell_finding_answered_and_open():
    body, exam = load_body("dog"), answered()
    views = (body.views["left"], body.views["left_head"])
    said = view_words(exam, DOG, views, marks(exam, DOG))
    assert said.startswith("Drawing, left. Finding: Eyes, left. Answered: Nose; Mouth")
    assert "Open: Head and face; Ears, left; " in said
    assert "Ears, right" not in said


def test_a_part_is_named_with_its_side():
    assert key_words(answered(), DOG, "eyes.left") == "Eyes, left"
    assert key_words(answered(), DOG, "heart") == "Heart and pulses"


def test_what_no_view_shows_is_offered_beside_the_drawing():
    parts = [r.region_id for r in not_drawn(answered(), DOG, load_body("dog"))]
    assert parts[0] == "distance"
    assert "skin_coat" in parts
    assert "eyes" not in parts
