"""The app on a phone without server and signal, from its first load to its receipt.

The phone is a Chromium with a folder of its own over the built app; the clinic is the
app itself on this computer. Between them go only what a person would carry: two texts,
six words, pictures of the phone's screen, and a code of eight signs.

Needs the Python package index once, for the two packages that are compiled for the
browser; where it cannot be reached this test says so and is skipped.
"""

import pytest
from PIL import Image

from exam_app.domain.protocol.protocol import Scope
from tests.browser.clinic_pages import receipt_code_on, receive_pictures
from tests.browser.codes import photograph
from tests.browser.driver import LAPTOP
from tests.browser.phone_app import asked_of, take_away
from tests.browser.phone_exam import FOUND, WholeExam, rows_asked
from tests.browser.phone_steps import (
    PIN,
    begin_exam,
    in_view,
    open_draft,
    set_up,
    start_offline,
    unlock,
)
from tests.browser.prepared import KIM, in_store, prepare_folder
from tests.browser.prepared import unlock as unlock_clinic
from tests.browser.whole_exam import Hand, answer_row, take_intake_vitals

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
def test_an_intake_on_a_phone_without_signal_is_whole_and_signed(phone_browser, host):
    driver = first_load(phone_browser, host)
    asked = len(asked_of(host))
    set_up(driver)
    begin_exam(driver, "intake", age_years="4")
    hand = Hand(driver)
    take_intake_vitals(hand)
    for region_id in rows_asked(Scope.INTAKE):
        answer_row(hand, region_id)
    driver.click("exam-review")
    driver.click("review-point-scan:intake")
    driver.click("scan-none-2")
    driver.wait_text("review-status", "Nothing is open")
    driver.click("review-close")
    driver.type("close-pin", PIN)
    driver.click("close-sign")
    driver.wait_text("record-signed", "the signature fits")
    driver.read_down_to("10 kg")
    later = asked_of(host)[asked:]
    assert later == [], "something was asked for after the first load"


def address_of(host):
    return f"http://127.0.0.1:{host.port}/"


def first_load(phone_browser, host):
    """Load the app once, then take its server and the signal away."""
    driver = phone_browser.page()
    driver.open(address_of(host))
    take_away(host)
    phone_browser.lose_signal()
    return driver


def first_day(phone_browser, host):
    """Load the app once, start it again without server and signal, and set it up."""
    first_load(phone_browser, host)
    asked = len(asked_of(host))
    driver = start_offline(phone_browser, address_of(host))
    driver.wait("setup-practice")
    driver.shot("phone-set-up")
    set_up(driver)
    driver.shot("phone-first-day")
    later = asked_of(host)[asked:]
    assert later == [], "something was asked for after the first load"
    return driver


def test_a_whole_exam_on_a_phone_without_signal_reaches_a_clinic_and_is_kept(
    phone_browser, host, unlocked_clinic, tmp_path
):
    address = address_of(host)
    driver = first_day(phone_browser, host)
    asked = len(asked_of(host))
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
    driver = start_offline(phone_browser, address)
    unlock(driver)
    read_on_the_phone(driver)
    later = asked_of(host)[asked:]
    assert later == [], "something was asked for after the first load"
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
    clinic.wait_text(row, "Hair loss")
    clinic.wait_text(row, "Temperature 104.4 °F")
    clinic.wait_text(row, ", above ")
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
