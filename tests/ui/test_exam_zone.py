"""What an answer leaves the control it is: a press before it, a release after it."""

import pytest

from exam_app.domain.protocol.protocol import Scope
from tests.browser.driver import LAPTOP, PHONE, SMALL
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.in_process import unlocked

SIZES = {"phone": PHONE, "small": SMALL, "laptop": LAPTOP}


def which(driver):
    """Which control is each key of the pad, and each that an exam always offers."""
    return driver._look(driver._keys)


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES)
def test_the_next_vitals_pad_has_the_same_keys(tmp_path, size):
    folder = prepare_exam(tmp_path / "exams", Scope.TECHNICIAN)
    with unlocked(folder, SIZES[size]) as driver:
        driver.go(f"/exam/{EXAM_ID}/vitals")
        driver.wait("pad-1")
        before = which(driver)
        driver.type("vital-typed", "12.5")
        driver.click("vital-save")
        driver.wait("vital-state-resting")
        after = which(driver)
        digits = {f"pad-{digit}" for digit in range(10)}
        assert digits < before.keys() & after.keys()
        # A rate has no fraction; the point's place stays.
        assert "pad-point" in before.keys() - after.keys()
        assert {key: after[key] for key in digits} == {k: before[k] for k in digits}
        driver.click("pad-8")
        driver.click("pad-0")
        assert driver.value("vital-typed") == "80"


def test_what_a_phone_always_offers_stays_from_a_part_to_a_part_and_to_a_vital(
    tmp_path,
):
    folder = prepare_exam(tmp_path / "exams", Scope.TECHNICIAN)
    with unlocked(folder, PHONE) as phone:
        phone.go(f"/exam/{EXAM_ID}")
        phone.wait("exam-progress")
        first = which(phone)
        assert first.keys() == {"exam-stop", "exam-urgent", "exam-zone"}
        phone.click("region-eyes-normal")
        assert which(phone) == first
        phone.go(f"/exam/{EXAM_ID}/vitals")
        phone.wait("pad-1")
        first = which(phone)
        phone.type("vital-typed", "12.5")
        phone.click("vital-save")
        now = which(phone)
        assert (now["exam-stop"], now["exam-urgent"]) == (
            first["exam-stop"],
            first["exam-urgent"],
        )


def test_once_a_key_leads_the_pad_is_made_of_buttons_that_take_the_focus(tmp_path):
    folder = prepare_exam(tmp_path / "exams", Scope.TECHNICIAN)
    with unlocked(folder, PHONE) as driver:
        driver.go(f"/exam/{EXAM_ID}/vitals")
        driver.wait("pad-1")
        still = which(driver)
        driver.press("Tab")
        named = which(driver)
        assert not set(still.values()) & {named["pad-1"], named["pad-point"]}
        driver.click("pad-3")
        driver.click("pad-point")
        assert driver.value("vital-typed") == "3."
