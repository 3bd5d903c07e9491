"""The clinic's computer in a browser, filled by a real hand-over of invented exams."""

import re

import pytest

from exam_app.app.exam_sessions import now
from exam_app.crypto.door import new_agreement_key, new_signing_key, random_bytes
from exam_app.record.lineage import OwnKeys
from sync.transport.frames import DotSize, split
from sync.trust.cards import as_text, from_text
from sync.trust.pairing import answer
from tests.browser.clinic_pages import (
    DEMO_PIN,
    enter_clinic,
    read_it,
    stick_of,
    with_camera,
    words_of,
    write_film,
)
from tests.browser.codes import code_on
from tests.browser.driver import LAPTOP, PHONE
from tests.browser.phone_steps import in_view

SIZES = [
    pytest.param(LAPTOP, id="laptop", marks=pytest.mark.everyday_in_chromium),
    pytest.param(PHONE, id="phone"),
]


@pytest.fixture
def clinic(run_app, tmp_path, monkeypatch):
    """The demonstration's clinic, its throw-away files in the test's folder."""
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    return run_app("--demo", "--clinic")


def sign_with_pin(driver, pin=DEMO_PIN):
    driver.type("clinic-pin", pin)
    driver.click("clinic-note-save")


def count_in(heading):
    return int(re.search(r"\((\d+)\)", heading)[1])


@pytest.mark.parametrize("size", SIZES)
def test_the_missing_bundle_comes_by_stick_and_the_urgent_record_is_acknowledged(
    size, clinic, open_page
):
    name = "phone" if size == PHONE else "laptop"
    driver = open_page(size)
    enter_clinic(driver, clinic.first_address())
    driver.wait_text("clinic-notice-devices", "bundle 2 is missing")
    driver.shot(f"clinic-home-{name}")
    driver.click("clinic-receive")
    driver.wait("clinic-camera")
    driver.click("clinic-folder-look")
    driver.wait_text("clinic-folder-told", "1 new")
    driver.wait_text("clinic-receipt-code", "-")
    # Said above the page, however far down the folder stands.
    driver.wait_text("clinic-received", "Bundle 2 from Tablet 1 (demo)")
    driver.shot(f"clinic-received-{name}")
    driver.click(driver.named("clinic-receipt-done-"))
    driver.wait("clinic-receipt-picture")
    driver.shot(f"clinic-receipt-{name}")
    driver.go("/")
    driver.wait("clinic-summary")
    driver.gone("clinic-notice-devices")
    driver.click("clinic-review")
    driver.wait_text("clinic-summary-urgent", "Urgent (")
    urgent = count_in(driver.text("clinic-summary-urgent"))
    driver.shot(f"clinic-review-{name}")
    if size == PHONE:
        driver.click("clinic-read-next")
    driver.wait_text("record-signed", "the signature fits")
    read_it(driver)
    driver.shot(f"clinic-record-{name}")
    driver.click("clinic-acknowledge")
    sign_with_pin(driver, "9999")
    driver.wait_text("sheet", "This PIN does not fit")
    sign_with_pin(driver)
    driver.wait_text("clinic-acknowledge-done", "Acknowledged by You (demo)")
    driver.click("clinic-recheck")
    driver.wait_text("sheet", "Why it is to be looked at again")
    driver.click("clinic-note-undone-0")
    driver.type("clinic-note-words", "In two weeks, please.")
    # One PIN for all that is signed until the review is left.
    driver.gone("clinic-pin")
    driver.click("clinic-note-save")
    driver.wait_text("clinic-note-line-1", "Look again at: Weight")
    driver.go("/clinic/review")
    driver.wait_text("clinic-summary-urgent", f"Urgent ({urgent - 1})")
    driver.go("/clinic/day-pack")
    driver.click("clinic-pack-write")
    driver.wait_text("clinic-pack-done", "Only that device can open it")
    driver.shot(f"clinic-day-pack-{name}")


@pytest.mark.chromium_only("places are measured")
def test_what_was_received_is_in_sight_where_the_folder_was_looked_into(
    clinic, open_page
):
    driver = open_page(PHONE)
    enter_clinic(driver, clinic.first_address())
    driver.click("clinic-receive")
    driver.click("clinic-folder-look")
    driver.wait_text("clinic-received", "Bundle 2 from Tablet 1 (demo)")
    in_view(driver, "clinic-received")


