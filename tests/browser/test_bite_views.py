"""A bite and a warning of an open exam, found by a person on every view."""

import pytest

from exam_app.domain.exam.vitals import Setting
from tests.browser.driver import LAPTOP, PHONE
from tests.browser.exam_drafts import BRAMBLE, EXAM_ID, jump_to_head, prepare_exam
from tests.browser.prepared import unlock
from tests.browser.test_people import open_draft

BITE = "BITE OR SCRATCH: a neighbour"
WARNING = "CAN HURT YOU: Snaps when ears are touched"
ANIMAL = BRAMBLE.animal_id
EXAM = f"/exam/{EXAM_ID}"


@pytest.mark.parametrize(("size", "name"), [(PHONE, "phone"), (LAPTOP, "laptop")])
def test_bite_and_warning_of_an_open_exam_stand_on_every_view(
    tmp_path, run_app, open_page, size, name
):
    driver = open_page(size)
    folder = prepare_exam(tmp_path / "exams", setting=Setting.SHELTER)
    unlock(driver, run_app(folder=folder))
    open_draft(driver)
    driver.click("visit-dangers")
    driver.type("visit-field-dangers", "Snaps when ears are touched")
    driver.click("visit-save")
    driver.click("visit-bite")
    driver.type("bite-field-who-0", "a neighbour")
    driver.type("bite-field-when-0", "at noon")
    driver.click("bite-option-first_aid-0-0")
    driver.shot(f"bite-sheet-{name}")
    driver.click("bite-other")
    driver.type("bite-field-who-1", "a child")
    driver.shot(f"bite-sheet-second-{name}")
    driver.click("bite-save")
    driver.wait_text("bite-notice", BITE)
    driver.wait_text("handling-notice", WARNING)
    driver.shot(f"bite-exam-{name}")
    jump_to_head(driver)
    driver.scroll_to("region-ears-warning")
    driver.shot(f"bite-ears-{name}")
    for place in (f"{EXAM}/region/ears", f"{EXAM}/vitals", f"{EXAM}/review"):
        driver.go(place)
        driver.wait_text("handling-notice", WARNING)
        driver.wait_text("bite-notice", BITE)
    driver.go(f"{EXAM}/region/ears")
    driver.wait_text("region-ears-warning", WARNING)
    driver.shot(f"bite-part-{name}")
    for place, view in (
        ("/", "day"),
        ("/animals", "animals"),
        ("/kennel", "kennels"),
        ("/hand-over", "hand-over"),
    ):
        driver.go(place)
        driver.wait_text("screen", f"{BRAMBLE.name} · bite or scratch")
        driver.shot(f"bite-{view}-{name}")
    driver.go(f"/start/{ANIMAL}")
    driver.wait_text("bite-notice", BITE)
    driver.wait_text("start-cautions", "Snaps when ears are touched")
    driver.shot(f"bite-start-{name}")
    driver.go(f"/kennel/{ANIMAL}")
    driver.wait_text("kennel-card", "at noon")
    driver.shot(f"bite-card-{name}")
    # A later exam of the same animal begins with both.
    driver.go(f"/start/{ANIMAL}")
    driver.click("start-go")
    driver.wait("exam-progress")
    driver.wait_text("bite-notice", BITE)
    driver.wait_text("handling-notice", WARNING)
    driver.shot(f"bite-later-{name}")
