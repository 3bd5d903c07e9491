"""A table in hand: what was said of it; nothing comes in that was not shown."""

import asyncio
from datetime import date

import pytest

from exam_app.app.animal_import import table_choice as module
from exam_app.app.animal_import.importing import imports_of
from exam_app.app.animal_import.table_choice import TableChoice, table_choice
from exam_app.record.plain_form import to_plain
from tests.exam_samples import NOW
from tests.handover_places import animal, new_place

TODAY = date(2026, 9, 21)
# Of the range for tests of ISO 11784.
CHIP = "999000000000001"
TABLE = f"name,species,chip\nSorrel,dog,{CHIP}\nTansy,dog,\n".encode()


@pytest.fixture
def place(tmp_path):
    made = asyncio.run(new_place(tmp_path / "v", "Tablet", "field", is_demo=False))
    yield made
    made.vault.close()


def chosen(place, content=TABLE):
    choice = TableChoice()
    choice.choose("list.csv", content)
    choice.plan_anew(place.vault, TODAY)
    return choice


def names(place):
    return sorted(one.name for one in place.vault.animals.all())


def test_what_was_shown_is_taken_in_and_the_table_is_put_away(place):
    choice = chosen(place)
    assert [one.animal.name for one in choice.taken] == ["Sorrel", "Tansy"]
    made = choice.take_in(place.vault, NOW)
    assert (made.count, made.file) == (2, "list.csv")
    assert names(place) == ["Sorrel", "Tansy"]
    assert (choice.file, choice.table, choice.taken) == ("", None, ())


def test_what_has_changed_since_it_was_shown_is_shown_again_and_not_taken_in(place):
    choice = chosen(place)
    came = to_plain(animal("Old Sorrel", is_demo=False))
    place.vault.animals.put({**came, "chip": CHIP})
    assert choice.take_in(place.vault, NOW) is None
    assert names(place) == ["Old Sorrel"]
    assert imports_of(place.vault) == ()
    # It is shown now, and taken in as it is shown.
    assert [one.planned.animal.name for one in choice.plan.alike] == ["Sorrel"]
    assert choice.take_in(place.vault, NOW).count == 1
    assert names(place) == ["Old Sorrel", "Tansy"]


def test_nothing_is_planned_while_something_is_to_be_said(place):
    choice = chosen(place, b"call,species\nSorrel,dog\n")
    assert choice.plan is None
    assert choice.take_in(place.vault, NOW) is None
    choice.take_column(place.vault, "call", "name")
    choice.plan_anew(place.vault, TODAY)
    assert [one.animal.name for one in choice.taken] == ["Sorrel"]


def test_a_column_is_one_field_at_a_time_and_a_field_one_column(place):
    choice = chosen(place, b"name,other,species\nSorrel,Tansy,dog\n")
    choice.take_column(place.vault, "other", "name")
    assert choice.matched(place.vault).columns["name"] == "other"
    choice.take_column(place.vault, "other", "colour")
    columns = choice.matched(place.vault).columns
    assert (columns.get("name"), columns["colour"]) == (None, "other")
    choice.take_column(place.vault, "name", "name")
    choice.take_column(place.vault, "other", "")
    assert choice.matched(place.vault).columns == {"name": "name", "species": "species"}


def test_a_foreign_word_keeps_its_place_once_it_was_said(place):
    choice = chosen(place, b"name,species,sex\nA,dog,m\nB,dog,f\nC,dog,M\nD,dog,male\n")
    assert choice.foreign_words(place.vault) == (("sex", "m", ""), ("sex", "f", ""))
    choice.say_word("sex", "m", "male")
    assert choice.foreign_words(place.vault) == (("sex", "m", "male"), ("sex", "f", ""))
    choice.plan_anew(place.vault, TODAY)
    assert [one.animal.name for one in choice.taken] == ["A", "C", "D"]


def test_a_file_that_is_too_large_or_none_says_so_and_keeps_no_table(
    place, monkeypatch
):
    monkeypatch.setattr(module, "LARGEST_FILE", len(TABLE) - 1)
    choice = chosen(place)
    assert "larger than can be taken in" in choice.problem
    monkeypatch.undo()
    for content in (b"", b"\xff\xfe\xff", b'a,"b\n', b"\n\n"):
        choice = chosen(place, content)
        assert choice.problem
        assert (choice.table, choice.plan, choice.taken) == (None, None, ())
        assert choice.lacking(place.vault) == ()


def test_the_table_in_hand_is_the_stores_own(place):
    table_choice(place.vault).choose("list.csv", TABLE)
    assert table_choice(place.vault).file == "list.csv"
