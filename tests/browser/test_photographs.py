"""Photographs of what is found: chosen, described, kept, looked at, compared."""

from dataclasses import replace
from functools import partial

import pytest

from exam_app.app.exam_sessions import now
from exam_app.app.pictures.plain_jpeg import made_plain
from exam_app.app.signing import store_closed
from exam_app.domain.animal.body_marks import BodyMark, MarkView
from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.photographs import add_photo
from exam_app.domain.exam.visit import Photo
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope
from exam_app.protocols.loader import load_protocol
from exam_app.record.plain_form import to_plain
from exam_app.store.vault.folder import PICTURE_FOLDER
from tests.browser.clinic_pages import receipt_code_on, receive_pictures
from tests.browser.codes import photograph
from tests.browser.driver import LAPTOP, PHONE, SMALL
from tests.browser.exam_drafts import EXAM_ID, STARTER, begun, keep_open, prepare_exam
from tests.browser.handed import animal_named, closed_exam
from tests.browser.prepared import KIM, PIN, in_store, prepare_folder, unlock
from tests.browser.test_hand_over_both import MONTH_MS, opened_both, pair
from tests.browser.test_marks import PARTS as MARKED_PARTS
from tests.browser.test_marks import close, fill_clinic, mark_a_lump
from tests.browser.test_typed_words import wait_kept
from tests.photographs import claiming_jpeg, content_of, drawn, from_a_phone

SIZES = pytest.mark.parametrize(
    "size", [PHONE, SMALL, LAPTOP], ids=["phone", "small", "laptop"]
)
PARTS = ("chest", "abdomen", "eyes")
LUMP = "8" * 32
FIRST, AGAIN = "1" * 32, "2" * 32
# Begins the names of small pictures, which go on with the picture's hash.
ONE = "photo-of-"


def with_a_lump(exam, protocol):
    by = Attribution(STARTER.person_id, STARTER.person_id, now(), now())
    lump = Finding(LUMP, "Lump in skin or wall", by, term_id="lump")
    return add_finding(exam, protocol, "chest", lump, "7" * 32)


def prepared(tmp_path):
    return prepare_exam(tmp_path / "exams", Scope.FOCUSED, PARTS, with_a_lump)


def begin(driver, tmp_path, run_app):
    unlock(driver, run_app(folder=prepared(tmp_path)))


def photo_file(tmp_path, name="lump.jpg", content=None):
    path = tmp_path / name
    path.write_bytes(from_a_phone(6) if content is None else content)
    return path


def open_finding(driver):
    driver.go(f"/exam/{EXAM_ID}/region/chest")
    driver.click(f"finding-line-{LUMP}")
    driver.wait("finding-done")


def open_photographs(driver):
    open_finding(driver)
    driver.click(f"finding-photograph-{LUMP}")


def choose(driver, path):
    driver.choose("photo-choose", [path])


@SIZES
def test_a_lump_is_photographed_described_looked_at_and_taken_back(
    size, tmp_path, run_app, open_page
):
    driver = open_page(size)
    begin(driver, tmp_path, run_app)
    open_finding(driver)
    driver.wait_text(f"finding-photograph-{LUMP}", "Add a photograph")
    driver.click(f"finding-photograph-{LUMP}")
    driver.wait_text("sheet", "Photograph: Chest wall: Lump in skin or wall")
    driver.shot(f"photograph-ask-{size['width']}")
    choose(driver, photo_file(tmp_path))
    driver.wait("photo-preview")
    driver.shot(f"photograph-shown-{size['width']}")
    assert driver.value("photo-caption") == "Lump in skin or wall"
    driver.type("photo-caption", "Red rim, coat parted")
    driver.click("photo-save")
    driver.gone("sheet")
    driver.wait_text(f"finding-line-{LUMP}", "1 photograph")
    open_finding(driver)
    driver.wait_text(f"finding-photograph-{LUMP}", "1 photograph")
    driver.click(f"finding-photograph-{LUMP}")
    driver.wait("photo-more")
    driver.click(driver.named(ONE))
    driver.wait("photo-large-0")
    driver.wait_text("photo-view", "Chest wall: Red rim, coat parted")
    driver.shot(f"photograph-large-{size['width']}")
    driver.click("photo-say")
    driver.type("photo-caption", "Red rim")
    driver.click("photo-words-save")
    driver.wait("photo-more")
    driver.shot(f"photograph-kept-{size['width']}")
    driver.click("sheet-close")
    driver.go(f"/record/{EXAM_ID}/draft")
    driver.read_down_to("Chest wall: Red rim, shows Lump in skin or wall (added 20")
    driver.go(f"/exam/{EXAM_ID}")
    driver.click("exam-more")
    driver.wait_text("exam-photographs", "1 photograph")
    driver.click("exam-photographs")
    driver.click(driver.named(ONE))
    driver.click("photo-out")
    driver.wait_text("told", "Photograph taken out")
    driver.gone("sheet")
    driver.click("told-undo")
    driver.go(f"/record/{EXAM_ID}/draft")
    driver.read_down_to("Chest wall: Red rim, shows Lump in skin or wall (added 20")


