"""By thumb a round asks one question of one animal at a time, and ends at its tag."""

import pytest

from exam_app.app import exam_view
from tests.browser.exam_drafts import EXAM_ID, prepare_flock
from tests.browser.in_process import unlocked
from tests.ui.test_round_entry import Held

# What is asked beside the parts: body condition and locomotion.
COLUMNS = ("round-column-1", "round-column-2")


@pytest.fixture(autouse=True)
def settled(monkeypatch):
    """Let the time pass in which a second tap is one by mistake."""
    monkeypatch.setattr(exam_view, "GUARD_SECONDS", 0.0)


@pytest.fixture
def phone(tmp_path):
    with unlocked(prepare_flock(tmp_path / "exams")) as driver:
        driver.go(f"/round/{EXAM_ID}")
        for column in COLUMNS:
            driver.click(column)
        driver.click("round-columns-done")
        driver.gone("sheet")
        yield driver


def begin(driver, tag):
    driver.type("round-tag", tag)
    driver.click("round-begin")
    driver.read_down_to(f"In hand: {tag}")


def answer(driver):
    driver.click("region-distance-normal")
    driver.click("vital-grade-3")
    driver.click("vital-grade-0")


def editors(driver):
    """Give the exams of the rows that were begun."""
    return [e for e in driver.app.session.editors.values() if e.exam.group_exam]


def asked(driver):
    """Name what can be answered now."""
    names = (*driver.names("region-"), *driver.names("vital-grade-"))
    return {n for n in names if n.endswith("-normal") or "grade" in n}


def test_one_question_stands_at_a_time_and_the_next_comes_up_by_itself(phone):
    begin(phone, "0417")
    assert asked(phone) == {"region-distance-normal"}
    phone.click("region-distance-normal")
    conditions = asked(phone)
    assert "vital-grade-3" in conditions
    assert "region-distance-normal" not in conditions
    phone.click("vital-grade-3")
    assert asked(phone) != conditions
    phone.wait_text("vital-body_condition", "3")


def test_nothing_is_said_of_an_animal_before_its_own_tap(phone):
    begin(phone, "0417")
    answer(phone)
    phone.click("round-next")
    begin(phone, "0418")
    phone.wait_text("round-counts", "2 animals here: 0 closed, 1 finished, 1 open")
    assert asked(phone) == {"region-distance-normal"}
    assert not phone.has("region-distance-state")
    (second,) = [e for e in editors(phone) if e.exam.animal.tag == "0418"]
    assert not second.exam.vitals


def test_after_the_last_question_the_next_tag_is_asked_and_nothing_else(phone):
    begin(phone, "0417")
    assert not phone.has("round-tag")
    answer(phone)
    assert asked(phone) == set()
    phone.wait_text("round-tag", "Next tag or mark")
    phone.click("round-next")
    phone.read_down_to("Next animal")
    phone.wait_text("round-counts", "1 animal here: 0 closed, 1 finished, 0 open")


def test_next_tag_typed_with_enter_ends_one_row_and_begins_another(phone):
    begin(phone, "0417")
    answer(phone)
    phone.type("round-tag", "0418")
    phone.press("Enter")
    phone.read_down_to("In hand: 0418")
    phone.wait_text("round-counts", "2 animals here: 0 closed, 1 finished, 1 open")


def test_reader_that_typed_enter_finds_the_cursor_in_the_next_tag(phone):
    phone.type("round-tag", "0417")
    phone.press("Enter")
    answer(phone)
    phone.wait("round-next")
    phone.until(lambda: phone._client.focused is not None, "the tag has the cursor")
    entry = phone._entry("round-tag").control
    assert phone._client.focused == entry["_i"]


def test_thumb_that_tapped_begin_calls_up_no_keyboard(phone):
    begin(phone, "0417")
    answer(phone)
    phone.wait("round-next")
    assert phone._client.focused is None


def test_row_left_for_another_animal_stays_open_and_is_taken_up_again(phone):
    begin(phone, "0417")
    phone.click("region-distance-normal")
    phone.click("round-leave")
    phone.read_down_to("Next animal")
    phone.wait_text("round-row-0417", "OPEN: Body condition")
    phone.click("round-row-0417")
    phone.read_down_to("In hand: 0417")
    assert "vital-grade-3" in asked(phone)


