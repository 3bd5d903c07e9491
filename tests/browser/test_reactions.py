"""How an animal answered to the hands, and a bite on a round, found by a person."""

import asyncio
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest

from exam_app.app.exam_sessions import now
from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.session import Session
from exam_app.domain.animal.groups import row_animal
from exam_app.domain.animal.signalment import Animal
from exam_app.domain.exam.visit import BiteHistory
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.protocols.loader import load_protocol
from exam_app.record.plain_form import to_plain
from exam_app.store.repositories.rows import open_projection
from tests.browser.cheap_app import CHEAP_COSTS
from tests.browser.driver import LAPTOP, PHONE
from tests.browser.exam_drafts import (
    BRAMBLE,
    EXAM_ID,
    STARTER,
    prepare_exam,
)
from tests.browser.prepared import PASSPHRASE, unlock
from tests.browser.test_people import open_draft

SNAPS = "Snaps when touched; pulls the head away and growls at whoever stands behind"
SIZES = [(PHONE, "phone"), (LAPTOP, "laptop")]
FLOCK = Animal("5" * 32, "Low field (demo)", "sheep", is_group=True, is_demo=True)
EWE = row_animal(FLOCK, "6" * 32, "0417")


@pytest.mark.parametrize(("size", "name"), SIZES)
def test_remark_that_it_snaps_stands_above_the_exam_and_at_the_part_in_the_next(
    tmp_path, run_app, open_page, size, name
):
    driver = open_page(size)
    unlock(driver, run_app(folder=prepare_exam(tmp_path / "exams")))
    open_draft(driver)
    driver.click("exam-jump-head")
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
    driver.click("exam-jump-head")
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
    driver.scroll_to("visit-option-washed-0")
    driver.wait_text("sheet", "You, who examine")
    driver.click("visit-option-washed-0")
    driver.click("visit-save")
    driver.wait_text("sheet", "Say where it bit or scratched you")
    driver.shot(f"bite-nobody-{name}")
    driver.type("visit-field-examiner_bitten", "left thumb")
    driver.click("visit-save")
    driver.gone("sheet")
    driver.wait_text("visit-bite", "left thumb")


def prepare_round(folder):
    """Make a store with an open round of one ewe that bit somebody."""
    loaded = load_protocol("sheep")
    prepare_exam(folder, Scope.GROUP, animal=FLOCK, setting=Setting.FARM)

    async def fill():
        session = Session(folder, CHEAP_COSTS.derivation, CHEAP_COSTS.bounds)
        await session.open_with_passphrase(PASSPHRASE)
        order = ExamOrder(EWE, Scope.GROUP, Setting.FARM)
        begun = begin_exam(
            order, loaded.protocol, loaded.content_hash, STARTER, "9" * 32, now()
        )
        exam = replace(begun, group_exam=EXAM_ID, bite=BiteHistory("a helper"))
        with session.vault.transaction():
            session.vault.animals.put(to_plain(EWE))
            shown = open_projection(exam, loaded.protocol, now())
            session.vault.drafts.put(exam.exam_id, to_plain(exam), shown)
            session.vault.settings.put("round_columns:sheep", [])
        session.close()

    with ThreadPoolExecutor(1) as pool:
        pool.submit(lambda: asyncio.run(fill())).result()
    return folder


@pytest.mark.parametrize(("size", "name"), SIZES)
def test_bite_of_one_animal_stands_on_its_row_of_the_round(
    tmp_path, run_app, open_page, size, name
):
    driver = open_page(size)
    unlock(driver, run_app(folder=prepare_round(tmp_path / "exams")))
    driver.go(f"/round/{EXAM_ID}")
    driver.wait("round-counts")
    row = f"round-row-{EWE.name.replace(' ', '-')}"
    driver.scroll_to(row)
    driver.wait_text(row, f"{EWE.name} · bite or scratch")
    driver.shot(f"bite-round-{name}")
