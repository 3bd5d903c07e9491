"""A new animal: what was searched goes on, no name is needed, one is as the last."""

import pytest

from tests.browser.driver import PHONE
from tests.browser.prepared import unlock


def begin(driver, scope="technician"):
    driver.wait("start-go")
    driver.click(f"start-scope-{scope}")
    driver.click("start-go")
    driver.wait("exam-progress")


def test_a_stray_without_a_name_is_started_and_the_next_is_called_otherwise(
    prepared, open_page
):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    for name in ("No name yet", "No name yet 2"):
        driver.go("/animals")
        driver.click("animal-add")
        driver.click("animal-add-dog")
        driver.click("animal-nameless")
        driver.wait("start-go")
        driver.wait_text("screen", name)
    assert "No name yet 2" in driver.text("screen")


def test_what_was_searched_in_vain_stands_in_the_form(prepared, open_page):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    driver.go("/animals")
    driver.type("animal-search", "siamese cat")
    driver.click("animal-add")
    driver.wait("animal-add-cat")
    assert not driver.has("animal-add-dog")
    driver.click("animal-add-cat")
    driver.wait("animal-breed")
    assert driver.value("animal-breed") == "siamese"
    driver.go("/animals")
    driver.type("animal-search", "Bella")
    driver.click("animal-add")
    driver.click("animal-add-dog")
    driver.wait("animal-name")
    assert driver.value("animal-name") == "Bella"


def test_the_next_intake_is_like_the_last_one_and_says_what_it_took_over(
    prepared, open_page
):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    driver.go("/animal/new/cat")
    driver.type("animal-place", "Cats 2")
    driver.click("animal-nameless")
    begin(driver, "intake")
    driver.go("/animals")
    driver.click("animal-add")
    driver.wait_text("animal-same", "cat, Cats 2, intake look-over")
    driver.click("animal-same")
    driver.wait_text("animal-carried", "cat, Cats 2, intake look-over")
    assert driver.value("animal-place") == "Cats 2"
    assert driver.is_empty("animal-name")
    driver.click("animal-nameless")
    driver.wait("start-go")
    driver.click("start-go")
    driver.wait("exam-progress")
    assert "Intake look-over" in driver.text("screen")
    assert "Shelter" in driver.text("screen")


def test_a_sex_that_is_not_known_is_asked_before_the_exam(prepared, open_page):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    driver.go("/animal/new/dog")
    driver.click("animal-nameless")
    driver.wait("start-sex-female")
    driver.click("start-sex-female")
    begin(driver)
    driver.go("/animals")
    driver.wait_text("screen", "dog · female")


def begun_and_found_again(prepared, open_page):
    """Begin an exam of a new dog, and come to its start page once more."""
    driver = open_page(PHONE)
    unlock(driver, prepared)
    driver.go("/animal/new/dog")
    driver.type("animal-name", "Moss Demo")
    driver.click("animal-save")
    begin(driver)
    driver.go("/animals")
    driver.type("animal-search", "Moss")
    driver.press("Enter")
    driver.wait("start-go")
    return driver


def test_an_open_exam_is_told_of_before_another_one_is_begun(prepared, open_page):
    driver = begun_and_found_again(prepared, open_page)
    line = driver.named("animal-draft-")
    assert driver.names("animal-draft-") == [line]
    assert "Go on with it" in driver.text(line)
    driver.click(line)
    driver.wait("exam-progress")


def test_an_exam_begun_by_mistake_is_discarded_after_one_question_and_comes_back(
    prepared, open_page
):
    driver = begun_and_found_again(prepared, open_page)
    ask = driver.named("discard-")
    assert driver.names("discard-") == [ask]
    driver.click(ask)
    driver.wait_text("discard-held", "Nothing is answered in it yet.")
    driver.click("discard-confirm")
    driver.wait("day-new")
    assert not driver.names("day-draft-")
    driver.go("/records")
    driver.click("discarded-open")
    driver.wait_text("sheet", "A tap puts one back")
    (line,) = [name for name in driver.names("discarded-") if "open" not in name]
    assert "by Alex Rowan" in driver.text(line)
    driver.click(line)
    driver.wait("exam-progress")


def test_an_exam_begun_by_mistake_is_discarded_from_where_it_would_be_stopped(
    prepared, open_page
):
    driver = open_page(PHONE)
    unlock(driver, prepared)
    driver.go("/animal/new/dog")
    driver.click("animal-nameless")
    begin(driver)
    driver.click("exam-stop")
    driver.click("stop-discard")
    driver.click("discard-confirm")
    driver.wait("day-new")
    assert not driver.names("day-draft-")


@pytest.mark.chromium_only("places are measured")
def test_nothing_in_the_animals_form_moves_when_a_choice_is_made(prepared, open_page):
    driver = open_page({"width": 390, "height": 1600})
    unlock(driver, prepared)
    driver.go("/animal/new/dog")
    driver.wait("owner-name")

    def places():
        shown = [*driver.names("animal-"), "owner-name"]
        return {name: driver.find(name).first.bounding_box() for name in shown}

    before = places()
    for choice in ("sex-female", "sex-male, neutered", "age-basis-birth date"):
        driver.click(f"animal-{choice}")
        driver.until(lambda: bool(driver.names("animal-sex-")), "the form")
    driver.wait("animal-birth")
    driver.click("animal-age-basis-as told")
    driver.wait("animal-age-unit-years")
    driver.click("animal-age-unit-weeks")
    after = places()
    assert {name: after[name] for name in before} == before
