"""By keyboard a row of a round is begun and ended once a tap, and keeps each letter."""

import asyncio

import pytest

from exam_app.app import exam_view, round_exams
from tests.browser.driver import LAPTOP
from tests.browser.exam_drafts import EXAM_ID, prepare_flock
from tests.browser.in_process import unlocked

CONDITION = "vital-body_condition"


@pytest.fixture
def round_sheet(tmp_path):
    with unlocked(prepare_flock(tmp_path / "exams"), LAPTOP) as driver:
        driver.go(f"/round/{EXAM_ID}")
        driver.wait("round-columns-done")
        yield driver


class Held:
    """A step of a round that does not end before it is let go on.

    Attributes:
        calls: What it was given each time it was begun.
    """

    def __init__(self, monkeypatch, driver, step):
        self.driver, self.gate, self.calls = driver, asyncio.Event(), []
        done = getattr(round_exams, step)

        async def waits(*given):
            self.calls.append(given)
            await self.gate.wait()
            return await done(*given)

        monkeypatch.setattr(round_exams, step, waits)

    def goes_on(self):
        self.driver._do(self.gate.set)


def chosen(driver):
    """Answer which columns there are, body condition too."""
    driver.click("round-column-1")
    driver.click("round-columns-done")
    driver.gone("sheet")


def begin(driver):
    driver.type("round-tag", "0417")
    driver.click("round-begin")


def tap_before_the_row_is_stored(driver, monkeypatch, tag, button):
    """Type a tag and tap a button whose row the store is slow to begin."""
    begun = Held(monkeypatch, driver, "begin_row")
    driver.type("round-tag", tag)
    finger_on(driver, button)()
    begun.goes_on()
    driver.read_down_to(f"In hand: {tag}")


def value(driver, identifier):
    shown = driver._look(lambda: driver._entry_in(identifier, lambda _: True))
    return shown.control.get("value", "")


def leave_fields(driver):
    """Take the cursor out of every field, as a finger does that comes down beside."""
    driver._do(lambda: driver._client.focus(None))


def finger_on(driver, identifier):
    """Put a finger on a button; return what lifts it, whatever stands there then."""
    down = driver._look(lambda: driver._tappable(identifier))
    leave_fields(driver)
    return lambda: driver._do(lambda: driver._client.event(down.control, "click"))


@pytest.fixture
def settled(monkeypatch):
    """Let the time pass in which a second tap is one by mistake."""
    monkeypatch.setattr(exam_view, "GUARD_SECONDS", 0.0)


@pytest.fixture
def unsettled(monkeypatch):
    monkeypatch.setattr(exam_view, "GUARD_SECONDS", 60.0)


def test_sheet_of_columns_stays_until_they_are_stored(round_sheet, monkeypatch):
    stored = Held(monkeypatch, round_sheet, "keep_columns")
    round_sheet.click("round-columns-done")
    round_sheet.wait("sheet")
    stored.goes_on()
    round_sheet.gone("sheet")


def test_tag_typed_while_the_columns_are_stored_stays(round_sheet, monkeypatch):
    stored = Held(monkeypatch, round_sheet, "keep_columns")
    round_sheet.click("round-columns-done")
    if round_sheet.has("sheet"):
        round_sheet.click("sheet-close")
    round_sheet.type("round-tag", "0417")
    stored.goes_on()
    assert value(round_sheet, "round-tag") == "0417"
    round_sheet.click("round-begin")
    round_sheet.read_down_to("In hand: 0417")


def test_tag_typed_on_while_its_first_letters_begin_a_row_stays(
    round_sheet, monkeypatch
):
    chosen(round_sheet)
    begun = Held(monkeypatch, round_sheet, "begin_row")
    round_sheet.type("round-tag", "04")
    leave_fields(round_sheet)
    round_sheet.type("round-tag", "0417")
    begun.goes_on()
    assert value(round_sheet, "round-tag") == "0417"


@pytest.mark.usefixtures("settled")
def test_tap_that_begins_a_row_does_not_end_it_when_the_store_was_quicker(round_sheet):
    chosen(round_sheet)
    round_sheet.type("round-tag", "0417")
    lifted = finger_on(round_sheet, "round-begin")
    round_sheet.read_down_to("In hand: 0417")
    lifted()
    round_sheet.read_down_to("In hand: 0417")


@pytest.mark.usefixtures("settled")
def test_tap_that_begins_a_row_does_not_end_it_when_the_store_was_slower(
    round_sheet, monkeypatch
):
    chosen(round_sheet)
    tap_before_the_row_is_stored(round_sheet, monkeypatch, "0417", "round-begin")


@pytest.mark.usefixtures("unsettled")
def test_second_tap_in_the_place_of_the_first_ends_nothing(round_sheet):
    chosen(round_sheet)
    begin(round_sheet)
    round_sheet.click("round-next")
    round_sheet.read_down_to("In hand: 0417")


@pytest.mark.usefixtures("settled")
def test_tap_that_ends_a_row_ends_no_other_that_was_begun_by_it(
    round_sheet, monkeypatch
):
    chosen(round_sheet)
    begin(round_sheet)
    tap_before_the_row_is_stored(round_sheet, monkeypatch, "0418", "round-next")


@pytest.mark.usefixtures("settled")
def test_row_that_is_done_asks_for_the_next_tag(round_sheet):
    chosen(round_sheet)
    begin(round_sheet)
    round_sheet.type(f"round-cell-{CONDITION}", "3")
    round_sheet.click("round-next")
    round_sheet.read_down_to("Next animal")
    assert value(round_sheet, "round-tag") == ""
    round_sheet.wait("round-begin")
