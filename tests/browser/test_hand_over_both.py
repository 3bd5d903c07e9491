"""A field device and a clinic, two apps at once: a whole day there and back again.

What travels is what a person would carry: pictures of the real screens, texts typed,
and one folder. Nothing is called behind the screens.
"""

from dataclasses import replace

import pytest

from exam_app.app.exam_sessions import now
from exam_app.app.signing import store_closed
from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import Finding
from exam_app.domain.moments import Moment
from exam_app.protocols.loader import load_protocol
from exam_app.record.plain_form import to_plain
from exam_app.store.repositories.rows import open_projection
from tests.browser.clinic_pages import read_it, receipt_code_on, receive_pictures
from tests.browser.codes import code_on, photograph
from tests.browser.driver import LAPTOP, PHONE
from tests.browser.handed import animal_named, closed_exam, fill_closed
from tests.browser.prepared import KIM, PIN, in_store, prepare_folder, unlock

MONTH_MS = 30 * 24 * 3_600_000
DRAFT, LAST_MONTH = 3, 4
ASH_EXAM, DRAFT_EXAM = f"{160:032x}", f"{DRAFT + 160:032x}"


def fill_device(vault):
    """Three closed exams and an open one in which everything is answered."""
    fill_closed(vault, 3)
    loaded = load_protocol("dog")
    exam = replace(closed_exam(DRAFT, now()), closing=None)
    vault.animals.put(to_plain(exam.animal))
    shown = open_projection(exam, loaded.protocol, now())
    vault.drafts.put(exam.exam_id, to_plain(exam), shown)


def fill_clinic(vault):
    """A veterinarian's computer that has seen one more animal a month ago."""
    vault.settings.put("role", "clinic")
    vault.settings.put("last_person", KIM)
    loaded, today = load_protocol("dog"), now()
    vault.protocols.put(loaded.content_hash, loaded.content)
    month_ago = Moment(today.utc_ms - MONTH_MS, today.offset_min)
    exam = closed_exam(LAST_MONTH, month_ago, with_a_finding)
    vault.animals.put(to_plain(exam.animal))
    store_closed(vault, exam, loaded.protocol)


def with_a_finding(exam, protocol, by):
    finding = Finding("9" * 32, "crust on the bridge of the nose", by)
    return add_finding(exam, protocol, "nose", finding, "8" * 32)


def opened_both(tmp_path, run_app, open_page, fill_device, fill_clinic):
    """Unlock a device and a clinic, each over a store that was filled before."""
    pages = []
    for name, size, fill in (
        ("device", PHONE, fill_device),
        ("clinic", LAPTOP, fill_clinic),
    ):
        folder = prepare_folder(tmp_path / name)
        in_store(folder, fill)
        page = open_page(size)
        unlock(page, run_app(folder=folder))
        pages.append(page)
    between = tmp_path / "between"
    between.mkdir()
    return *pages, between


@pytest.fixture
def both(tmp_path, run_app, open_page):
    """Unlocked pages of both apps, and the folder between them."""
    *pages, between = opened_both(
        tmp_path, run_app, open_page, fill_device, fill_clinic
    )
    yield *pages, between
    for page, name in zip(pages, ("device", "clinic"), strict=True):
        page.shot(f"both-end-{name}")


def test_a_day_reaches_the_clinic_and_its_answers_come_back(both):
    device, clinic, between = both
    pair(device, clinic)
    leave_the_draft(device)
    by_codes(device, clinic, between.parent)
    by_folder(device, clinic, between)
    acknowledge(clinic)
    clinic.go("/clinic/day-pack")
    clinic.click("clinic-pack-what-newest")
    clinic.click("clinic-pack-write")
    clinic.wait("clinic-pack-done")
    look_into_folder(device)
    device.wait_text("hand-folder-said", "Day pack 1")
    device.wait_text("hand-count", "has reached the clinic")
    device.shot("both-day-pack-device")
    device.go(f"/record/{ASH_EXAM}")
    device.wait(device.named("note-line-"))
    device.wait_text(device.named("note-line-"), "Kim Sorrel")
    device.shot("both-acknowledged-device")
    device.go(f"/start/{animal_named(0).animal_id}")
    device.wait_text("note-recheck-0", "In two weeks, please.")
    device.shot("both-recheck-device")
    last_month(device)


