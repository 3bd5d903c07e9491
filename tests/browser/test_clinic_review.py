"""The clinic's review on a laptop: panes, single keys, one PIN for a sitting."""

import pytest

from exam_app.record.errors import BadSignatureError
from exam_app.ui.clinic import review as reading
from tests.browser.clinic_pages import DEMO_PIN, enter_clinic, read_it
from tests.browser.driver import LAPTOP, PHONE
from tests.browser.in_process import InProcessApp, InProcessDriver

DONE = "clinic-acknowledge-done"
# As people have it; other walks in this process do without.
UNREAD_SECONDS = reading.UNREAD_SECONDS


@pytest.fixture
def clinic(run_app, tmp_path, monkeypatch):
    """The demonstration's clinic, its throw-away files in the test's folder."""
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    return run_app("--demo", "--clinic")


@pytest.fixture
def review(clinic, open_page):
    """The review with the first record beside the list."""
    driver = open_page(LAPTOP)
    enter_clinic(driver, clinic.first_address())
    driver.go("/clinic/review")
    driver.wait("record-signed")
    return driver


def shown(driver):
    """What the record that is shown calls itself."""
    return driver.text("record-text")


def begin_sitting(driver):
    """Acknowledge the record that is shown, with the PIN that begins a sitting."""
    read_it(driver)
    driver.press("a")
    driver.type("clinic-pin", DEMO_PIN)
    driver.click("clinic-note-save")
    driver.gone("sheet")
    driver.wait(DONE)


def go_on(driver, key="j"):
    """Press a key that leads to another record, and wait until that one is shown."""
    before = shown(driver)
    driver.press(key)
    driver.until(lambda: shown(driver) != before, "another record")
    read_it(driver)


def test_keys_alone_read_and_acknowledge_under_one_pin(review):
    review.shot("clinic-panes-laptop")
    review.wait_text("clinic-reviewer", "Nobody reviews yet")
    begin_sitting(review)
    review.wait_text("clinic-reviewer", "You (demo), veterinarian, reviews here")
    for _ in range(2):
        go_on(review)
        review.gone(DONE)
        review.press("a")
        review.wait_text(DONE, "Acknowledged by You (demo)")
        review.gone("clinic-pin")
    review.shot("clinic-panes-acknowledged-laptop")


@pytest.mark.chromium_only("the browser's own cursor and keys")
def test_no_mouse_is_needed_from_the_pin_to_a_signed_note(review):
    def typed(text):
        review.page.wait_for_function(
            "() => ['INPUT', 'TEXTAREA'].includes(document.activeElement.tagName)"
        )
        review.page.keyboard.type(text)

    read_it(review)
    review.press("a")
    typed(DEMO_PIN)
    review.press("Enter")
    review.wait(DONE)
    go_on(review)
    review.press("n")
    typed("jar of a kind")
    review.press("Tab")
    review.press("Enter")
    review.wait_text("clinic-note-line-0", "jar of a kind")
    review.gone(DONE)
    review.press("s")
    typed("akron")
    review.wait_text("clinic-filter-all", "Show all")
    review.gone("sheet")
    review.gone(DONE)


def test_the_list_says_what_was_found_in_its_own_words_and_who_was_told(review):
    rows = "\n".join(map(review.text, review.names("clinic-row-")))
    assert "6 × 5 mm" in rows
    assert "Temperature 37.8 °C, below 4 of 5 published ranges" in rows
    assert "told Dr Maren Oakhollow 11:30" in rows


def test_a_key_pressed_twice_acknowledges_one_record_once(review, monkeypatch):
    monkeypatch.setattr(reading, "UNREAD_SECONDS", UNREAD_SECONDS)
    begin_sitting(review)
    go_on(review)
    review.press("a")
    review.press("a")
    review.press("a")
    review.wait(DONE)
    assert len(review.names("clinic-note-line-")) == 1
    # The next one comes up, and a finger that is still tapping does not sign it.
    review.press("j")
    review.press("a")
    read_it(review)
    review.gone(DONE)
    review.wait_text("clinic-acknowledge", "A  Acknowledge")


def test_a_key_typed_into_a_note_or_the_search_does_nothing_else(review):
    begin_sitting(review)
    go_on(review)
    before = shown(review)
    review.press("n")
    review.type("clinic-note-words", "a jar")
    for key in "ajkrn":
        review.press(key)
    assert review.value("clinic-note-words").startswith("a jar")
    review.press("Escape")
    review.gone("sheet")
    review.gone(DONE)
    assert shown(review) == before
    review.type("clinic-search", "zzz")
    for key in "ajkrn":
        review.press(key)
    review.gone("sheet")
    review.gone(DONE)
    assert shown(review) == before
    # What was typed in the note is still there.
    review.click("clinic-add-note")
    assert review.value("clinic-note-words").startswith("a jar")


