"""Many animals: a round sheet by keyboard and by thumb, a litter, a plan by place."""

import re

import pytest

from tests.browser.prepared import PIN, prepare_folder, unlock

# Places of the optional columns of sheep, as the sheet offers them.
BODY_CONDITION, LOCOMOTION = 1, 2


# A fast typist's time between two keys.
KEY_MS = 60


def begin_group(driver, species="sheep"):
    driver.click("day-new")
    driver.click("animal-add")
    driver.click("kind-group")
    driver.click(f"animal-add-{species}")
    driver.type("animal-name", "Ewes of the top field (demo)")
    driver.type("animal-place", "Top field (demo)")
    assert not driver.names("animal-chip")  # a group bears none
    driver.click("animal-save")
    driver.click("start-setting-farm")
    driver.click("start-go")
    for place in (BODY_CONDITION, LOCOMOTION):
        driver.click(f"round-column-{place}")
    driver.click("round-columns-done")
    driver.gone("sheet")
    driver.click("round-tag")


def type_row(driver, tag, cells):
    """Type one row by the keyboard alone; the cursor stands where it belongs."""
    focused(driver, "round-tag")
    driver.page.keyboard.type(tag, delay=KEY_MS)
    for identifier, text in cells:
        driver.press("Tab")
        focused(driver, identifier)
        driver.page.keyboard.type(text, delay=KEY_MS)


def next_animal(driver):
    """Go from the last cell to the button below it, and press it."""
    driver.press("Tab")
    driver.press("Enter")


def focused(driver, identifier):
    """Wait until a text field has the cursor."""
    driver.page.wait_for_function(
        """id => { const root = document.querySelector(
            '[flt-semantics-identifier="' + id + '"]');
            return root && root.contains(document.activeElement); }""",
        arg=identifier,
        timeout=20_000,
    )
    driver.frames(3)


CELLS = (
    ("round-cell-vital-body_condition", "3"),
    ("round-cell-vital-locomotion", "0"),
    ("round-cell-region-distance", "n"),
    ("round-cell-note", ""),
)


def close_rows(driver):
    driver.click("round-close")
    driver.type("round-pin", PIN)
    driver.press("Enter")


def walk(driver, folder, run_app, count):
    unlock(driver, run_app(folder=prepare_folder(folder)))
    begin_group(driver)
    for number in range(count - 1):
        type_row(driver, f"{number:04}", CELLS)
        next_animal(driver)
    lame = (CELLS[0], ("round-cell-vital-locomotion", "2"))
    found = ("round-cell-region-distance", "hangs back; lame left fore")
    type_row(driver, "0999", (*lame, found, ("round-cell-note", "look again")))
    next_animal(driver)
    driver.wait_text(
        "round-counts", f"{count} animals here: 0 closed, {count} finished"
    )
    driver.shot(f"round-{count}-laptop")


@pytest.mark.chromium_only("the focus moves by keys")
def test_a_round_by_keyboard_closes_what_is_finished_and_keeps_what_is_open(
    laptop, tmp_path, run_app
):
    walk(laptop, tmp_path / "exams", run_app, 3)
    type_row(laptop, "0500", (CELLS[0], (CELLS[1][0], "9")))
    laptop.press("Tab")
    laptop.wait_text("round-cell-vital-locomotion", "no such grade")
    laptop.shot("round-refused-laptop")
    close_rows(laptop)
    laptop.wait_text("round-said", "Closed and signed: 3. Still open: 1")
    laptop.shot("round-closed-laptop")
    laptop.click("sheet-close")
    laptop.wait_text("round-counts", "4 animals here: 3 closed, 0 finished, 1 open")
    laptop.go("/")
    laptop.wait_text("day-new", "Animals")
    laptop.shot("round-day-laptop")


@pytest.mark.chromium_only("the focus moves by keys")
def test_twenty_ewes_by_keyboard_only_become_twenty_records(laptop, tmp_path, run_app):
    walk(laptop, tmp_path / "exams", run_app, 20)
    close_rows(laptop)
    laptop.wait_text("round-counts", "20 animals here: 20 closed")
    laptop.click("round-more")
    laptop.click("group-facts")
    for name, typed in (("present", "24"), ("examined", "20"), ("affected", "1")):
        laptop.type(f"group-field-{name}", typed)
    laptop.click("group-pick-2")
    laptop.click("group-save")
    laptop.gone("sheet")
    laptop.click("round-more")
    laptop.click("round-open")
    laptop.click("region-distance-normal")
    laptop.click("exam-review")
    laptop.click("review-close")
    laptop.type("close-pin", PIN)
    laptop.press("Enter")
    laptop.read_down_to("How they were chosen: as they came")


@pytest.mark.chromium_only("sizes are measured")
def test_a_choice_that_is_ticked_keeps_its_size(phone, tmp_path, run_app):
    unlock(phone, run_app(folder=prepare_folder(tmp_path / "exams")))
    phone.go("/litter/new/cat")
    phone.wait("litter-save")
    name = "litter-sex-1-female"

    def size() -> tuple[int, int]:
        box = phone.find(name).first.bounding_box()
        return round(box["width"]), round(box["height"])

    phone.type("litter-name-1", "Ash (demo)")
    phone.frames(6)
    before = size()
    phone.click(name)
    phone.frames(6)
    assert size() == before


def test_a_litter_is_typed_once_and_planned_by_its_place(phone, tmp_path, run_app):
    unlock(phone, run_app(folder=prepare_folder(tmp_path / "exams")))
    phone.click("day-new")
    phone.click("animal-add")
    phone.click("kind-litter")
    phone.click("animal-add-cat")
    phone.type("litter-dam", "Tansy (demo)")
    phone.type("animal-place", "Nursery (demo)")
    phone.type("animal-age", "4")
    phone.type("litter-teeth", "milk incisors through, canines not")
    phone.type("litter-count", "14")
    phone.shot("litter-phone")
    phone.type("litter-name-1", "Ash (demo)")
    phone.click("litter-sex-1-female")
    phone.click("litter-save")
    phone.wait_text("plan-add", "Choose an animal")
    phone.shot("plan-phone")
    first = phone.named("plan-line-")
    phone.read_down_to("Ash (demo)")
    phone.read_down_to("Kitten 13")
    assert len(phone.names("plan-line-")) >= 4
    assert re.fullmatch(r"plan-line-[0-9a-f]{32}", first)
    phone.click(first)
    phone.wait("start-go")


def test_a_round_by_thumb_answers_with_buttons(phone, tmp_path, run_app):
    unlock(phone, run_app(folder=prepare_folder(tmp_path / "exams")))
    begin_group(phone)
    phone.type("round-tag", "0417")
    phone.click("round-begin")
    phone.shot("round-row-phone")
    phone.click("region-distance-normal")
    phone.click("vital-grade-3")
    phone.click("vital-grade-0")
    phone.shot("round-row-answered-phone")
    phone.click("round-next")
    phone.wait_text("round-counts", "1 animal here: 0 closed, 1 finished")
    phone.shot("round-phone")
