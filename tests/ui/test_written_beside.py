"""The written record beside a wide window's exam follows it, and is drawn once."""

import tempfile
from pathlib import Path

from tests.browser.cheap_app import as_environment_asks
from tests.browser.driver import LAPTOP
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.in_process import unlocked


def drawn(driver):
    """Give the control that shows the record now."""

    def look():
        every = driver._client.session.index.values()
        found = [c for c in every if getattr(c, "identifier", "") == "exam-written"]
        return {one.content._i for one in found}

    return driver._look(look)


def test_what_is_written_follows_an_answer_and_stays_one_control():
    with (
        tempfile.TemporaryDirectory() as folder,
        as_environment_asks(),
        unlocked(prepare_exam(Path(folder) / "exams"), LAPTOP) as driver,
    ):
        driver.go(f"/exam/{EXAM_ID}")
        driver.wait_text("exam-written", "UNEXAMINED")
        before = drawn(driver)
        assert "(technician): Ears" not in driver.text("exam-written")
        driver.bring_up("region-ears-normal")
        driver.click("region-ears-normal")
        driver.wait_text("exam-written", "(technician): Ears, left")
        assert drawn(driver) == before
