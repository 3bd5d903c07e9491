"""Grades belong to their scale and are never shown without it."""

from dataclasses import replace

import pytest

from exam_app.domain.errors import UnknownGradeError
from exam_app.domain.protocol.scales import (
    Grade,
    Graded,
    Scale,
    give_grade,
    scale_problems,
    show_grade,
)


def numbered(scale_id: str, label: str, first: int, last: int) -> Scale:
    grades = tuple(Grade(str(n), f"words of {n}") for n in range(first, last + 1))
    return Scale(scale_id, label, label.lower(), grades, "source", "read")


# Nine points for small animals (Laflamme), five for dairy cattle (Ferguson), 0 to 5
# for lameness of horses (AAEP): the ranges are theirs, the words here are not.
BODY_9 = numbered("body_9", "Body condition", 1, 9)
BODY_5 = numbered("body_5", "Body condition", 1, 5)
LAMENESS = numbered("lameness", "Lameness", 0, 5)
MUSCLE = Scale(
    "muscle",
    "Muscle condition",
    "Muscles",
    (Grade("normal", "normal"), Grade("mild", "slight loss")),
    "source",
    "memory",
)


def test_a_grade_keeps_its_scale_and_the_label_then_shown():
    assert give_grade(BODY_9, "7") == Graded("body_9", "7", "words of 7")


@pytest.mark.parametrize("value", ["0", "10", "5.5", "", " 7", "7/9", "mild"])
def test_a_grade_the_scale_does_not_have_is_refused(value):
    with pytest.raises(UnknownGradeError) as refusal:
        give_grade(BODY_9, value)
    assert str(refusal.value) == f"body_9 has no grade {value}"


def test_the_same_number_on_two_scales_is_shown_apart():
    nine, five = give_grade(BODY_9, "5"), give_grade(BODY_5, "5")
    assert show_grade(nine, BODY_9) == "Body condition 5/9: words of 5"
    assert show_grade(five, BODY_5) == "Body condition 5/5: words of 5"


def test_a_grade_is_not_shown_on_another_scale():
    with pytest.raises(UnknownGradeError):
        show_grade(give_grade(BODY_9, "5"), BODY_5)


def test_a_scale_from_zero_shows_both_ends():
    graded = give_grade(LAMENESS, "4")
    assert show_grade(graded, LAMENESS) == "Lameness 4 (0 to 5): words of 4"


def test_a_grade_in_words_is_shown_as_the_word_in_plain_words_on_request():
    assert show_grade(give_grade(MUSCLE, "mild"), MUSCLE, is_plain=True) == (
        "Muscles mild: slight loss"
    )
    assert show_grade(give_grade(MUSCLE, "normal"), MUSCLE) == (
        "Muscle condition normal"
    )


def test_a_grade_in_words_beside_numbers_leaves_them_their_ends():
    words = Grade("odd", "not like itself")
    mixed = replace(LAMENESS, grades=(*LAMENESS.grades, words))
    assert (
        show_grade(give_grade(mixed, "4"), mixed) == "Lameness 4 (0 to 5): words of 4"
    )
    assert show_grade(give_grade(mixed, "odd"), mixed) == (
        "Lameness odd: not like itself"
    )
    assert scale_problems(mixed) == ()
    first = replace(LAMENESS, grades=(words, *LAMENESS.grades))
    assert show_grade(give_grade(first, "4"), first) == "Lameness 4: words of 4"
    twisted = replace(mixed, grades=tuple(reversed(mixed.grades)))
    assert scale_problems(twisted) == ("the grades are not in order, lowest first",)


def test_a_grade_label_stays_as_given_when_the_protocol_changes_its_words():
    old = Graded("body_9", "7", "older words")
    assert show_grade(old, BODY_9) == "Body condition 7/9: older words"


def test_sound_scales_have_no_problems():
    assert [scale_problems(s) for s in (BODY_9, LAMENESS, MUSCLE)] == [(), (), ()]


@pytest.mark.parametrize(
    ("grades", "problem"),
    [
        ((Grade("1", "thin"),), "a scale has at least two grades"),
        ((Grade("1", "a"), Grade("1", "b")), "grade 1 appears more than once"),
        ((Grade("1", "a"), Grade("2", " ")), "grade 2 has no label"),
        ((Grade("", "a"), Grade("2", "b")), "a grade has no value"),
        (
            (Grade("2", "a"), Grade("1", "b")),
            "the grades are not in order, lowest first",
        ),
    ],
)
def test_a_faulty_scale_names_its_fault(grades, problem):
    faulty = Scale("s", "S", "s", grades, "source", "read")
    assert scale_problems(faulty) == (problem,)


def test_every_fault_of_a_scale_is_named_at_once():
    assert len(scale_problems(Scale("s", "S", "s", (Grade("", ""),), "x", "read"))) == 3
