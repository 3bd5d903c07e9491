"""The drawing as a way in: a tap brings a part up, with the side that was meant."""

from math import ceil

import pytest

from exam_app.protocols.bodies import load_body
from exam_app.ui.region import body_sheet
from tests.browser.driver import LAPTOP, PHONE, SMALL
from tests.browser.exam_drafts import prepare_exam
from tests.browser.test_hand import begin

DOG = load_body("dog")


def tap_head(driver, size, key: str) -> None:
    """Tap a part of the head where it is drawn closer, below the whole animal."""
    side = key.rpartition(".")[2]
    views = DOG.views[side], DOG.views[f"{side}_head"]
    width = body_sheet.width_in(size["width"], size["height"], views)
    x, y = views[1].at_pixels(views[1].area(key).label, width)
    above = ceil(views[0].at_pixels((0, views[0].height), width)[1]) + body_sheet.GAP
    driver.touch_drawing(f"body-{side}", x, above + y)


@pytest.mark.parametrize(
    "size", [PHONE, SMALL, LAPTOP], ids=["phone", "small", "laptop"]
)
def test_a_tap_on_the_left_eye_offers_the_left_first_and_is_hatched_once_answered(
    size, tmp_path, run_app, open_page
):
    driver = open_page(size)
    begin(driver, prepare_exam(tmp_path / "exams"), run_app)
    driver.click("exam-body")
    driver.wait_text("body-left", "Open: ")
    assert "Answered" not in driver.text("body-left")
    tap_head(driver, size, "eyes.left")
    driver.gone("sheet")
    driver.wait_text("region-eyes.left-normal", "Eyes, left: no abnormality")
    # A tap on the drawing says where, and answers nothing.
    assert "0 of 31" in driver.text("exam-progress")
    driver.click("region-eyes.left-normal")
    driver.wait_text("region-eyes.left-state", "Left: No abnormality")
    driver.wait_text("region-eyes.right-normal", "Eyes, right: no abnormality")
    driver.click("exam-body")
    driver.wait_text("body-left", "Answered: Eyes, left. Open: ")
    driver.click("body-view-right")
    driver.wait("body-right")
    assert "Answered" not in driver.text("body-right")


def test_both_and_the_other_side_stay_beside_the_side_that_was_tapped(
    phone, tmp_path, run_app
):
    begin(phone, prepare_exam(tmp_path / "exams"), run_app)
    phone.click("exam-body")
    phone.click("body-view-right")
    phone.wait("body-right")
    tap_head(phone, PHONE, "ears.right")
    phone.wait_text("region-ears.right-normal", "Ears, right: no abnormality")
    phone.click("region-ears-normal")
    phone.wait_text("region-ears.left-state", "Both: no abnormality")


def test_the_drawing_left_by_escape_leaves_everything_as_it_was(
    phone, tmp_path, run_app
):
    begin(phone, prepare_exam(tmp_path / "exams"), run_app)
    phone.click("exam-body")
    phone.wait("body-left")
    phone.press("Escape")
    phone.gone("sheet")
    phone.wait_text("region-distance-normal", "From a distance")
    assert "0 of 31" in phone.text("exam-progress")


def test_with_gloves_the_side_that_was_tapped_stands_beside_both(
    phone, tmp_path, run_app
):
    begin(phone, prepare_exam(tmp_path / "exams"), run_app)
    phone.click("exam-more")
    phone.click("exam-gloves")
    phone.click("exam-body")
    phone.wait("body-left")
    tap_head(phone, PHONE, "eyes.left")
    phone.wait_text("region-eyes.left-normal", "Eyes, left: no abnormality")
    phone.wait_text("region-eyes-normal", "Both")
    assert not phone.has("region-eyes.right-normal")


def test_every_part_and_side_is_reached_in_a_list_that_says_how_it_stands(
    phone, tmp_path, run_app
):
    begin(phone, prepare_exam(tmp_path / "exams"), run_app)
    phone.click("region-nose-normal")
    phone.wait_text("exam-progress", "1 of 31")
    phone.click("exam-body")
    phone.click("body-list")
    phone.wait_text("body-part-nose", "Nose: answered")
    phone.shot("body-list-phone")
    listed = phone.names("body-part-")
    # Each part on its own, each side of a pair too, in the order of the exam.
    assert listed[0] == "body-part-distance"
    assert len(listed) == 31
    assert listed.index("body-part-eyes.left") + 1 == listed.index(
        "body-part-eyes.right"
    )
    phone.click("body-part-eyes.right")
    phone.gone("sheet")
    phone.wait_text("region-eyes.right-normal", "Eyes, right: no abnormality")
    phone.click("exam-body")
    phone.wait("body-left")
