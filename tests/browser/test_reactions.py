"""How an animal answered to the hands, and a bite on a round, found by a person."""

from dataclasses import replace

import pytest

from exam_app.app.exam_sessions import now
from exam_app.domain.animal.groups import row_animal
from exam_app.domain.exam.visit import BiteHistory
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.record.plain_form import to_plain
from exam_app.store.repositories.rows import open_projection
from tests.browser.driver import LAPTOP, PHONE
from tests.browser.exam_drafts import (
    BRAMBLE,
    EXAM_ID,
    FLOCK,
    begun,
    jump_to_head,
    prepare_exam,
    prepare_flock,
)
from tests.browser.prepared import in_store, unlock
from tests.browser.test_people import open_draft

SNAPS = "Snaps when touched; pulls the head away and growls at whoever stands behind"
SIZES = [(PHONE, "phone"), (LAPTOP, "laptop")]
EWE = row_animal(FLOCK, "6" * 32, "0417")


@pytest.mark.parametrize(("size", "name"), SIZES)
def test_remark_that_it_snaps_stands_above_the_exam_and_at_the_part_in_the_next(
    tmp_path, run_app, open_page, size, name
):
    driver = open_page(size)
    unlock(driver, run_app(folder=prepare_exam(tmp_path / "exams")))
    open_draft(driver)
    jump_to_head(driver)
    driver.scroll_to("region-ears-more")
    driver.click("region-ears-more")
    driver.click("more-side-left")
    driver.click("more-choice-remark")
    driver.type("more-words", SNAPS)
    driver.click("more-words-save")
    driver.wait_text("handling-notice", "CAN HURT YOU: Ears, left: Snaps when touched")
    driver.shot(f"reaction-exam-{name}")
    driver.click("handling-notice")
    driver.wait_text("sheet", "stands behind")
    driver.shot(f"reaction-whole-{name}")
    driver.click("sheet-close")
    driver.gone("sheet")
    # The next exam of this animal, while the first is open.
    driver.go(f"/start/{BRAMBLE.animal_id}")
    driver.wait_text("start-cautions", "Ears, left: Snaps when touched")
    driver.shot(f"reaction-start-{name}")
    driver.click("start-go")
    driver.wait_text("handling-notice", "CAN HURT YOU: Ears, left: Snaps when touched")
    jump_to_head(driver)
    driver.scroll_to("region-ears-warning")
    driver.wait_text("region-ears-warning", "CAN HURT YOU: Snaps when touched")
    driver.shot(f"reaction-row-{name}")


@pytest.mark.parametrize(("size", "name"), SIZES)
def test_first_aid_that_names_nobody_is_asked_about_under_its_heading(
    tmp_path, run_app, open_page, size, name
):
    driver = open_page(size)
    unlock(driver, run_app(folder=prepare_exam(tmp_path / "exams")))
    open_draft(driver)
    driver.click("visit-bite")
    driver.wait_text("sheet", "Somebody else")
    driver.click("bite-own")
    driver.wait_text("sheet", "You, who examine")
    driver.scroll_to("bite-option-first_aid-0-own-0")
    driver.click("bite-option-first_aid-0-own-0")
    driver.click("bite-save")
    driver.wait_text("sheet", "Say where it bit or scratched you")
    driver.shot(f"bite-nobody-{name}")
    driver.type("bite-field-who-0-own", "left thumb")
    driver.click("bite-save")
    driver.gone("sheet")
    driver.wait_text("visit-bite", "left thumb")


def prepare_round(folder):
    """Make a store with an open round of one ewe that bit somebody."""

    def fill(vault):
        row, loaded = begun(EWE, Scope.GROUP, Setting.FARM, exam_id="9" * 32)
        exam = replace(row, group_exam=EXAM_ID, bite=BiteHistory("a helper"))
        with vault.transaction():
            vault.animals.put(to_plain(EWE))
            shown = open_projection(exam, loaded.protocol, now())
            vault.drafts.put(exam.exam_id, to_plain(exam), shown)
            vault.settings.put("round_columns:sheep", [])

    in_store(prepare_flock(folder), fill)
    return folder


@pytest.mark.parametrize(("size", "name"), SIZES)
def test_bite_of_one_animal_stands_on_its_row_of_the_round(
    tmp_path, run_app, open_page, size, name
):
    driver = open_page(size)
    unlock(driver, run_app(folder=prepare_round(tmp_path / "exams")))
    driver.go(f"/round/{EXAM_ID}")
    driver.wait("round-counts")
    if name == "phone":
        # What is not finished is in hand again, under the same warning.
        driver.wait_text("round-in-hand", f"{EWE.name} · bite or scratch")
        driver.shot("bite-in-hand-phone")
        driver.click("round-leave")
    row = f"round-row-{EWE.name.replace(' ', '-')}"
    driver.scroll_to(row)
    driver.wait_text(row, f"{EWE.name} · bite or scratch")
    driver.shot(f"bite-round-{name}")