def test_a_side_of_a_part_and_the_whole_animal_are_photographed(
    phone, tmp_path, run_app
):
    begin(phone, tmp_path, run_app)
    phone.go(f"/exam/{EXAM_ID}/region/eyes")
    phone.click("region-eyes-more")
    phone.click("more-side-left")
    phone.click("more-choice-photograph-eyes.left")
    choose(phone, photo_file(tmp_path))
    phone.wait("photo-preview")
    assert phone.value("photo-caption") == "Eyes, left"
    phone.click("photo-save")
    phone.gone("sheet")
    phone.wait_text("region-eyes-row", "Left: 1 photograph")
    phone.go(f"/exam/{EXAM_ID}")
    phone.click("exam-more")
    phone.click("exam-photographs")
    phone.click("photo-more")
    choose(phone, photo_file(tmp_path, "whole.png", content_of(drawn(), "PNG")))
    phone.wait("photo-preview")
    # Nobody proposes what a picture of the whole animal shows.
    phone.click("photo-save")
    phone.wait_text("sheet", "Say in a few words what the photograph shows.")
    phone.type("photo-caption", "Standing, from the left")
    phone.click("photo-save")
    phone.wait_text("sheet", "2 photographs")
    phone.click("sheet-close")
    phone.go(f"/record/{EXAM_ID}/draft")
    phone.read_down_to("Eyes, left (added 20")
    phone.read_down_to("Standing, from the left (added 20")


def test_a_picture_that_was_chosen_and_not_saved_is_there_after_the_app_was_killed(
    phone, tmp_path, run_app
):
    folder = prepared(tmp_path)
    app = run_app(folder=folder)
    unlock(phone, app)
    open_photographs(phone)
    choose(phone, photo_file(tmp_path))
    phone.wait("photo-preview")
    phone.type("photo-caption", "Half a sen")
    wait_kept(phone, folder, "Half a sen")
    # Closed, and opened again.
    phone.click("sheet-close")
    phone.gone("sheet")
    open_photographs(phone)
    phone.wait("photo-preview")
    unlock(phone, run_app(folder=app.killed()))
    phone.go(f"/exam/{EXAM_ID}/review")
    phone.wait_text("typed-notice", "Photograph of Chest wall")
    phone.wait_text("typed-notice", "a picture, “Half a sen”")
    open_photographs(phone)
    phone.wait("photo-preview")
    assert phone.value("photo-caption") == "Half a sen"
    phone.click("photo-drop")
    phone.wait_text("told", "thrown away; it was never saved")
    phone.click("told-undo")
    phone.wait("photo-preview")
    assert phone.value("photo-caption") == "Half a sen"
    phone.click("photo-drop")
    phone.gone("sheet")
    phone.go(f"/exam/{EXAM_ID}/review")
    phone.gone("typed-notice")


