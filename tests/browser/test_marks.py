"""A mark on the drawing: tapped, its part confirmed, kept with what was found."""

from dataclasses import replace

import pytest

from exam_app.domain.animal.body_marks import BodyMark, MarkView
from exam_app.domain.exam.findings import EarlierFinding
from exam_app.domain.lumps.lumps import LUMP_LENGTH, Lump, LumpDepth, LumpSize, LumpTool
from exam_app.domain.measure.units import parse_reading
from exam_app.domain.protocol.protocol import Scope
from exam_app.protocols.bodies import load_body
from exam_app.ui.finding.mark_drawing import width_in
from tests.browser.driver import LAPTOP, PHONE, SMALL
from tests.browser.exam_drafts import EXAM_ID, begun, keep_open, prepare_exam
from tests.browser.handed import animal_named
from tests.browser.prepared import KIM, PIN, unlock
from tests.browser.test_hand_over_both import opened_both, pair
from tests.browser.test_typed_words import wait_kept

SIZES = pytest.mark.parametrize(
    "size", [PHONE, SMALL, LAPTOP], ids=["phone", "small", "laptop"]
)
PARTS = ("chest", "abdomen", "skin_coat")
LUMP = "8" * 32


def with_an_earlier_lump(exam, _protocol):
    """One was marked and measured in January."""
    readings = (parse_reading("22 mm", "mm", LUMP_LENGTH),)
    size = LumpSize(readings, LumpTool.CALLIPER, "along the body", "Kim Sorrel")
    before = EarlierFinding(
        "9" * 32,
        LUMP,
        "skin_coat",
        "2026-01-20",
        "Lump, left, mark 1, left view, 22 mm",
        lump=Lump(LumpDepth.UNDER_SKIN, size),
        term_id="lump",
        mark=BodyMark(1, MarkView.LEFT, 620, 400),
    )
    return replace(exam, earlier=(before,), marks_before=1)


def begin(driver, tmp_path, run_app, alter=None):
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, PARTS, alter)
    unlock(driver, run_app(folder=folder))
    open_marks(driver)


def open_marks(driver):
    driver.go(f"/exam/{EXAM_ID}")
    driver.wait("exam-progress")
    driver.click("exam-body")
    driver.click("body-mark")
    driver.wait("mark-panel")


def tap(driver, size, x: int, y: int, view: str = "left") -> None:
    """Tap the dog's drawing at thousandths of its width, both ways."""
    drawn = load_body("dog").drawing(view)
    width = width_in(size["width"], size["height"], drawn)
    driver.touch_drawing(f"mark-on-{view}", *drawn.at_pixels((x, y), width))


@SIZES
def test_a_tap_proposes_part_and_side_and_the_finding_keeps_the_place(
    size, tmp_path, run_app, open_page
):
    driver = open_page(size)
    begin(driver, tmp_path, run_app)
    tap(driver, size, 470, 300)
    driver.wait_text("mark-panel", "Mark 1, left view. Which part is it?")
    driver.wait_text("mark-part-chest", "Chest")
    driver.wait_text("mark-part-chest", ", left")
    driver.wait_text("mark-part-skin_coat", "Skin and coat, left")
    # Another tap moves what is proposed, and proposes anew.
    tap(driver, size, 600, 400)
    driver.wait("mark-part-abdomen")
    driver.shot(f"mark-proposed-{size['width']}")
    driver.click("mark-part-abdomen")
    driver.wait_text("sheet", "At mark 1, left view")
    driver.click("finding-term-lump")
    driver.wait_text("mark-open", "Move mark 1, left view")
    driver.click("finding-done")
    driver.gone("sheet")
    driver.go(f"/record/{EXAM_ID}/draft")
    driver.read_down_to("Lump in skin or wall, left, mark 1, left view")
    driver.read_down_to("Mark 1: left view, 600 of 1000 across, 526 of 1000 down")


def test_an_earlier_lump_is_measured_again_with_both_readings_side_by_side(
    phone, tmp_path, run_app
):
    begin(phone, tmp_path, run_app, with_an_earlier_lump)
    phone.wait_text("mark-on-left", "Earlier mark 1, 2026-01-20: Skin and coat: Lump")
    phone.shot("mark-earlier-phone")
    tap(phone, PHONE, 620, 304)
    phone.wait_text("mark-panel", "Earlier mark 1, 2026-01-20")
    phone.shot("mark-earlier-tapped-phone")
    phone.click("mark-measure")
    phone.wait_text("lump-readings", "22 mm (calliper, along the body, Kim Sorrel)")
    phone.wait_text("lump-readings", "not typed yet")
    phone.type("lump-size", "31 x 24")
    phone.click("lump-tool-calliper")
    phone.wait_text("lump-readings", "31 × 24 mm (calliper, Alex Rowan)")
    phone.wait_text("lump-beside", "This does not mean unchanged.")
    phone.shot("mark-again-phone")
    phone.click("lump-save")
    phone.gone("sheet")
    open_marks(phone)
    # The lump is one of this exam now, under the number it had.
    phone.wait_text("mark-on-left", "Mark 1, left view: Skin and coat: Lump")
    assert "Earlier mark" not in phone.text("mark-on-left")
    tap(phone, PHONE, 620, 304)
    phone.wait("mark-finding")
    phone.click("mark-new")
    phone.wait_text("mark-panel", "Mark 2, left view. Which part is it?")
    phone.go(f"/record/{EXAM_ID}/draft")
    phone.read_down_to("Lump, left, mark 1, left view, 31 × 24 mm")
    phone.read_down_to("The same lump: 22 mm (calliper, along the body, Kim Sorrel)")
    phone.read_down_to("Mark 1, of 2026-01-20: left view, 620 of 1000 across")
    phone.read_down_to("measured again, see the findings")
    phone.shot("mark-record-phone")


