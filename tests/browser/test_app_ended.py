"""A page whose app hangs, or has ended: it says so, and nothing typed is lost."""

import os
import signal

import pytest
from playwright.sync_api import expect

from tests.browser.driver import PATIENCE_MS
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.prepared import PASSPHRASE, unlock
from tests.browser.test_typed_words import wait_kept

pytestmark = pytest.mark.chromium_only("the app is a process of its own")


def test_a_page_says_when_its_app_hangs_and_goes_on_with_what_was_typed(
    phone, prepared
):
    unlock(phone, prepared)
    phone.go("/animal/new/dog")
    phone.type("animal-name", "Bramb")
    process = prepared.process.pid
    os.kill(process, signal.SIGSTOP)
    told = phone.page.get_by_role("alert")
    try:
        expect(told).to_contain_text("does not answer", timeout=PATIENCE_MS)
        expect(told).to_contain_text("what was typed up to a moment before")
        expect(told).to_contain_text("goes away by itself")
        phone.shot("app-hangs-phone")
    finally:
        os.kill(process, signal.SIGCONT)
    expect(told).to_have_count(0, timeout=PATIENCE_MS)
    assert phone.value("animal-name") == "Bramb"
    phone.type("animal-name", "Bramble")
    phone.click("animal-edit")
    phone.wait_text("told", "The animal is stored")


def test_words_typed_before_the_app_died_are_there_after_it_was_started_again(
    phone, tmp_path, run_app
):
    folder = prepare_exam(tmp_path / "exams")
    app = run_app(folder=folder)
    unlock(phone, app)
    port = phone.origin.rsplit(":", 1)[1]
    phone.go(f"/exam/{EXAM_ID}")
    phone.click("visit-given")
    phone.type("visit-field-dose", "0.4 mL, half typed")
    wait_kept(phone, folder, "0.4 mL, half typed")
    app.killed()
    told = phone.page.get_by_role("alert")
    expect(told).to_contain_text("does not answer", timeout=PATIENCE_MS)
    again = run_app("--port", port, folder=folder)
    link = again.first_address()
    expect(told).to_contain_text("was started anew", timeout=PATIENCE_MS)
    phone.open(link)
    phone.type("unlock-secret", PASSPHRASE)
    phone.click("unlock-open")
    phone.wait("examiner")
    phone.go(f"/exam/{EXAM_ID}")
    phone.click("visit-given")
    assert phone.value("visit-field-dose") == "0.4 mL, half typed"
