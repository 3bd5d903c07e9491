"""Photographs of an exam: what they are of, what the record says, earlier ones."""

from dataclasses import replace

import pytest

from exam_app.domain.animal.body_marks import BodyMark, MarkView
from exam_app.domain.errors import (
    ExamClosedError,
    PhotographTwiceError,
    TooManyPhotographsError,
    UnknownItemError,
)
from exam_app.domain.exam.closing import continuation, stop_early
from exam_app.domain.exam.continued import combined
from exam_app.domain.exam.corrections import changes
from exam_app.domain.exam.exam import StopReason
from exam_app.domain.exam.finding_transitions import add_finding, remove_finding
from exam_app.domain.exam.findings import EarlierFinding, Finding
from exam_app.domain.exam.photographs import (
    MOST_PHOTOS,
    add_photo,
    change_photo,
    earlier_photos,
    mark_of,
    photo_of,
    photos_of_finding,
    remove_photo,
    settled_photos,
)
from exam_app.domain.exam.visit import Photo
from exam_app.domain.moments import Moment
from exam_app.domain.wording.photo_wording import photo_line, photo_words
from exam_app.domain.wording.written_record import write_record
from tests.exam_samples import BY, NOW, PROTOCOL, TECHNICIAN, new_exam

FOUND = Finding(
    "f1" * 16,
    "lump",
    BY,
    "nose_lump",
    side="left",
    mark=BodyMark(4, MarkView.LEFT, 300, 400),
)
SHOWN = Photo("a1" * 32, "the lump beside a ruler", finding_id=FOUND.finding_id)


def with_find():
    return add_finding(new_exam(), PROTOCOL, "nose", FOUND, "d" * 32)


def photographed(exam, *photos):
    for photo in photos:
        exam = add_photo(exam, PROTOCOL, photo)
    return exam


def closed(exam):
    return stop_early(exam, PROTOCOL, StopReason.ESCAPED, "over the fence", BY)


def test_a_photograph_of_a_finding_has_its_part_side_and_mark():
    exam = photographed(with_find(), replace(SHOWN, key="tail", side="right"))
    (kept,) = photos_of_finding(exam, FOUND.finding_id)
    assert (kept.key, kept.side) == ("nose", "left")
    assert mark_of(exam, kept) == FOUND.mark
    assert photo_words(exam, PROTOCOL, kept) == (
        "Nose: left, the lump beside a ruler, shows lump, mark 4, left view"
    )


def test_a_photograph_says_nothing_of_its_part_by_itself():
    before = new_exam()
    exam = photographed(before, Photo("a1" * 32, "muzzle", "nose"))
    assert (exam.regions, exam.urgent) == (before.regions, before.urgent)


def test_the_same_picture_stands_in_an_exam_once():
    exam = photographed(with_find(), SHOWN)
    with pytest.raises(PhotographTwiceError):
        add_photo(exam, PROTOCOL, replace(SHOWN, caption="again"))


def test_an_exam_has_a_bounded_number_of_photographs():
    exam = photographed(
        new_exam(), *(Photo(f"{n:064x}", "one") for n in range(MOST_PHOTOS))
    )
    with pytest.raises(TooManyPhotographsError):
        add_photo(exam, PROTOCOL, Photo("f" * 64))


@pytest.mark.parametrize(
    "photo",
    [
        Photo("a1" * 32, key="wing"),
        Photo("a1" * 32, key="nose.left"),
        Photo("a1" * 32, finding_id="e" * 32),
    ],
)
def test_a_photograph_of_nothing_known_is_refused(photo):
    with pytest.raises(UnknownItemError):
        add_photo(with_find(), PROTOCOL, photo)


def test_what_a_photograph_shows_is_said_otherwise_and_its_picture_stays():
    exam = photographed(with_find(), replace(SHOWN, width=9, size=5, attribution=BY))
    other = Photo(SHOWN.sha256, "the tail", "tail", width=1, size=1)
    changed = photo_of(change_photo(exam, PROTOCOL, other), SHOWN.sha256)
    assert changed == Photo(
        SHOWN.sha256, "the tail", "tail", width=9, size=5, attribution=BY
    )
    with pytest.raises(UnknownItemError):
        change_photo(exam, PROTOCOL, Photo("b" * 64))
    assert not remove_photo(exam, SHOWN.sha256).photos
    with pytest.raises(UnknownItemError):
        remove_photo(exam, "b" * 64)


def test_a_finding_taken_back_takes_no_photograph_with_it():
    exam = photographed(with_find(), SHOWN)
    exam = remove_finding(exam, PROTOCOL, "nose", FOUND.finding_id)
    (kept,) = settled_photos(exam)
    assert (kept.finding_id, kept.key, kept.side) == ("", "nose", "left")
    assert photo_words(exam, PROTOCOL, kept) == "Nose: left, the lump beside a ruler"