def test_a_lock_ends_the_sitting_and_the_next_signature_asks_for_the_pin(review):
    begin_sitting(review)
    go_on(review)
    review.click("examiner")
    review.click("lock-now")
    review.type("lock-pin", DEMO_PIN)
    review.click("lock-open")
    review.wait_text("clinic-reviewer", "Nobody reviews yet")
    review.press("a")
    review.wait("clinic-pin")
    review.gone(DONE)


def test_leaving_the_review_ends_the_sitting(review):
    begin_sitting(review)
    review.go("/")
    review.wait("clinic-summary")
    review.go("/clinic/review")
    review.wait_text("clinic-reviewer", "Nobody reviews yet")


def test_a_recheck_begins_with_what_is_in_doubt_and_is_marked_in_the_list(review):
    begin_sitting(review)
    while "Dandelion" not in shown(review):
        go_on(review)
    review.press("r")
    review.wait_text("clinic-note-doubt-0", "Temperature: 37.8 °C, below 4 of 5")
    review.shot("clinic-recheck-laptop")
    review.click("clinic-note-doubt-0")
    review.press("Escape")
    review.gone("sheet")
    # What was chosen is still chosen, and asks for no PIN.
    review.click("clinic-recheck")
    review.wait("clinic-note-doubt-0")
    review.click("clinic-note-save")
    review.gone("sheet")
    review.wait_text("clinic-note-line-0", "Look again at: Temperature")
    review.wait_text(row_of(review, "Dandelion"), "Re-check asked for: Temperature")


def test_filters_and_the_search_leave_out_and_say_so(review):
    every = len(review.names("clinic-row-"))
    review.press("f")
    review.click("clinic-filter-kind-cat")
    review.shot("clinic-filter-laptop")
    review.press("Escape")
    review.gone("sheet")
    cats = len(review.names("clinic-row-"))
    assert 0 < cats < every
    review.read_down_to(f"{cats} of {every} shown: cat")
    review.type("clinic-search", "shoulder blades")
    review.read_down_to(f"1 of {every} shown: cat")
    review.click("clinic-filter-all")
    review.until(lambda: len(review.names("clinic-row-")) == every, "all shown")


def test_a_phone_shows_the_list_and_then_one_record(clinic, open_page):
    driver = open_page(PHONE)
    enter_clinic(driver, clinic.first_address())
    driver.go("/clinic/review")
    driver.wait("clinic-search")
    driver.shot("clinic-list-phone")
    driver.click(driver.named("clinic-row-"))
    driver.wait("record-signed")
    driver.gone("clinic-search")
    driver.shot("clinic-one-phone")


@pytest.mark.chromium_only("the width of a window")
def test_a_window_made_narrower_keeps_the_record_the_sitting_and_the_search(review):
    begin_sitting(review)
    review.type("clinic-search", "oakhollow")
    go_on_by_mouse(review, "Burdock")
    for width, size, recheck in (
        ("two", 1000, "R  Re-check"),
        ("one", 390, "Re-check"),
        ("three", 1280, "R  Ask for a re-check"),
    ):
        review.page.set_viewport_size({"width": size, "height": 800})
        review.wait_text("clinic-recheck", recheck)
        gone_or_there = review.gone if width == "one" else review.wait
        gone_or_there("clinic-search")
        review.shot(f"clinic-panes-{width}")
        review.wait_text("record-text", "Burdock")
        review.wait_text("clinic-reviewer", "You (demo), veterinarian, reviews here")
    assert review.value("clinic-search") == "oakhollow"
    assert len(review.names("clinic-row-")) == 3


def go_on_by_mouse(driver, animal):
    """Tap the row of an animal in the list."""
    driver.click(row_of(driver, animal))
    driver.wait_text("record-text", animal)


def row_of(driver, animal):
    """Wait for the row of an animal in the list, and give it."""
    found = []

    def is_listed():
        rows = driver.names("clinic-row-")
        found.extend(name for name in rows if animal in driver.text(name))
        return bool(found)

    driver.until(is_listed, f"{animal} in the list")
    return found[0]


def test_a_record_that_cannot_be_read_says_so_and_the_next_is_reached(
    tmp_path, monkeypatch
):
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    app = InProcessApp("--demo", "--clinic")
    driver = InProcessDriver(LAPTOP, [app])
    enter_clinic(driver, app.first_address())
    driver.go("/clinic/review")
    driver.wait("record-signed")
    read_page, is_broken = reading.read_page, True

    async def broken(*given):
        if is_broken:
            raise BadSignatureError
        return await read_page(*given)

    monkeypatch.setattr(reading, "read_page", broken)
    driver.press("j")
    driver.wait_text("clinic-unreadable", BadSignatureError.advice)
    read_it(driver)
    driver.press("a")
    driver.gone("sheet")
    is_broken = False
    driver.press("j")
    driver.wait("record-signed")
    driver.gone("clinic-unreadable")
    app.stop()