@pytest.mark.chromium_only("a camera")
def test_codes_before_the_camera_are_read_live_and_imported(
    clinic, chromium, shots, tmp_path
):
    pytest.importorskip("zxingcpp")
    address, film = clinic.first_address(), tmp_path / "codes.mjpeg"
    sealed = stick_of(tmp_path).read_bytes()
    # Two codes are never seen; repair frames make up for them.
    write_film(film, sealed, lost=(0, 2))
    with with_camera(chromium, film, shots) as driver:
        enter_clinic(driver, address)
        driver.go("/clinic/receive")
        driver.click("clinic-camera")
        driver.wait("clinic-camera-stop")
        driver.wait_text("clinic-progress", "codes")
        driver.shot("clinic-camera-laptop")
        driver.wait_text("clinic-receipt-code", "-")
        driver.wait_text("clinic-progress", "complete")
        driver.click("clinic-camera-stop")
        driver.wait("clinic-camera")
        driver.go("/")
        driver.wait("clinic-summary")
        driver.gone("clinic-notice-devices")


@pytest.mark.parametrize("size", [LAPTOP, PHONE], ids=["laptop", "phone"])
def test_a_device_is_paired_by_pasted_text_once_a_person_compared_the_words(
    size, clinic, open_page
):
    pytest.importorskip("zxingcpp")
    name = "phone" if size == PHONE else "laptop"
    driver = open_page(size)
    enter_clinic(driver, clinic.first_address())
    driver.go("/clinic/pair")
    driver.wait_text("clinic-countdown", "more minutes")
    driver.shot(f"clinic-pair-{name}")
    # The card as a device's camera would read it off this screen.
    card = from_text(code_on(driver))
    keys = OwnKeys(
        "7" * 32, "Barn tablet", new_signing_key(), new_agreement_key(), is_demo=True
    )
    given = answer(card, keys, now(), random_bytes)
    driver.type("clinic-answer-text", "no answer at all")
    driver.click("clinic-answer-read")
    driver.wait_text("clinic-pair-problem", "Nothing was paired")
    driver.type("clinic-answer-text", as_text(given.sealed))
    driver.click("clinic-answer-read")
    for place, word in enumerate(words_of(given.cards), 1):
        driver.wait_text("clinic-words", f"{place}. {word}")
    driver.shot(f"clinic-words-{name}")
    driver.click("clinic-words-same")
    driver.wait_text("screen", "Barn tablet")
    driver.click("clinic-revoke-" + "7" * 32)
    driver.wait("clinic-revoke-after")
    driver.click("clinic-revoke-save")
    driver.gone("clinic-revoke-after")
    driver.scroll_to("clinic-device-" + "7" * 32)
    driver.wait_text("clinic-device-" + "7" * 32, "revoked after bundle 0")
    driver.shot(f"clinic-devices-{name}")
    pair_the_revoked_device_again(driver, keys, name)


def pair_the_revoked_device_again(driver, keys, name):
    """Nothing is trusted again before a person was told that it was revoked."""
    driver.go("/clinic/pair")
    driver.wait_text("clinic-countdown", "more minutes")
    given = answer(from_text(code_on(driver)), keys, now(), random_bytes)
    driver.type("clinic-answer-text", as_text(given.sealed))
    driver.click("clinic-answer-read")
    driver.wait_text("clinic-revoked", "was trusted no more")
    driver.shot(f"clinic-words-revoked-{name}")
    driver.click("clinic-words-same")
    driver.wait("clinic-trust-again")
    driver.shot(f"clinic-trust-again-{name}")
    driver.click("clinic-trust-again")
    driver.gone("clinic-trust-again")
    driver.scroll_to("clinic-device-" + "7" * 32)
    driver.wait_text("clinic-device-" + "7" * 32, "Paired again")


def test_a_scanner_that_types_hands_over_with_enter_after_each_code(
    clinic, laptop, tmp_path
):
    enter_clinic(laptop, clinic.first_address())
    sealed = stick_of(tmp_path).read_bytes()
    frames = split(sealed, DotSize.DENSE, for_typing=True)
    laptop.go("/clinic/receive")
    laptop.wait("clinic-camera")
    for number in range(frames.count):
        laptop.type("clinic-scan-text", frames.text(number).lower())
        laptop.press("Enter")
        laptop.wait_text("clinic-progress", f"{number + 1} code")
    laptop.wait_text("clinic-receipt-code", "-")


def test_a_watched_folder_is_looked_into_by_itself(clinic, laptop):
    enter_clinic(laptop, clinic.first_address())
    laptop.go("/clinic/receive")
    laptop.wait("clinic-camera")
    laptop.click("clinic-folder-watch-yes")
    laptop.wait_text("clinic-folder-told", "1 new")
    laptop.go("/")
    laptop.wait("clinic-summary")
    laptop.gone("clinic-notice-devices")
