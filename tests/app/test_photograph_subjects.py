"""What a photograph is proposed to show, and how many there are of something."""

from dataclasses import replace

from exam_app.app.typed_entries import PICTURE, Unsaved
from exam_app.app.view.photograph_subjects import (
    WHOLE,
    Subject,
    photos_of,
    proposed_caption,
    same_find_words,
    subject_words,
)
from exam_app.app.view.region_presenter import answer_of, answered_words
from exam_app.app.view.review_presenter import unsaved_text
from exam_app.domain.animal.body_marks import BodyMark, MarkView
from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import EarlierFinding, Finding
from exam_app.domain.exam.photographs import add_photo
from exam_app.domain.moments import Moment
from exam_app.domain.wording.photo_wording import photo_line, photo_words
from tests.exam_samples import BY, PROTOCOL, new_exam

MARK = BodyMark(4, MarkView.LEFT, 300, 400)
FOUND = Finding("f1" * 16, "Lump", BY, "nose_lump", mark=MARK)
OF_FIND, OF_PART = Subject("nose", FOUND.finding_id), Subject("nose")


def with_photographs():
    """One of the find, one of its part, one of the whole animal."""
    exam = add_finding(new_exam(), PROTOCOL, "nose", FOUND, "d" * 32)
    for number, subject in enumerate((OF_FIND, OF_PART, WHOLE)):
        caption = proposed_caption(exam, PROTOCOL, subject) or "standing"
        photo = replace(
            subject.shows(caption), sha256=f"{number + 1:064x}", attribution=BY
        )
        exam = add_photo(exam, PROTOCOL, photo)
    return exam


def test_an_earlier_find_is_photographed_and_its_old_size_is_not_proposed():
    before = EarlierFinding(
        "9" * 32, "8" * 32, "nose", "2026-01-20", "Lump, left, 22 mm", mark=MARK
    )
    exam, subject = replace(new_exam(), earlier=(before,)), Subject("nose", "8" * 32)
    assert proposed_caption(exam, PROTOCOL, subject) == "Lump"
    assert subject_words(exam, PROTOCOL, subject) == "Nose: Lump, mark 4, left view"
    photo = replace(subject.shows("Lump"), sha256="a" * 64, attribution=BY)
    exam = add_photo(exam, PROTOCOL, photo)
    answer = answer_of(exam, PROTOCOL, "nose", exam.entry("nose"))
    assert answer.lines == ("1 photograph",)
    assert "shows what was found on 2026-01-20: Lump, left, 22 mm" in photo_words(
        exam, PROTOCOL, exam.photos[0]
    )


def test_words_are_proposed_from_the_find_or_the_part_and_never_for_the_whole():
    exam = with_photographs()
    assert proposed_caption(exam, PROTOCOL, OF_FIND) == "Lump"
    assert proposed_caption(exam, PROTOCOL, OF_PART) == "Nose"
    assert proposed_caption(exam, PROTOCOL, WHOLE) == ""
    assert subject_words(exam, PROTOCOL, OF_FIND) == "Nose: Lump, mark 4, left view"
    assert subject_words(exam, PROTOCOL, WHOLE) == exam.animal.name


def test_a_find_has_its_own_a_part_those_of_its_finds_too_and_the_exam_all():
    exam = with_photographs()
    counted = [len(photos_of(exam, one)) for one in (OF_FIND, OF_PART, WHOLE)]
    assert counted == [1, 2, 3]


def test_the_line_of_a_part_counts_each_photograph_once():
    exam = with_photographs()
    answer = answer_of(exam, PROTOCOL, "nose", exam.entry("nose"))
    assert answer.findings[0].text.endswith(", 1 photograph")
    assert answer.lines == ("1 photograph",)
    ((_, said),) = answered_words([answer])
    assert said.count("1 photograph") == 2


def test_proposed_words_are_not_said_twice_in_the_record():
    exam = with_photographs()
    said = [photo_words(exam, PROTOCOL, one) for one in exam.photos]
    assert said == ["Nose: Lump, mark 4, left view", "Nose", "standing"]
    other = replace(exam.photos[0], caption="red rim")
    words = photo_words(exam, PROTOCOL, other)
    assert words == "Nose: red rim, shows Lump, mark 4, left view"
    assert same_find_words(exam, other) == "Lump, mark 4, left view"


def test_the_record_says_taken_only_where_somebody_said_when():
    exam = with_photographs()
    first = exam.photos[0]
    assert f"(added {BY.entered.date_and_time()} by " in photo_line(
        exam, PROTOCOL, first
    )
    assert "taken" not in photo_line(exam, PROTOCOL, first)
    earlier = Moment(BY.entered.utc_ms - 3_600_000, BY.entered.offset_min)
    late = replace(first, attribution=replace(BY, observed=earlier))
    line = photo_line(exam, PROTOCOL, late)
    assert f"taken {earlier.date_and_time()} by " in line
    assert f"added {BY.entered.date_and_time()}" in line


def test_a_picture_that_was_not_saved_is_named_without_its_hash():
    words = {PICTURE: "a" * 64, "photo-caption": "red rim"}
    text = unsaved_text([Unsaved("Photograph of Nose", words)])
    assert "Photograph of Nose: a picture, “red rim”" in text
    assert "aaaa" not in text
