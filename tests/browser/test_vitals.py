"""Vitals, counts and urgent answers, in a real browser."""

import pytest

from tests.browser.exam_drafts import EXAM_ID, go, prepare_exam
from tests.browser.prepared import unlock


@pytest.fixture
def exam(tmp_path, run_app):
    """An app over one open technician exam of a dog."""
    return run_app(folder=prepare_exam(tmp_path / "exams"))


def test_a_refused_temperature_takes_two_taps_from_the_exam(phone, exam):
    unlock(phone, exam)
    go(phone, f"/exam/{EXAM_ID}")
    phone.wait("vital-temperature")
    phone.click("vital-temperature")
    phone.shot("vital-temperature-phone")
    phone.click("vital-reason-refused")
    phone.wait_text("vital-temperature", "refused")
    phone.gone("vital-typed")
    phone.shot("vital-refused-phone")


def test_pounds_and_ounces_on_the_pad_stay_as_typed_beside_kilograms(phone, exam):
    unlock(phone, exam)
    go(phone, f"/exam/{EXAM_ID}/vitals")
    phone.click("vital-weight")
    for key in ("vital-unit-lb", "pad-2", "pad-2", "pad-lb", "pad-9", "pad-oz"):
        phone.click(key)
    phone.shot("vital-weight-phone")
    phone.click("vital-save")
    # 22 lb 9 oz × 0.45359237 kg/lb = 10.23 kg.
    phone.wait_text("vital-weight", "22 lb 9 oz (10.23 kg)")
    phone.click("vital-weight")
    phone.wait("pad-oz")


def test_a_weight_that_cannot_be_is_asked_about_and_then_believed(laptop, exam):
    unlock(laptop, exam)
    go(laptop, f"/exam/{EXAM_ID}/vitals")
    laptop.click("vital-weight")
    laptop.type("vital-typed", "1020")
    laptop.press("Enter")
    laptop.wait_text("vital-asked", "Is 1020 kg right?")
    laptop.shot("vital-asked-laptop")
    laptop.click("vital-asked-yes")
    laptop.wait_text("vital-weight", "1020 kg")


def test_a_fast_count_asks_for_another_and_keeps_both(phone, exam):
    unlock(phone, exam)
    go(phone, f"/exam/{EXAM_ID}/vitals")
    phone.click("vital-heart_rate")
    phone.click("vital-state-alert")
    phone.click("vital-count-10")
    phone.wait("count-face")
    phone.shot("count-lead-in-phone")
    phone.wait("count-use")
    for key in ("pad-3", "pad-5"):
        phone.click(key)
    phone.wait_text("count-typed", "35 in 10 s × 6 = 210/min")
    phone.click("count-use")
    phone.wait("vital-recount")
    phone.shot("count-recount-phone")
    phone.click("vital-recount")
    phone.wait("count-use")
    for key in ("pad-1", "pad-5"):
        phone.click(key)
    phone.click("count-use")
    phone.wait_text("vital-heart_rate", "90/min")
    phone.wait_text("vital-heart_rate", "counted again")


def test_eight_taps_give_a_rate_with_its_spread_and_the_space_key_taps_too(
    laptop, exam
):
    unlock(laptop, exam)
    go(laptop, f"/exam/{EXAM_ID}/vitals")
    laptop.click("vital-respiratory_rate")
    laptop.click("vital-state-resting")
    laptop.click("vital-tap")
    laptop.wait("tap-pad")
    for _ in range(4):
        laptop.page.mouse.click(640, 400)
        laptop.page.wait_for_timeout(500)
    for _ in range(4):
        laptop.press("Space")
        laptop.page.wait_for_timeout(500)
    laptop.shot("tap-pad-laptop")
    laptop.click("tap-use")
    laptop.wait("vital-recount")
    # About two a second is far above any breathing rate at rest.
    laptop.click("vital-keep-count")
    laptop.wait_text("vital-respiratory_rate", "between 8 taps")


def test_white_gums_stay_urgent_until_somebody_was_told(phone, exam):
    unlock(phone, exam)
    go(phone, f"/exam/{EXAM_ID}")
    phone.wait("vital-temperature")
    phone.click("vital-mucous_membrane_colour")
    phone.click("vital-word-white")
    phone.wait("urgent-banner")
    phone.click("exam-review")
    phone.wait_text("urgent-banner", "Pale or white gums")
    phone.click("urgent-answer")
    phone.wait_text("urgent-clinic", "555 0123")
    phone.click("urgent-kind-told")
    phone.click("urgent-answer-save")
    phone.wait_text("refusal", "does not say who was told")
    phone.click("refusal-close")
    phone.click("urgent-whom-known-Kim Sorrel")
    phone.click("urgent-how-phone")
    phone.shot("urgent-told-phone")
    phone.click("urgent-answer-save")
    phone.wait("review-status")
    phone.gone("urgent-banner")
