"""Vitals, counts and urgent answers, in a real browser."""

import time

import pytest

from exam_app.domain.measure.counting import FEWEST_TAPS
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.prepared import unlock


@pytest.fixture
def exam(tmp_path, run_app):
    """An app over one open technician exam of a dog."""
    return run_app(folder=prepare_exam(tmp_path / "exams"))


def test_a_refused_temperature_takes_two_taps_from_the_exam(phone, exam):
    unlock(phone, exam)
    phone.go(f"/exam/{EXAM_ID}")
    phone.wait("vital-temperature")
    phone.click("vital-temperature")
    phone.shot("vital-temperature-phone")
    phone.click("vital-reason-refused")
    phone.wait_text("vital-temperature", "refused")
    phone.gone("vital-typed")
    phone.shot("vital-refused-phone")


def test_pounds_and_ounces_on_the_pad_stay_as_typed_beside_kilograms(phone, exam):
    unlock(phone, exam)
    phone.go(f"/exam/{EXAM_ID}/vitals")
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
    laptop.go(f"/exam/{EXAM_ID}/vitals")
    laptop.click("vital-weight")
    laptop.type("vital-typed", "1020")
    laptop.press("Enter")
    laptop.wait_text("vital-asked", "Is 1020 kg right?")
    laptop.shot("vital-asked-laptop")
    laptop.click("vital-asked-yes")
    laptop.wait_text("vital-weight", "1020 kg")


@pytest.mark.chromium_only("it counts by the clock")
def test_a_fast_count_asks_for_another_and_keeps_both(phone, exam):
    unlock(phone, exam)
    phone.go(f"/exam/{EXAM_ID}/vitals")
    phone.click("vital-heart_rate")
    phone.click("vital-state-alert")
    phone.click("vital-other")
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


def tap_along(driver, taps, tap):
    """Tap each time the pad shows the tap before it."""
    driver.wait_text("tap-pad", "Tap each")
    for number in range(1, taps + 1):
        tap(number)
        left = FEWEST_TAPS - number
        shown = f"{left} more to go" if left > 0 else f"{number} taps, "
        driver.wait_text("tap-pad", shown)
        let_a_millisecond_pass()


def let_a_millisecond_pass():
    """Taps of one millisecond count as one touch, and this hand can be as fast."""
    at = time.monotonic_ns() // 1_000_000
    while time.monotonic_ns() // 1_000_000 == at:
        pass


def test_eight_taps_give_a_rate_with_its_spread_and_the_space_key_taps_too(
    laptop, exam
):
    unlock(laptop, exam)
    laptop.go(f"/exam/{EXAM_ID}/vitals")
    laptop.click("vital-respiratory_rate")
    laptop.click("vital-state-resting")
    laptop.click("vital-tap")

    def tap(number):
        if number % 2:
            laptop.click("tap-pad")
        else:
            laptop.press("Space")

    tap_along(laptop, 8, tap)
    laptop.shot("tap-pad-laptop")
    laptop.click("tap-use")
    keep_and_read(laptop, "vital-respiratory_rate", "between 8 taps")


def test_heart_rate_is_tapped_with_a_thumb_on_the_phone(phone, exam):
    unlock(phone, exam)
    phone.go(f"/exam/{EXAM_ID}/vitals")
    phone.click("vital-heart_rate")
    phone.click("vital-state-restrained or stressed")
    phone.click("vital-tap")
    tap_along(phone, 10, lambda _: phone.touch("tap-pad"))
    phone.shot("tap-pad-phone")
    phone.click("tap-use")
    keep_and_read(phone, "vital-heart_rate", "between 10 taps")


def keep_and_read(driver, vital_row, text):
    """Believe the rate that the machine's own pace of tapping gave.

    How fast a test taps is not known beforehand: the rate may be within every
    range, outside of one, or beyond what an animal can have.
    """
    asked = ("vital-asked-yes", "vital-keep-count", "vital-flag-seen")
    for _ in range(2):
        name = driver.any_of(*asked, vital_row)
        if name != vital_row:
            driver.click(name)
            driver.gone(name)
    driver.wait_text(vital_row, text)


