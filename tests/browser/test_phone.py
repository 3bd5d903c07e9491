"""The app on a phone without server and signal, from the built folder, in a Chromium.

Needs the Python package index once, for the two packages that are compiled for the
browser; where it cannot be reached these tests say so and are skipped.
"""

import pytest

from exam_app.crypto import door
from exam_app.ui.exam_room import now
from sync.bundle import open_bundle
from sync.cards import as_text, from_text
from sync.pairing import ClinicKeys, accept, offer
from sync.receipts import receipt_code
from tests.browser.codes import collect
from tests.browser.handed import CLINIC_AGREEMENT, CLINIC_ID, CLINIC_SEED
from tests.browser.phone_app import take_away
from tests.browser.phone_steps import (
    PIN,
    begin_exam,
    open_draft,
    rows_unanswered,
    set_up,
    start_offline,
    unlock,
)

CLINIC = ClinicKeys(
    CLINIC_ID, "Invented clinic", CLINIC_SEED, CLINIC_AGREEMENT, is_demo=False
)


@pytest.mark.exhaustive
def test_after_one_load_the_app_works_without_a_server_and_keeps_its_exams(
    phone_browser, host
):
    address = f"http://127.0.0.1:{host.port}/"
    driver = phone_browser.page()
    driver.open(address)
    take_away(host)
    driver = start_offline(phone_browser, address)
    driver.wait("setup-practice")
    driver.shot("phone-set-up")
    set_up(driver)
    begin_exam(driver)
    first, last = rows_unanswered(driver)
    driver.click(first)
    driver.wait_text("saved", "Saved")
    driver.wait_text("exam-progress", "1 of ")
    driver.shot("phone-exam")
    second = phone_browser.page()
    second.open(address)
    second.wait_text("refusal", "open in another window")
    second.shot("phone-second-tab")
    driver = start_offline(phone_browser, address)
    unlock(driver)
    open_draft(driver)
    driver.wait_text("exam-progress", "1 of ")
    driver.shot("phone-found-again")
    driver.click(last)
    driver.wait_text("saved", "Saved")
    hand_over(driver, pair(driver))
    driver.page.reload()
    driver.wake_semantics()
    unlock(driver)


def pair(driver):
    """Pair with an invented clinic by text, and give the device's public key."""
    exam_hash = driver.page.url.rsplit("/", 1)[-1]
    driver.go(f"/exam/{exam_hash}/review")
    driver.wait_text("review-status", "Nothing is open")
    driver.click("review-close")
    driver.type("close-pin", PIN)
    driver.click("close-sign")
    driver.wait_text("record-signed", "the signature fits")
    driver.shot("phone-record")
    driver.go("/pair")
    offered = offer(CLINIC, now(), door.random_bytes)
    driver.type("pair-name", "Phone 1")
    driver.type("pair-text", as_text(offered.card))
    driver.click("pair-read")
    driver.wait("pair-words")
    sealed = from_text(driver.value("pair-answer-text"))
    accepted = accept(sealed, offered, CLINIC_AGREEMENT, now())
    said = driver.text("pair-words")
    for number, word in enumerate(accepted.words, 1):
        assert f"{number}. {word}" in said
    driver.click("pair-same")
    driver.wait("hand-count")
    return accepted.device.signing_key


def hand_over(driver, device_key):
    """Take the codes off the screen, open them as a clinic, and type its answer."""
    driver.click("hand-codes")
    driver.wait("player-code")
    [sealed] = collect(driver, 1).finished()
    driver.shot("phone-code")
    opened = open_bundle(sealed, CLINIC_AGREEMENT, lambda _: device_key)
    assert opened.manifest.exam_count == 1
    driver.click("player-done")
    code = receipt_code(opened.receipt_secret, opened.bundle_hash)
    driver.type("receipt-typed", code)
    driver.click("receipt-confirm")
    driver.wait_text("receipt-said", "received, by the clinic's code")