def test_what_is_no_photograph_is_refused_in_words_and_the_next_one_is_taken(
    phone, tmp_path, run_app
):
    begin(phone, tmp_path, run_app)
    open_photographs(phone)
    refused = {
        "page.jpg": (b"<html>" + from_a_phone(), "no whole JPEG, PNG or WebP"),
        "phone.heic": (b"\0\0\0\x18ftypheic" + bytes(40), "a HEIC picture"),
        "large.jpg": (claiming_jpeg(12_000, 9000), "more than 60 megapixels"),
        "moving.gif": (content_of(drawn(), "GIF"), "no whole JPEG, PNG or WebP"),
        "empty.jpg": (b"", "no whole JPEG, PNG or WebP"),
    }
    for name, (content, words) in refused.items():
        choose(phone, photo_file(tmp_path, name, content))
        phone.wait_text("photo-problem", words)
        phone.wait_text("photo-problem", "the exam is as it was")
        assert not phone.has("photo-save")
    phone.shot("photograph-refused-phone")
    choose(phone, photo_file(tmp_path))
    phone.wait("photo-save")
    phone.gone("photo-problem")


def test_a_full_device_refuses_the_picture_and_goes_on_with_answers(
    phone, tmp_path, run_app, monkeypatch
):
    # More than any disk has: what is left is kept for answers.
    monkeypatch.setenv("TEST_ROOM_FOR_ANSWERS", str(2**62))
    begin(phone, tmp_path, run_app)
    open_photographs(phone)
    choose(phone, photo_file(tmp_path))
    phone.wait_text("photo-problem", "too little space left on this device")
    phone.wait_text("photo-problem", "answers, which go on being saved")
    phone.click("sheet-close")
    phone.go(f"/exam/{EXAM_ID}/region/abdomen")
    phone.click("region-abdomen-normal")
    phone.wait_text("region-abdomen-row", "No abnormality")
    phone.go("/settings/upkeep")
    phone.wait_text("upkeep-facts", "No room is left for another")


@pytest.mark.chromium_only("the browser's own window for files, and its socket")
def test_only_pictures_are_offered_and_a_large_one_comes_whole(
    phone, tmp_path, run_app
):
    begin(phone, tmp_path, run_app)
    open_photographs(phone)
    phone.wait("photo-choose")
    with phone.page.expect_file_chooser() as chooser:
        phone.click("photo-choose")
    # A phone's browser offers its camera for this.
    assert chooser.value.element.get_attribute("accept") == "image/*"
    # More than 16 MiB, at which the server's library closes a socket unless told.
    large = photo_file(tmp_path, content=from_a_phone() + bytes(17_000_000))
    chooser.value.set_files([large])
    phone.find("photo-save").wait_for(timeout=120_000)


def with_two_records(vault):
    """A lump that was found, and found again a month later; each time photographed."""
    vault.settings.put("role", "clinic")
    vault.settings.put("last_person", KIM)
    loaded, today = load_protocol("dog"), now()
    vault.protocols.put(loaded.content_hash, loaded.content)
    month_ago = Moment(today.utc_ms - MONTH_MS, today.offset_min)
    for exam_id, at, finding_id, same_as, size in (
        ("a" * 32, month_ago, FIRST, "", (800, 600)),
        ("b" * 32, today, AGAIN, FIRST, (600, 800)),
    ):
        row = vault.photographs.add(exam_id, made_plain(content_of(drawn(*size))))
        shows = Photo(row.sha256, f"{size[0]} wide", finding_id=finding_id)
        lump = partial(photographed_lump, finding_id, same_as, shows)
        exam = replace(closed_exam(0, at, lump), exam_id=exam_id)
        vault.animals.put(to_plain(exam.animal))
        store_closed(vault, exam, loaded.protocol)


