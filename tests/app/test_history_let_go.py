"""What was read of past records is let go of, and asked for again reads the same."""

import asyncio
from dataclasses import replace

import pytest

from exam_app.app.queries import history
from exam_app.app.queries.history import read_history
from tests.handover_places import animal, new_place, small_exam

MOST = 3


@pytest.fixture
def place(tmp_path, monkeypatch):
    """Ten animals with two records each, where three are kept read."""
    monkeypatch.setattr(history, "_MOST_KEPT", MOST)
    made = asyncio.run(new_place(tmp_path / "v", "Tablet", "field"))
    for number in range(10):
        of = animal(f"Animal {number}")
        for visit in ("first", "second"):
            made.close_exam(small_exam(f"{number} {visit}", of=of))
    yield made
    made.vault.close()


def test_no_more_is_kept_read_than_was_said_and_one_animals_own(place):
    for one in place.vault.animals.all():
        read = read_history(place.vault, one.animal_id, most=None)
        assert (len(read.history.exams), read.waiting, read.unread) == (2, 0, 0)
        assert len(history._read[place.vault]) <= MOST + 2


def test_a_history_longer_than_that_is_read_whole_part_by_part(place):
    long = animal("Long")
    for number in range(8):
        exam = small_exam(f"long {number}", of=long)
        place.close_exam(replace(exam, animal=long))
    for _ in range(8):
        read = read_history(place.vault, long.animal_id, most=1)
    assert (len(read.history.exams), read.waiting) == (8, 0)