def test_an_earlier_lump_is_measured_again_without_the_drawing_too(
    phone, tmp_path, run_app
):
    folder = prepare_exam(
        tmp_path / "exams", Scope.FOCUSED, PARTS, with_an_earlier_lump
    )
    unlock(phone, run_app(folder=folder))
    phone.go(f"/exam/{EXAM_ID}/region/skin_coat")
    phone.click(f"region-{LUMP}-again")
    phone.type("lump-size", "23")
    phone.click("lump-tool-ruler")
    phone.click("lump-save")
    phone.gone("sheet")
    phone.wait_text("screen", "Measured again in this exam.")
    # It is there: it can be called the same or changed, and no longer gone.
    phone.wait(f"region-{LUMP}-earlier-same")
    for said in ("gone", "not_looked_for", "again"):
        assert not phone.has(f"region-{LUMP}-earlier-{said}")
    assert not phone.has(f"region-{LUMP}-again")
    phone.shot("mark-again-said-phone")


def test_what_was_typed_of_the_same_lump_is_there_after_the_app_was_killed(
    phone, tmp_path, run_app
):
    folder = prepare_exam(
        tmp_path / "exams", Scope.FOCUSED, PARTS, with_an_earlier_lump
    )
    app = run_app(folder=folder)
    unlock(phone, app)
    open_marks(phone)
    tap(phone, PHONE, 620, 304)
    phone.click("mark-measure")
    phone.type("lump-size", "31 x 24")
    phone.wait_text("lump-readings", "not typed yet")
    wait_kept(phone, folder, "31 x 24")
    unlock(phone, run_app(folder=app.killed()))
    open_marks(phone)
    phone.click(f"mark-line-{LUMP}")
    phone.click("mark-measure")
    assert phone.value("lump-size") == "31 x 24"


def test_a_recorded_finding_is_marked_moved_and_taken_back_step_by_step(
    phone, tmp_path, run_app
):
    begin(phone, tmp_path, run_app)
    phone.go(f"/exam/{EXAM_ID}/region/abdomen")
    phone.click("region-abdomen-finding")
    phone.click("finding-term-wound")
    phone.wait_text("mark-open", "Mark it on the drawing")
    phone.click("mark-open")
    # Another part, and nothing of the animal: neither is taken.
    tap(phone, PHONE, 330, 200)
    phone.wait_text("mark-place", "Abdomen is not drawn there.")
    tap(phone, PHONE, 560, 80)
    phone.wait_text("mark-place", "Tap where it is.")
    assert not phone.has("mark-keep")
    tap(phone, PHONE, 600, 400)
    phone.wait_text("mark-place", "Abdomen, left: Wound")
    phone.shot("mark-place-phone")
    phone.click("mark-keep")
    phone.gone("sheet")
    phone.go(f"/record/{EXAM_ID}/draft")
    phone.read_down_to("Wound, left, mark 1, left view")
    phone.go(f"/exam/{EXAM_ID}/region/abdomen")
    phone.click(phone.named("finding-line-"))
    phone.wait_text("mark-open", "Move mark 1, left view")
    phone.click("mark-open")
    phone.click("mark-view-right")
    tap(phone, PHONE, 400, 400, "right")
    phone.wait_text("mark-place", "Abdomen, right: Wound")
    phone.click("mark-keep")
    phone.gone("sheet")
    phone.go(f"/record/{EXAM_ID}/draft")
    phone.read_down_to("Wound, right, mark 1, right view")
    for gone in ("record-mark-right", "record-mark-left"):
        phone.wait(gone)
        phone.go(f"/exam/{EXAM_ID}/region/abdomen")
        phone.click("exam-more")
        phone.click("more-undo")
        phone.go(f"/record/{EXAM_ID}/draft")
        phone.gone(gone)
    phone.read_down_to("Abdomen: Wound")