def photographed_lump(finding_id, same_as, shows, exam, protocol, by):
    mark = BodyMark(1, MarkView.LEFT, 470, 395)
    lump = Finding(finding_id, "Lump", by, "lump", mark=mark, same_as=same_as)
    exam = add_finding(exam, protocol, "nose", lump, "7" * 32)
    exam = add_photo(exam, protocol, replace(shows, attribution=by))
    if same_as:
        # Its picture has not come yet.
        missing = Photo("d" * 64, "from behind", "nose", attribution=by)
        exam = add_photo(exam, protocol, missing)
    return exam


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_two_photographs_of_one_lump_are_read_side_by_side_at_the_clinic(
    size, tmp_path, run_app, open_page
):
    folder = prepare_folder(tmp_path / "clinic")
    in_store(folder, with_two_records)
    driver = open_page(size)
    unlock(driver, run_app(folder=folder))
    driver.go(f"/clinic/record/{'b' * 32}")
    driver.wait_text("record-signed", "the signature fits")
    driver.read_down_to("1 photograph waits. They come by folder or file")
    driver.read_down_to("600 wide, shows Lump, mark 1, left view")
    one, two = driver.names(ONE)
    driver.scroll_to(one)
    driver.shot(f"photographs-read-{size['width']}")
    driver.wait_text(two, "waits: not here yet")
    driver.click(one)
    driver.wait("photo-large-0")
    assert not driver.has("photo-large-1")
    driver.shot(f"photographs-one-{size['width']}")
    driver.click(driver.named("photo-beside-"))
    driver.wait_text("photo-view", "The same find: Lump, mark 1, left view")
    driver.wait("photo-large-1")
    said = driver.text("photo-view")
    # The older one comes first, and nobody says whether it grew.
    assert said.index("800 wide") < said.index("600 wide")
    assert now().local().date().isoformat() in said
    driver.shot(f"photographs-both-{size['width']}")
    driver.click("photo-close")
    driver.gone("photo-large-1")
    driver.wait("photo-large-0")
    driver.press("Escape")
    driver.gone("photo-view")
    driver.wait(one)


