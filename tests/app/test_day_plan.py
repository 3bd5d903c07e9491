"""The plan of a day: by place, in the order planned, with where each animal stands."""

from exam_app.app.queries.day_plan import NO_PLACE, Stop, by_place, left_words
from exam_app.app.view.round_presenter import address_of, round_line, without_rows
from exam_app.store.repositories.rows import ClosedExam, KnownAnimal, OpenExam

ANIMALS = {
    "a": KnownAnimal("a", "Ash (demo)", "horse", place="Low yard (demo)"),
    "b": KnownAnimal("b", "Birch (demo)", "cattle", place="Byre (demo)"),
    "c": KnownAnimal("c", "Cedar (demo)", "cat"),
    "d": KnownAnimal("d", "Dock (demo)", "horse", place="Low yard (demo)"),
}


def test_animals_stand_under_their_place_in_the_order_planned():
    found = by_place(["d", "b", "a", "c", "d"], ANIMALS, [], [])
    assert [place for place, _ in found] == ["Low yard (demo)", "Byre (demo)", NO_PLACE]
    assert [stop.animal_id for stop in found[0][1]] == ["d", "a"]


def test_each_animal_says_where_it_stands():
    drafts = [OpenExam("e1", "a")]
    closed = [
        ClosedExam(exam_id="e2", animal_id="b"),
        ClosedExam(exam_id="e0", animal_id="a"),
    ]
    found = dict(by_place(["a", "b", "c"], ANIMALS, drafts, closed))
    assert found["Low yard (demo)"][0].state == "open"
    assert found["Byre (demo)"][0] == Stop(
        "b", "Birch (demo)", "cattle", "closed", "e2"
    )
    assert found[NO_PLACE][0].state == "to do"


def test_an_animal_that_is_not_known_here_is_left_out():
    assert by_place(["x"], ANIMALS, [], []) == ()


def test_what_is_left_is_counted():
    closed = [ClosedExam(exam_id="e2", animal_id="b")]
    assert left_words(by_place(["a", "b"], ANIMALS, [], closed)) == (
        "1 of 2 planned still to close"
    )
    assert left_words(()) == ""


def test_the_animals_of_an_open_round_stand_under_their_group():
    drafts = [
        OpenExam("g", is_group=True),
        OpenExam("r1", group_exam="g"),
        OpenExam("r2", group_exam="g"),
        OpenExam("left", group_exam="closed-group"),
        OpenExam("one"),
    ]
    shown = without_rows(drafts)
    assert [row.exam_id for row in shown] == ["g", "left", "one"]
    assert round_line(drafts[0], drafts) == "round: 2 animals open"
    assert round_line(drafts[0], drafts[:2]) == "round: 1 animal open"
    assert round_line(drafts[4], drafts) == ""
    assert address_of(drafts[0]) == "/round/g"
    assert address_of(drafts[4]) == "/exam/one"