def test_a_photograph_never_says_another_side_than_its_finding():
    exam = photographed(with_find(), SHOWN)
    other = replace(FOUND, side="right", mark=None)
    exam = add_finding(exam, PROTOCOL, "nose", other, "d" * 32)
    assert photo_words(exam, PROTOCOL, exam.photos[0]).startswith("Nose: right, ")
    assert [one.side for one in settled_photos(exam)] == ["right"]
    text = write_record(exam, PROTOCOL).as_text()
    assert "Nose: right, the lump beside a ruler, shows lump (" in text


def test_a_closed_exam_takes_no_photograph_and_loses_none():
    exam = replace(with_find(), photos=(SHOWN,))
    exam = replace(exam, closing=object())
    for change in (
        lambda: add_photo(exam, PROTOCOL, Photo("b" * 64)),
        lambda: change_photo(exam, PROTOCOL, SHOWN),
        lambda: remove_photo(exam, SHOWN.sha256),
    ):
        with pytest.raises(ExamClosedError):
            change()


def test_the_record_says_who_took_it_when_and_which_picture_it_is():
    later = Moment(NOW.utc_ms + 60_000, NOW.offset_min)
    exam = replace(new_exam(), people=(TECHNICIAN,))
    photo = Photo(
        "a1" * 32,
        "both eyes",
        width=1_600,
        height=900,
        size=41_000,
        attribution=replace(BY, entered=later),
    )
    line = photo_line(exam, PROTOCOL, photo)
    assert line == (
        f"both eyes (taken {NOW.date_and_time()} by Ines Corvo (technician), added "
        f"{later.date_and_time()}, 1600 by 900 pixels, 41000 bytes, SHA-256 "
        "a1a1a1a1a1a1)"
    )
    text = write_record(photographed(exam, photo), PROTOCOL).as_text()
    # All times were noted at one offset, which the title says once.
    assert f"PHOTOGRAPHS\n- {line.replace(' +01:00', '')}" in text


def test_a_photograph_of_an_earlier_find_says_which_and_from_when():
    before = EarlierFinding(
        "e" * 32, "f2" * 16, "nose", "2026-01-02", "lump, 12 mm", mark=FOUND.mark
    )
    exam = replace(new_exam(), earlier=(before,))
    exam = photographed(exam, Photo("a1" * 32, "healed", finding_id="f2" * 16))
    assert photo_words(exam, PROTOCOL, exam.photos[0]) == (
        "Nose: healed, shows what was found on 2026-01-02: lump, 12 mm"
    )
    assert mark_of(exam, exam.photos[0]) == FOUND.mark


def days_later(exam, days, **more):
    started = Moment(NOW.utc_ms + days * 86_400_000, NOW.offset_min)
    return replace(exam, exam_id=f"{days:032x}", started=started, **more)


def test_earlier_photographs_are_of_the_same_find_however_many_records_lie_between():
    def exam(days, finding_id, same_as="", *photos):
        found = replace(FOUND, finding_id=finding_id, same_as=same_as)
        made = add_finding(new_exam(), PROTOCOL, "nose", found, "d" * 32)
        made = days_later(made, days)
        return photographed(made, *(replace(p, finding_id=finding_id) for p in photos))

    first = exam(1, "01" * 16, "", Photo("b1" * 32, "first"))
    between = exam(2, "02" * 16, "01" * 16)
    third = exam(3, "03" * 16, "02" * 16, Photo("b3" * 32, "third"))
    # Of the same number, and nobody said that it is the same.
    stranger = exam(4, "04" * 16, "", Photo("b4" * 32, "another lump"))
    now = exam(5, "05" * 16, "03" * 16, Photo("b5" * 32, "now"), Photo("b6" * 32))
    found = earlier_photos(now, now.photos[0], [first, stranger, now, third, between])
    assert [(one.exam_id, photo.caption) for one, photo in found] == [
        (third.exam_id, "third"),
        (first.exam_id, "first"),
    ]
    assert not earlier_photos(now, Photo("b7" * 32, "the whole animal"), [first])


def test_a_correction_says_which_photograph_was_added_or_described_anew():
    first = photographed(with_find(), SHOWN)
    other = change_photo(first, PROTOCOL, replace(SHOWN, caption="the lump, wet"))
    (change,) = changes(first, other, PROTOCOL)
    assert change.item == "Nose"
    assert "ruler" in change.was
    assert "wet" in change.now
    (added,) = changes(with_find(), first, PROTOCOL)
    assert (added.was, "ruler" in added.now) == ("", True)


def test_a_record_and_its_continuation_show_the_photographs_of_both():
    first = closed(photographed(with_find(), SHOWN))
    again = continuation(first, PROTOCOL, exam_id="9" * 32, starter=TECHNICIAN, now=NOW)
    later = photographed(again, Photo("b" * 64, "the tail", "tail"))
    view = combined(first, [later], PROTOCOL)
    assert [one.sha256[:2] for one in view.photos] == ["a1", "bb"]