def test_a_picture_whose_file_was_damaged_is_not_shown_and_does_not_wait(
    phone, tmp_path, run_app
):
    folder = prepare_folder(tmp_path / "clinic")
    in_store(folder, with_two_records)
    for path in (folder / PICTURE_FOLDER).iterdir():
        sealed = bytearray(path.read_bytes())
        sealed[len(sealed) // 2] ^= 1
        path.write_bytes(sealed)
    unlock(phone, run_app(folder=folder))
    phone.go(f"/clinic/record/{'a' * 32}")
    phone.wait_text("record-signed", "the signature fits")
    phone.read_down_to("not shown: its file was damaged")
    assert not phone.has("photo-waits")


def fill_device(vault):
    """An exam of an animal that is no demonstration, begun a month ago."""
    today, animal = now(), animal_named(0)
    started = Moment(today.utc_ms - MONTH_MS, today.offset_min)
    made = begun(animal, Scope.FOCUSED, focus=MARKED_PARTS, started=started)
    keep_open(vault, *made)


def test_a_lump_is_photographed_handed_over_and_compared_a_month_later(
    tmp_path, run_app, open_page
):
    device, clinic, between = opened_both(
        tmp_path, run_app, open_page, fill_device, fill_clinic
    )
    pair(device, clinic)
    mark_a_lump(device)
    photographed(device, "chest", photo_file(tmp_path), "Coat parted, ruler beside")
    close(device)
    device.read_down_to("Chest wall: left, Coat parted, ruler beside, shows Lump")
    photograph_by_codes(device, clinic, tmp_path)
    into_folder(device, between, "hand-photographs")
    look_into(clinic, between, "1 photograph came.")
    clinic.wait_text("clinic-folder-told", "Photographs only.")
    clinic.wait_text("clinic-received", "Photographs only: 1 came.")
    look_into(clinic, between, "Nothing new.")
    clinic.wait_text("clinic-folder-told", "Since the exams were opened: 1 photograph")
    clinic.go(f"/clinic/record/{EXAM_ID}")
    clinic.wait(clinic.named(ONE))
    clinic.gone("photo-waits")
    look_for_answers(device, "The clinic holds 1 photograph.")
    device.wait_text("hand-count", "Everything that was closed here has reached")
    second = another_device(tmp_path, run_app, open_page)
    pair(second, clinic, "Van 3")
    day_pack(clinic, between, second)
    exam_id = measured_again(second, tmp_path)
    into_folder(second, between, "hand-folder")
    look_into(clinic, between, "2 photographs came.")
    side_by_side(clinic, exam_id)


def photographed(device, part, picture, caption):
    device.go(f"/exam/{exam_of(device)}/region/{part}")
    device.click(device.named("finding-line-"))
    device.click(device.named("finding-photograph-"))
    choose(device, picture)
    device.wait("photo-preview")
    device.type("photo-caption", caption)
    device.click("photo-save")
    device.gone("sheet")


def exam_of(device):
    return device.route.split("/exam/")[1].partition("/")[0]


def photograph_by_codes(device, clinic, folder):
    """The record goes by codes, and its photograph does not: both say so."""
    device.go("/hand-over")
    device.wait_text("hand-photographs-said", "1 photograph goes by folder or file")
    device.click("hand-codes")
    device.wait("player-code")
    receive_pictures(clinic, photograph(device, folder))
    device.click("player-done")
    device.type("receipt-typed", receipt_code_on(clinic).lower())
    device.click("receipt-confirm")
    device.wait_text("receipt-said", "received, by the clinic's code")
    clinic.go(f"/clinic/record/{EXAM_ID}")
    clinic.wait_text("photo-waits", "1 photograph waits. They come by folder or file")
    device.go("/hand-over")
    device.wait_text("hand-count", "Every record that was closed here has reached")
    device.wait_text("hand-count", "1 photograph goes by folder or file, not by codes.")


def into_folder(device, between, way):
    device.go("/hand-over")
    device.type("hand-folder-path", str(between))
    device.click("hand-folder-save")
    device.wait_text("told", "The folder was kept.")
    device.click(way)
    device.wait_text("told", "Written into the folder")


def look_into(clinic, between, words):
    clinic.go("/clinic/receive")
    clinic.type("clinic-folder", str(between))
    clinic.click("clinic-folder-look")
    clinic.wait_text("clinic-folder-told", words)


def look_for_answers(device, words):
    device.go("/hand-over")
    device.click("hand-folder-look")
    device.wait_text("hand-folder-said", words)


def another_device(tmp_path, run_app, open_page):
    folder = prepare_folder(tmp_path / "second")
    page = open_page(PHONE)
    unlock(page, run_app(folder=folder))
    return page


def day_pack(clinic, between, second):
    """The clinic packs what it knows of the animal for the other device."""
    clinic.go("/clinic/day-pack")
    clinic.named("clinic-pack-device-")
    names = clinic.names("clinic-pack-device-")
    clinic.click(next(one for one in names if "Van 3" in clinic.text(one)))
    clinic.click("clinic-pack-what-newest")
    clinic.click("clinic-pack-write")
    clinic.wait("clinic-pack-done")
    second.go("/hand-over")
    second.type("hand-folder-path", str(between))
    second.click("hand-folder-save")
    second.wait_text("told", "The folder was kept.")
    look_for_answers(second, "Day pack 1")


def measured_again(device, tmp_path):
    """The same lump is measured and photographed once more; return the exam's id."""
    device.go(f"/start/{animal_named(0).animal_id}")
    device.click("start-go")
    device.wait("exam-progress")
    exam_id = exam_of(device)
    device.click("exam-body")
    device.click("body-mark")
    device.wait("mark-panel")
    device.click(device.named("mark-line-"))
    device.click("mark-measure")
    device.type("lump-size", "19")
    device.click("lump-tool-calliper")
    device.click("lump-save")
    device.gone("sheet")
    picture = content_of(drawn(800, 600), "PNG")
    photographed(
        device, "chest", photo_file(tmp_path, "again.png", picture), "A month later"
    )
    device.go(f"/exam/{exam_id}")
    device.wait("exam-progress")
    device.click("exam-stop")
    device.click("stop-reason-unsafe")
    device.click("stop-confirm")
    device.click("review-close")
    device.type("close-pin", PIN)
    device.click("close-sign")
    device.wait("record-signed")
    return exam_id


def side_by_side(clinic, exam_id):
    clinic.go(f"/clinic/record/{exam_id}")
    clinic.wait_text("record-signed", "the signature fits")
    clinic.click(clinic.named(ONE))
    clinic.click(clinic.named("photo-beside-"))
    clinic.wait("photo-large-1")
    said = clinic.text("photo-view")
    assert said.index("Coat parted, ruler beside") < said.index("A month later")
    clinic.shot("photographs-month-clinic")
