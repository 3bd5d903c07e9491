"""What is wrong with a litter's or a group's numbers and names stands at its field."""

import pytest

from tests.browser.exam_drafts import EXAM_ID, prepare_flock
from tests.browser.in_process import unlocked


@pytest.fixture
def phone(tmp_path):
    with unlocked(prepare_flock(tmp_path / "exams")) as driver:
        yield driver


def animals(driver):
    return driver.app.session.vault.animals.search("")


@pytest.mark.slow
@pytest.mark.parametrize("typed", ["1", "31", "0", "-4", "some", ""])
def test_litter_of_no_possible_number_is_refused_at_how_many(phone, typed):
    before = len(animals(phone))
    phone.go("/litter/new/cat")
    phone.type("litter-count", typed)
    phone.click("litter-save")
    phone.wait_text("litter-count", "A litter is 2 to 30 animals. Nothing was stored.")
    assert "cannot all be right" not in phone.text("screen")
    assert len(animals(phone)) == before
    phone.type("litter-count", "3")
    assert "A litter is" not in phone.text("litter-count")
    phone.click("litter-save")
    phone.wait("plan-add")
    assert len(animals(phone)) == before + 3


def test_two_of_a_litter_with_one_name_are_refused_at_the_second(phone):
    before = len(animals(phone))
    phone.go("/litter/new/cat")
    phone.type("litter-name-1", "Ash (demo)")
    phone.type("litter-name-3", "ash (demo)")
    phone.click("litter-save")
    phone.wait_text("litter-name-3", "Number 1 is called ash (demo) too.")
    phone.wait_text("litter-name-3", "Give one of them another name")
    assert "is called" not in phone.text("litter-name-1")
    assert len(animals(phone)) == before
    assert phone.value("litter-name-3") == "ash (demo)"


def test_age_of_a_litter_that_is_no_number_is_refused_at_the_age(phone):
    phone.go("/litter/new/cat")
    phone.type("animal-age", "four")
    phone.click("litter-save")
    phone.wait_text("animal-age", "Type the age as a number, for example 3 or 2.5.")


def open_numbers(phone):
    """Take the columns of a round as they are, and open its group's numbers."""
    phone.click("round-columns-done")
    phone.click("round-more")
    phone.click("group-facts")


@pytest.mark.parametrize("name", ["examined", "affected"])
def test_more_of_a_group_than_are_present_are_refused_at_their_own_number(phone, name):
    phone.go(f"/round/{EXAM_ID}")
    open_numbers(phone)
    phone.type("group-field-present", "20")
    phone.type(f"group-field-{name}", "24")
    phone.click("group-save")
    words = f"More were {name} than were present. These numbers cannot all be right."
    phone.wait_text(f"group-field-{name}", words)
    assert "right" not in phone.text("group-field-present")


def test_number_of_a_group_that_is_none_is_refused_at_its_field(phone):
    phone.go(f"/round/{EXAM_ID}")
    open_numbers(phone)
    phone.type("group-field-dead", "two")
    phone.click("group-save")
    words = "Type a whole number, or leave it empty."
    phone.wait_text("group-field-dead", words)


def test_save_of_the_groups_numbers_stays_in_sight(phone):
    phone.go(f"/round/{EXAM_ID}")
    assert not any(c.get("scroll") for c in phone.around("round-columns-done"))
    open_numbers(phone)
    assert any(c.get("scroll") for c in phone.around("group-field-note"))
    assert not any(c.get("scroll") for c in phone.around("group-save"))