def test_pulse_and_heart_counted_together_give_a_rate_and_their_difference(phone, exam):
    unlock(phone, exam)
    phone.go(f"/exam/{EXAM_ID}/vitals")
    phone.click("vital-pulse_rate")
    phone.click("vital-state-alert")
    phone.click("vital-other")
    phone.click("pulse-together")
    for key in ("pad-6", "pad-0"):
        phone.click(key)
    phone.wait_text("pulse-beats", "Beats heard: 60")
    phone.click("pulse-save")
    phone.wait_text("pulse-problem", "Type both counts")
    phone.click("pulse-pulses")
    for key in ("pad-5", "pad-2"):
        phone.click(key)
    phone.wait_text("pulse-pulses", "Pulses felt: 52")
    phone.shot("pulse-together-phone")
    phone.click("pulse-save")
    said = "60 beats, 52 pulses in 30 s: 8 beats without a pulse"
    phone.wait_text("vital-pulse_rate", "104/min")
    phone.wait_text("vital-pulse_rate", said)
    phone.go(f"/record/{EXAM_ID}")
    phone.wait("record-text")
    phone.read_down_to(said)
    phone.shot("pulse-record-phone")


def test_every_beat_felt_is_one_tap_and_goes_with_the_typed_pulse(phone, exam):
    unlock(phone, exam)
    phone.go(f"/exam/{EXAM_ID}/vitals")
    phone.click("vital-pulse_rate")
    phone.click("vital-other")
    phone.click("pulse-every-beat")
    phone.wait_text("pulse-said", "Kept with the rate")
    phone.shot("pulse-every-beat-phone")
    phone.click("sheet-close")
    phone.click("vital-state-resting")
    for key in ("pad-9", "pad-0"):
        phone.click(key)
    phone.click("vital-save")
    phone.wait_text("vital-pulse_rate", "A pulse was felt with every beat heard")


@pytest.mark.chromium_only("it counts by the clock")
def test_count_opened_from_the_review_returns_to_the_review(phone, exam):
    unlock(phone, exam)
    phone.go(f"/exam/{EXAM_ID}/review")
    phone.wait("review-status")
    phone.click("review-point-heart_rate")
    phone.click("vital-state-alert")
    phone.click("vital-count-10")
    phone.wait("count-use")
    for key in ("pad-1", "pad-5"):
        phone.click(key)
    phone.click("count-use")
    phone.wait("review-status")
    phone.gone("review-point-heart_rate")


def test_white_gums_stay_urgent_until_somebody_was_told(phone, exam):
    unlock(phone, exam)
    phone.go(f"/exam/{EXAM_ID}")
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


def test_fahrenheit_typed_as_celsius_is_one_tap_from_being_right(phone, exam):
    unlock(phone, exam)
    phone.go(f"/exam/{EXAM_ID}/vitals")
    phone.click("vital-temperature")
    phone.type("vital-typed", "101.3")
    phone.press("Enter")
    phone.wait_text("vital-asked", "Is 101.3 °C right?")
    phone.shot("vital-asked-unit-phone")
    phone.click("vital-asked-degF")
    phone.wait_text("vital-temperature", "101.3 °F (38.5 °C)")


def test_a_flag_is_two_lines_with_its_ranges_and_a_second_reading_makes_it_urgent(
    phone, exam
):
    unlock(phone, exam)
    phone.go(f"/exam/{EXAM_ID}/vitals")
    phone.click("vital-temperature")
    phone.type("vital-typed", "40.6")
    phone.press("Enter")
    phone.wait_text("vital-flag", "Outside: above all 3 published ranges")
    phone.shot("vital-flag-phone")
    phone.click("vital-flag-ranges")
    phone.wait("vital-flag-ranges")
    phone.shot("vital-flag-open-phone")
    phone.gone("urgent-banner")
    phone.click("vital-recount")
    phone.type("vital-typed", "40.6")
    phone.press("Enter")
    phone.click("vital-flag-seen")
    phone.wait("urgent-banner")
    phone.wait_text("vital-temperature", "above all 3 published ranges")
    phone.shot("vitals-flagged-phone")
