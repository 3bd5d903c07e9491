"""Unlocking, locking, taking over and changing the examiner, in a real browser."""

import pytest

from tests.browser.driver import LAPTOP
from tests.browser.prepared import KIM, PASSPHRASE, PIN, unlock


def test_passphrase_opens_the_exams_and_a_wrong_one_says_so(phone, prepared):
    phone.open(prepared.first_address())
    phone.type("unlock-secret", "not the passphrase")
    phone.click("unlock-open")
    phone.wait_text("unlock-problem", "does not open these exams")
    phone.shot("unlock-wrong-phone")
    phone.type("unlock-secret", PASSPHRASE)
    phone.press("Enter")
    phone.wait("examiner")
    phone.shot("day-phone")


def test_mistyped_recovery_code_is_named_as_mistyped(phone, prepared):
    phone.open(prepared.first_address())
    phone.click("unlock-other-way")
    phone.type("unlock-secret", "AAAA-BBBB")
    phone.click("unlock-open")
    phone.wait_text("unlock-problem", "check characters do not fit")


@pytest.mark.chromium_only("a second process is refused")
def test_second_copy_of_the_app_is_refused_in_words(prepared, run_app, laptop):
    unlock(laptop, prepared)
    second = run_app(folder=prepared.folder, stderr=True)
    assert second.process.wait(timeout=30) == 1
    assert "another copy of the app" in second.complaint()


@pytest.mark.everyday_in_chromium
def test_short_lock_asks_for_the_pin_and_brings_the_screen_back_as_it_was(
    phone, prepared
):
    unlock(phone, prepared)
    phone.click("examiner")
    phone.click("settings-open")
    phone.click("settings-group-practice")
    phone.type("settings-practice", "half a na")
    phone.click("examiner")
    phone.shot("examiner-sheet-phone")
    phone.click("lock-now")
    phone.wait("lock-pin")
    phone.shot("lock-phone")
    phone.gone("settings-practice")
    phone.type("lock-pin", "0000")
    phone.click("lock-open")
    phone.wait_text("lock-pin", "does not fit")
    phone.type("lock-pin", PIN)
    phone.press("Enter")
    phone.gone("lock-pin")
    assert phone.value("settings-practice") == "half a na"


@pytest.mark.chromium_only("pixels are looked at")
def test_a_lock_covers_what_was_shown_on_all_of_a_wide_window(laptop, prepared):
    unlock(laptop, prepared)
    laptop.wait("day-new")
    # What the screen shows at its sides, to be told from an empty page.
    assert not laptop.is_plain(0, 300) or not laptop.is_plain(980, 1280)
    laptop.click("examiner")
    laptop.click("lock-now")
    laptop.wait("lock-pin")
    laptop.gone("sheet")
    laptop.shot("lock-laptop")
    laptop.until(lambda: laptop.is_plain(0, 300), "nothing shown at the left")
    laptop.until(lambda: laptop.is_plain(980, 1280), "nothing shown at the right")


def test_five_wrong_pins_ask_for_the_passphrase(phone, prepared):
    unlock(phone, prepared)
    phone.click("examiner")
    phone.click("lock-now")
    for _ in range(5):
        phone.type("lock-pin", "0000")
        phone.press("Enter")
        phone.until(
            lambda: phone.has("refusal") or phone.is_empty("lock-pin"), "answered"
        )
    phone.wait_text("refusal", "Five wrong PINs")
    phone.click("refusal-close")
    phone.type("unlock-secret", PASSPHRASE)
    phone.press("Enter")
    phone.wait("examiner")


def test_second_tab_takes_over_with_the_passphrase_and_locks_the_first(
    laptop, prepared, open_page
):
    unlock(laptop, prepared)
    other = open_page(LAPTOP, like=laptop)
    other.open(prepared.new_address())
    other.wait_text("cover", "Open in another tab")
    other.shot("take-over-laptop")
    other.type("unlock-secret", "a wrong one")
    other.click("unlock-open")
    other.wait_text("unlock-problem", "does not open these exams")
    assert laptop.has("examiner")
    other.type("unlock-secret", PASSPHRASE)
    other.click("unlock-open")
    other.wait("examiner")
    laptop.to_front()
    laptop.wait_text("cover", "Open in another tab")
    laptop.gone("examiner")


def test_examiner_changes_in_two_taps_and_back_with_undo(phone, prepared):
    unlock(phone, prepared)
    phone.wait_text("examiner", "AR")
    phone.click("examiner")
    phone.click(f"person-{KIM}")
    phone.wait_text("examiner", "KS")
    phone.wait_text("told", "Kim Sorrel examines now")
    phone.shot("told-phone")
    phone.click("told-undo")
    phone.wait_text("examiner", "AR")


@pytest.mark.chromium_only("a page is loaded anew")
def test_reload_of_the_page_does_not_show_exams_without_pin_or_same_session(
    laptop, prepared
):
    unlock(laptop, prepared)
    laptop.page.reload()
    laptop.wake_semantics()
    laptop.page.wait_for_function(
        """() => document.querySelector('[flt-semantics-identifier="examiner"]')
          || document.querySelector('[flt-semantics-identifier="lock-pin"]')""",
        timeout=20_000,
    )
    if laptop.has("lock-pin"):
        laptop.type("lock-pin", PIN)
        laptop.press("Enter")
    laptop.wait("examiner")


@pytest.mark.chromium_only("it locks by the clock")
def test_idle_screen_locks_itself(phone, tmp_path, run_app, monkeypatch):
    from tests.browser.prepared import prepare_folder

    monkeypatch.setenv("TEST_LOCK_AFTER", "3")
    unlock(phone, run_app(folder=prepare_folder(tmp_path / "exams")))
    phone.wait("lock-pin")


@pytest.mark.chromium_only("the labels of the page come later")
def test_a_screen_reader_that_asks_late_still_types_the_passphrase(laptop, prepared):
    laptop.page.goto(prepared.first_address())
    laptop.page.locator("flt-semantics-placeholder").wait_for(state="attached")
    laptop.frames(120)
    laptop.wake_semantics()
    laptop.type("unlock-secret", PASSPHRASE)
    laptop.click("unlock-open")
    laptop.wait("examiner")