def pair(device, clinic, name="Van 2"):
    """Pair from screen to screen, and compare the words that both show."""
    device.go("/pair")
    clinic.go("/clinic/pair")
    clinic.wait("clinic-card-code")
    device.type("pair-name", name)
    device.type("pair-text", code_on(clinic))
    device.click("pair-read")
    device.wait("pair-answer-code")
    clinic.type("clinic-answer-text", code_on(device))
    clinic.click("clinic-answer-read")
    clinic.wait("clinic-words")
    words = device.text("pair-words").split()
    numbers = [f"{place}." for place in range(1, 7)]
    for number in numbers:
        word = words[words.index(number) + 1]
        clinic.wait_text("clinic-words", f"{number} {word}")
    clinic.click("clinic-words-same")
    clinic.wait_text("screen", name)
    device.click("pair-same")
    device.wait("hand-count")


def leave_the_draft(device):
    """The open exam holds the hand-over until somebody says why it stays."""
    device.click("hand-codes")
    device.wait_text("told", "1 exam still open")
    device.shot("both-draft-device")
    device.click(f"hand-draft-leave-{DRAFT_EXAM}")
    device.click("hand-leave-reason-later-today")
    device.wait_text(f"hand-draft-{DRAFT_EXAM}", "Stays behind")


def by_codes(device, clinic, pictures):
    """Pictures of the device's screen are the photos; the code typed is the receipt."""
    device.click("hand-codes")
    device.wait("player-code")
    photos = photograph(device, pictures)
    receive_pictures(clinic, photos)
    clinic.shot("both-received-clinic")
    device.click("player-done")
    device.type("receipt-typed", receipt_code_on(clinic).lower())
    device.click("receipt-confirm")
    device.wait_text("receipt-said", "received, by the clinic's code")
    device.gone("receipt-delete")


def by_folder(device, clinic, between):
    """The exam closed later goes by folder, and its signed receipt comes back so."""
    device.go(f"/exam/{DRAFT_EXAM}/review")
    device.click("review-close")
    device.type("close-pin", PIN)
    device.click("close-sign")
    device.wait("record-hand-over")
    device.go("/hand-over")
    device.wait_text("hand-count", "1 exam is not handed over")
    device.type("hand-folder-path", str(between))
    device.click("hand-folder-save")
    device.click("hand-folder")
    device.wait("hand-bundle-2")
    device.shot("both-folder-device")
    clinic.type("clinic-folder", str(between))
    clinic.click("clinic-folder-look")
    clinic.wait_text("clinic-folder-told", "1 new")
    look_into_folder(device)
    device.wait_text("hand-folder-said", "Signed receipt for hand-over 2")
    device.go("/hand-over/receipt/2")
    device.wait_text("receipt-outcome", "It arrived.")
    device.wait("receipt-delete")
    device.shot("both-receipt-device")


def look_into_folder(device):
    device.go("/hand-over")
    device.wait("hand-count")
    device.click("hand-folder-look")


def acknowledge(clinic):
    """The veterinarian reads Ash, says so, and asks for a part to be seen again."""
    clinic.go(f"/clinic/record/{ASH_EXAM}")
    clinic.wait_text("record-signed", "the signature fits")
    read_it(clinic)
    clinic.click("clinic-acknowledge")
    clinic.type("clinic-pin", PIN)
    clinic.click("clinic-note-save")
    clinic.wait("clinic-acknowledge-done")
    clinic.click("clinic-recheck")
    clinic.click("clinic-note-parts-0")
    clinic.type("clinic-note-words", "In two weeks, please.")
    clinic.click("clinic-note-save")
    clinic.wait("clinic-note-line-1")


def last_month(device):
    """What another place found a month ago is asked again by the next exam here."""
    device.go(f"/start/{animal_named(LAST_MONTH).animal_id}")
    device.wait("start-go")
    device.read_down_to("crust on the bridge of the nose")
    device.shot("both-start-device")
    device.click("start-go")
    device.wait("exam-progress")
    device.read_down_to("crust on the bridge of the nose")
    device.shot("both-exam-device")
