"""The app on a phone without server and signal, from its first load to its receipt.

The phone is a Chromium with a folder of its own over the built app; the clinic is the
app itself on this computer. Between them go only what a person would carry: two texts,
six words, pictures of the phone's screen, and a code of eight signs.

Needs the Python package index once, for the two packages that are compiled for the
browser; where it cannot be reached this test says so and is skipped.
"""

import pytest
from PIL import Image

from tests.browser.clinic_pages import receipt_code_on, receive_pictures
from tests.browser.codes import photograph
from tests.browser.driver import LAPTOP
from tests.browser.handed import in_store
from tests.browser.phone_app import asked_of, take_away
from tests.browser.phone_exam import FOUND, WholeExam
from tests.browser.phone_steps import (
    begin_exam,
    in_view,
    open_draft,
    set_up,
    start_offline,
    unlock,
)
from tests.browser.prepared import KIM, prepare_folder
from tests.browser.prepared import unlock as unlock_clinic

pytestmark = pytest.mark.chromium_only("the static app on a phone")


def make_clinic(vault):
    vault.settings.put("role", "clinic")
    vault.settings.put("last_person", KIM)


@pytest.fixture
def unlocked_clinic(tmp_path, run_app, open_page):
    """Unlock a real clinic's computer, that has no device yet, once it is needed."""

    def unlocked():
        folder = prepare_folder(tmp_path / "clinic")
        in_store(folder, make_clinic)
        page = open_page(LAPTOP)
        unlock_clinic(page, run_app(folder=folder))
        return page

    return unlocked


@pytest.mark.everyday_in_chromium
def test_a_whole_exam_on_a_phone_without_signal_reaches_a_clinic_and_is_kept(
    phone_browser, host, unlocked_clinic, tmp_path
):
    address = f"http://127.0.0.1:{host.port}/"
    phone_browser.page().open(address)
    take_away(host)
    asked = len(asked_of(host))
    phone_browser.has_signal = False
    driver = start_offline(phone_browser, address)
    driver.wait("setup-practice")
    driver.shot("phone-set-up")
    set_up(driver)
    driver.shot("phone-first-day")
    begin_exam(driver, "technician", age_years="4")
    driver.shot("phone-exam")
    exam = WholeExam(driver)
    exam.first_half()
    driver.wait_text("saved", "Saved")
    progress = progress_of(driver)
    exam.driver = driver = after_a_kill(phone_browser, address)
    driver.wait_text("exam-progress", progress)
    driver.shot("phone-found-again")
    exam.found_again()
    exam.second_half()
    exam.close()

    clinic = unlocked_clinic()
    hand_over(driver, clinic, tmp_path)
    read_at_the_clinic(clinic)
    driver.page.reload()
    driver.wake_semantics()
    unlock(driver)
    read_on_the_phone(driver)
    assert len(asked_of(host)) == asked, "something was asked for after the first load"
    assert phone_browser.asked
    assert not [url for url in phone_browser.asked if url.startswith(clinic.origin)]


def progress_of(driver):
    said = driver.text("exam-progress").split()
    at = said.index("of")
    assert int(said[at - 1]) > 10
    return f"{said[at - 1]} of {said[at + 1]}"


def after_a_kill(phone_browser, address):
    """Look at a second window of the app, then lose the power."""
    second = phone_browser.page()
    second.open(address)
    second.wait_text("refusal", "open in another window")
    second.shot("phone-second-tab")
    driver = start_offline(phone_browser, address)
    unlock(driver)
    driver.shot("phone-day-open")
    open_draft(driver)
    return driver


def hand_over(driver, clinic, folder):
    """Go from the day's count to the clinic's code, by what the screens offer."""
    driver.go("/")
    driver.wait_text("day-waits", "1 exam is not handed over")
    driver.shot("phone-day-waits")
    in_view(driver, "day-waits")
    driver.click("day-waits")
    driver.wait_text("hand-count", "1 exam is not handed over")
    driver.shot("phone-hand-over-unpaired")
    in_view(driver, "hand-count")
    driver.click("hand-pair-open")
    pair(driver, clinic)
    driver.wait_text("hand-count", "1 exam is not handed over")
    driver.shot("phone-hand-over")
    in_view(driver, "hand-count")
    driver.click("hand-codes")
    driver.wait("player-code")
    assert not has_fault(driver.shot("phone-code-first"))
    photos = photograph(driver, folder)
    driver.shot("phone-code")
    receive_pictures(clinic, photos)
    clinic.shot("phone-received-clinic")
    driver.click("player-done")
    driver.type("receipt-typed", receipt_code_on(clinic))
    driver.shot("phone-receipt")
    driver.click("receipt-confirm")
    driver.wait_text("receipt-said", "received, by the clinic's code")
    driver.go("/")
    driver.wait("day-new")
    driver.gone("day-waits")
    driver.shot("phone-nothing-waits")


def has_fault(picture):
    """Whether the picture shows a large red ground, as Flet writes its faults."""
    seen = Image.open(picture).convert("RGB")
    reds, greens, blues = (band.tobytes() for band in seen.split())
    colours = zip(reds, greens, blues, strict=True)
    return sum(r > 200 and g < 100 > b for r, g, b in colours) > seen.width * 10


def pair(driver, clinic):
    """Carry two texts, and compare the six words of both screens."""
    clinic.go("/clinic/pair")
    card = clinic.value("clinic-card-text")
    driver.type("pair-name", "Phone 1")
    driver.type("pair-text", card)
    driver.shot("phone-pair-card")
    driver.click("pair-read")
    driver.wait("pair-words")
    driver.shot("phone-pair-answer")
    clinic.type("clinic-answer-text", driver.value("pair-answer-text"))
    clinic.click("clinic-answer-read")
    driver.scroll_to("pair-same")
    driver.shot("phone-pair-words")
    assert six_words(driver, "pair-words") == six_words(clinic, "clinic-words")
    clinic.click("clinic-words-same")
    clinic.wait_text("screen", "Phone 1")
    driver.click("pair-same")


def six_words(driver, identifier):
    driver.wait_text(identifier, "6. ")
    words = driver.text(identifier).split()
    found = [words[words.index(f"{number}.") + 1] for number in range(1, 7)]
    assert len(set(found)) > 1
    return found


def read_at_the_clinic(clinic):
    """What presses is on top, and the record is the one that was signed."""
    clinic.go("/clinic/review")
    row = clinic.named("clinic-row-")
    clinic.wait_text("screen", "For the veterinarian to look at (1)")
    clinic.wait_text(row, "Bramble")
    clinic.wait_text(row, "1 finding for the veterinarian")
    clinic.wait_text(row, "1 value outside a published range")
    clinic.wait_text(row, "from Phone 1")
    clinic.shot("phone-review-clinic")
    clinic.click(row)
    clinic.wait_text("record-signed", "the signature fits")
    clinic.shot("phone-record-clinic")
    for words in ("104.4 °F", "90/min", FOUND):
        clinic.read_down_to(words)


def read_on_the_phone(driver):
    """The record is closed, opens, and counts as received."""
    assert not driver.has("day-waits")
    assert not driver.page.locator('[flt-semantics-identifier^="day-draft-"]').count()
    driver.click(driver.named("day-closed-"))
    driver.wait_text("record-signed", "the signature fits")
    driver.read_down_to(FOUND)
    driver.go("/hand-over")
    driver.wait_text("hand-count", "has reached the clinic")
    driver.wait_text("hand-bundle-1", "received, by the clinic's code")
    driver.shot("phone-received")