@SIZES
def test_a_foot_is_tapped_closer_and_its_finding_keeps_both_places(
    size, tmp_path, run_app, open_page
):
    driver = open_page(size)
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("forelimb", *PARTS))
    unlock(driver, run_app(folder=folder))
    open_marks(driver)
    tap(driver, size, 352, 715)
    driver.wait_text("mark-closer-fore_foot_outer.left", "Closer: left fore foot")
    driver.click("mark-closer-fore_foot_outer.left")
    driver.wait_text("mark-panel", "Tap where it is.")
    driver.click("mark-view-fore_foot_under.left")
    driver.wait_text("mark-on-fore_foot_under.left", "Closer drawing, under side")
    # Back, what was tapped on the whole body is still proposed.
    driver.click("mark-whole")
    driver.wait_text("mark-panel", "Mark 1, left view. Which part is it?")
    driver.click("mark-closer-fore_foot_outer.left")
    driver.click("mark-view-fore_foot_under.left")
    driver.wait("mark-on-fore_foot_under.left")
    tap(driver, size, 395, 340, "fore_foot_under.left")
    said = "ark 1, under side of the left fore foot, closer drawing"
    driver.wait_text("mark-panel", f"M{said}. Which part is it?")
    driver.click("mark-part-forelimb.left")
    driver.wait_text("sheet", f"At m{said}")
    driver.click(driver.named("finding-term-"))
    driver.wait_text("mark-open", f"Move m{said}")
    driver.click("finding-done")
    driver.gone("sheet")
    driver.go(f"/record/{EXAM_ID}/draft")
    place = "395 of 1000 across, 315 of 1000 down; left view"
    driver.read_down_to(f"Mark 1: {said.partition(', ')[2]}, {place}")
    driver.wait("record-mark-left")
    driver.wait_text("record-mark-fore_foot_under.left", f"M{said}: Forelimbs, left")
    open_marks(driver)
    # Its line leads to the drawing it was tapped on.
    driver.click(driver.named("mark-line-"))
    driver.wait("mark-on-fore_foot_under.left")
    driver.wait("mark-finding")


def test_a_finding_that_is_recorded_is_marked_closer_at_once(phone, tmp_path, run_app):
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("mouth", "skin_coat"))
    unlock(phone, run_app(folder=folder))
    phone.go(f"/exam/{EXAM_ID}/region/mouth")
    phone.click("region-mouth-finding")
    phone.click(phone.named("finding-term-"))
    phone.click("mark-open")
    phone.click("mark-closer-mouth")
    phone.wait("mark-on-mouth")
    tap(phone, PHONE, 300, 400, "mouth")
    phone.wait_text("mark-place", "Mouth, lips lifted, right")
    phone.click("mark-keep")
    phone.gone("sheet")
    phone.go(f"/record/{EXAM_ID}/draft")
    phone.read_down_to("right, mark 1, open mouth, closer drawing")
    phone.wait("record-mark-mouth")


def fill_device(vault):
    """One open exam of an animal that is no demonstration, in which nothing is said."""
    keep_open(vault, *begun(animal_named(0), Scope.FOCUSED, focus=PARTS))


def fill_clinic(vault):
    vault.settings.put("role", "clinic")
    vault.settings.put("last_person", KIM)


def test_a_lump_is_found_marked_closed_and_read_at_the_clinic_with_its_mark(
    tmp_path, run_app, open_page
):
    device, clinic, between = opened_both(
        tmp_path, run_app, open_page, fill_device, fill_clinic
    )
    pair(device, clinic)
    mark_a_lump(device)
    close(device)
    device.wait_text("record-mark-left", "Mark 1, left view: Chest wall: Lump")
    device.scroll_to("record-mark-left")
    device.shot("mark-closed-phone")
    device.go("/hand-over")
    device.type("hand-folder-path", str(between))
    device.click("hand-folder-save")
    device.click("hand-folder")
    device.wait("hand-bundle-1")
    clinic.go("/clinic/receive")
    clinic.type("clinic-folder", str(between))
    clinic.click("clinic-folder-look")
    clinic.wait_text("clinic-folder-told", "1 new")
    clinic.go(f"/clinic/record/{EXAM_ID}")
    clinic.wait_text("record-signed", "the signature fits")
    clinic.wait_text("record-mark-left", "Mark 1, left view: Chest wall: Lump")
    clinic.scroll_to("record-mark-left")
    clinic.shot("mark-clinic-laptop")
    clinic.read_down_to("Mark 1: left view, 470 of 1000 across, 395 of 1000 down")


def mark_a_lump(device):
    """Tap the chest on the drawing, say that it is the chest wall, and measure it."""
    open_marks(device)
    tap(device, PHONE, 470, 300)
    device.click("mark-part-chest")
    device.click("finding-term-lump")
    device.click("lump-open")
    device.type("lump-size", "14")
    device.click("lump-tool-calliper")
    device.click("lump-save")
    device.gone("sheet")


def close(device):
    """Answer the rest, and sign."""
    for part in ("chest-rest", "abdomen-normal", "skin_coat-normal"):
        device.go(f"/exam/{EXAM_ID}/region/{part.partition('-')[0]}")
        device.click(f"region-{part}")
    device.go(f"/exam/{EXAM_ID}/review")
    device.click("review-close")
    device.type("close-pin", PIN)
    device.click("close-sign")
    device.wait("record-signed")
