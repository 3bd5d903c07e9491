"""What is said of how a phone's browser keeps the exams."""

import pytest

from exam_app.app.maintenance.phone_words import day_words, room_facts, room_of
from exam_app.store.engine.files import Room, open_file
from tests.own_place import Place

LASTING = Room(is_lasting=True, used=41_300_000, most=2_041_300_000)
CLEARED = Room(is_lasting=False, used=41_300_000, most=41_000_000)


async def test_nothing_is_said_where_files_lie_in_the_systems_folders():
    assert await room_of(open_file) is None
    assert room_facts(None) == ()
    assert day_words(None, 5) == ""


async def test_a_place_of_its_own_is_asked():
    assert await room_of(Place(LASTING)) == LASTING


def test_exams_kept_for_good_are_said_to_be_so_and_a_phone_can_still_be_lost():
    told = dict(room_facts(LASTING))
    assert told["How long they are kept"].startswith("For good")
    assert "lost or broken phone" in told["How long they are kept"]
    assert told["Room in this browser"] == (
        "41.3 MB taken by the exams and the app itself; about 2.0 GB left, as it says."
    )


def test_exams_that_may_be_cleared_come_with_what_to_do_hand_over_first():
    told = dict(room_facts(CLEARED))
    words = told["How long they are kept"]
    assert words.startswith("Not for good")
    assert words.index("Hand over") < words.index("home screen")
    assert "about 1 kB left" in told["Room in this browser"]


def test_a_browser_that_does_not_answer_is_not_taken_as_keeping_anything():
    told = dict(room_facts(Room()))
    assert "does not say" in told["How long they are kept"]
    assert "Room in this browser" not in told
    assert day_words(Room(), 1)


@pytest.mark.parametrize(
    ("room", "only_here", "is_said"),
    [
        (CLEARED, 1, True),
        (CLEARED, 0, False),
        (LASTING, 9, False),
    ],
)
def test_the_day_list_warns_only_of_exams_here_that_may_be_cleared(
    room, only_here, is_said
):
    assert bool(day_words(room, only_here)) is is_said