def test_round_opened_again_goes_on_with_the_animal_that_is_not_finished(phone):
    begin(phone, "0417")
    phone.click("region-distance-normal")
    phone.go("/")
    phone.wait("day-new")
    phone.go(f"/round/{EXAM_ID}")
    phone.read_down_to("In hand: 0417")
    assert "vital-grade-3" in asked(phone)


def test_answer_is_corrected_at_its_line_and_the_end_comes_again(phone):
    begin(phone, "0417")
    answer(phone)
    phone.click("vital-body_condition")
    phone.gone("round-tag")
    phone.click("vital-grade-2")
    phone.wait("round-tag")
    phone.wait_text("vital-body_condition", "2")


def test_line_that_was_only_looked_at_leads_back_to_the_end(phone):
    begin(phone, "0417")
    answer(phone)
    phone.click("vital-body_condition")
    phone.click("exam-onward")
    phone.wait("round-next")
    phone.wait_text("vital-body_condition", "3")


def test_note_is_kept_with_the_animal_and_parked_until_it_is_saved(phone):
    begin(phone, "0417")
    phone.click("round-note")
    phone.type("round-note-words", "thin, watch")
    phone.click("sheet-close")
    phone.click("round-note")
    assert phone.value("round-note-words") == "thin, watch"
    phone.click("round-note-save")
    phone.gone("sheet")
    phone.wait_text("round-note", "thin, watch")


def test_tag_half_typed_survives_the_way_to_another_screen(phone):
    phone.type("round-tag", "04")
    phone.go("/")
    phone.wait("day-new")
    phone.go(f"/round/{EXAM_ID}")
    assert phone.value("round-tag") == "04"


def test_begin_without_a_tag_says_so_at_the_field(phone):
    phone.click("round-begin")
    phone.wait_text("round-tag", "Type the tag, or a mark the animal is known by.")


@pytest.mark.parametrize("first", ["button", "enter"])
def test_two_taps_begin_one_row_whichever_comes_first(phone, monkeypatch, first):
    begun = Held(monkeypatch, phone, "begin_row")
    phone.type("round-tag", "0417")
    down = phone._look(lambda: phone._tappable("round-begin"))
    if first == "enter":
        phone.press("Enter")
    phone._do(lambda: phone._client.event(down.control, "click"))
    phone._do(lambda: phone._client.event(down.control, "click"))
    begun.goes_on()
    phone.read_down_to("In hand: 0417")
    phone._do(lambda: phone._client.event(down.control, "click"))
    phone.read_down_to("In hand: 0417")
    assert [tag for _, _, tag, *_ in begun.calls] == ["0417"]


def test_second_tap_in_the_place_of_the_last_answer_puts_nothing_away(
    phone, monkeypatch
):
    begin(phone, "0417")
    phone.click("region-distance-normal")
    phone.click("vital-grade-3")
    phone.wait_text("vital-body_condition", "3")
    phone.wait("vital-grade-0")
    monkeypatch.setattr(exam_view, "GUARD_SECONDS", 60.0)
    (editor,) = editors(phone)
    editor.view.current.moved_at = 0.0
    phone.click("vital-grade-0")
    phone.click("round-next")
    phone.read_down_to("In hand: 0417")


def test_foot_has_one_row_and_the_rest_lies_behind_more(phone):
    assert phone.names("round-close") == ["round-close"]
    phone.wait("round-more")
    assert not phone.has("group-facts")
    begin(phone, "0417")
    phone.wait("exam-urgent")
    phone.click("round-more")
    for name in ("group-facts", "round-columns", "round-open", "round-whole"):
        phone.wait(name)
    phone.wait("round-close")


def test_urgent_find_of_a_ewe_is_answered_where_it_was_said(phone):
    begin(phone, "0417")
    phone.click("region-distance-finding")
    phone.click(phone.named("finding-term-down"))
    phone.click("finding-done")
    phone.wait("urgent-banner")
    phone.read_down_to("In hand: 0417")


def test_with_largest_text_the_animal_in_hand_has_its_row_to_itself(phone):
    phone.go("/settings/looks")
    phone.click("size-largest")
    phone.wait_text("saved", "Saved")
    phone.go(f"/round/{EXAM_ID}")
    phone.wait("round-counts")
    begin(phone, "DEMO 0103")
    # The way to another animal is a sign with its words spoken; counts wait.
    phone.wait_text("round-leave", "Another animal; this row stays open")
    assert not phone.has("round-counts")
    phone.click("round-leave")
    phone.wait("round-counts")
