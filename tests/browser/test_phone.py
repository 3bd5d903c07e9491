"""The app on a phone without server and signal, from the built folder, in a Chromium.

Needs the Python package index once, for the two packages that are compiled for the
browser; where it cannot be reached these tests say so and are skipped.
"""

import contextlib

import pytest

from exam_app.crypto import door
from exam_app.phone.building import build_app
from exam_app.phone.errors import PartsNotFetchedError
from exam_app.ui.exam_room import now
from sync.bundle import open_bundle
from sync.cards import as_text, from_text
from sync.pairing import ClinicKeys, accept, offer
from sync.receipts import receipt_code
from tests.browser.codes import collect
from tests.browser.handed import CLINIC_AGREEMENT, CLINIC_ID, CLINIC_SEED
from tests.browser.phone_app import PhoneBrowser, give_out, take_away

PASSPHRASE = "seven blue kettles sing"
PIN = "4321"
CLINIC = ClinicKeys(
    CLINIC_ID, "Invented clinic", CLINIC_SEED, CLINIC_AGREEMENT, is_demo=False
)


@pytest.fixture(scope="session")
def built(tmp_path_factory):
    folder = tmp_path_factory.mktemp("phone") / "app"
    try:
        return build_app(folder, lambda _: None)
    except PartsNotFetchedError as error:
        pytest.skip(f"the Python package index was not reached: {error}")


@pytest.fixture
def phone_browser(chromium, tmp_path, shots):
    browser = PhoneBrowser(tmp_path / "profile", chromium.browser_type, shots)
    browser.profile.mkdir()
    browser.start()
    yield browser
    browser.kill()
    foreign = [a for a in browser.asked if not a.startswith(LOCAL)]
    assert not foreign, f"the page asked for something outside: {foreign}"


LOCAL = ("http://127.0.0.1:", "blob:http://127.0.0.1:", "data:", "about:blank")


@pytest.fixture
def host(built):
    host = give_out(built.folder)
    yield host
    with contextlib.suppress(OSError):
        take_away(host)


def set_up(driver):
    driver.wait("setup-practice")
    driver.click("setup-computer-field")
    driver.type("setup-practice", "Hill practice")
    driver.type("setup-phone", "555 0123")
    driver.type("setup-passphrase", PASSPHRASE)
    driver.type("setup-passphrase-again", PASSPHRASE)
    driver.type("person-name", "Alex Rowan")
    driver.click("person-role-technician")
    driver.type("person-pin", PIN)
    driver.type("person-pin-again", PIN)
    driver.click("setup-next")
    driver.page.locator('[flt-semantics-identifier="setup-recovery-code"]').wait_for(
        state="attached", timeout=120_000
    )
    code = driver.text("setup-recovery-code").strip().split()[-1]
    driver.type("setup-recovery-typed", code)
    driver.click("setup-next")
    driver.wait("examiner")


def unlock(driver):
    driver.type("unlock-secret", PASSPHRASE)
    driver.click("unlock-open")
    driver.page.locator('[flt-semantics-identifier="examiner"]').wait_for(
        state="attached", timeout=120_000
    )


def begin_exam(driver, scope="focused"):
    driver.click("day-new")
    driver.click("animal-add")
    driver.click("animal-add-dog")
    driver.type("animal-name", "Bramble")
    driver.click("animal-sex-male")
    driver.click("animal-save")
    driver.wait("start-go")
    driver.click(f"start-scope-{scope}")
    if scope == "focused":
        driver.click("start-focus-0")
        driver.click("start-focus-1")
    driver.click("start-go")
    driver.wait("exam-progress")


def rows_unanswered(driver):
    """Identifiers of the buttons that say "no abnormality found" of a row."""
    rows = driver.page.locator('[flt-semantics-identifier$="-normal"]')
    rows.first.wait_for(state="attached", timeout=60_000)
    return [row.get_attribute("flt-semantics-identifier") for row in rows.all()]


def start_offline(phone_browser, address):
    """Start the browser anew on a phone whose server is gone, and open the app."""
    phone_browser.kill()
    phone_browser.start()
    driver = phone_browser.page()
    driver.open(address)
    return driver


def open_draft(driver):
    start = '[flt-semantics-identifier^="day-draft-"]'
    draft = driver.page.locator(start).first
    draft.wait_for(state="attached", timeout=60_000)
    driver.click(draft.get_attribute("flt-semantics-identifier"))
    driver.wait("exam-progress")


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
