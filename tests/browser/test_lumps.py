"""A lump measured on a phone: typed, saved, laid beside the earlier one, written."""

from dataclasses import replace

import pytest

from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import EarlierFinding, Finding
from exam_app.domain.exam.people import Attribution
from exam_app.domain.lumps.lumps import LUMP_LENGTH, Lump, LumpDepth, LumpSize, LumpTool
from exam_app.domain.measure.units import parse_reading
from exam_app.domain.moments import Moment
from tests.browser.driver import SMALL
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.prepared import ALEX, unlock

SKIN = "skin_coat"


def with_a_lump(exam, protocol):
    """Find a lump now, not yet measured; one was measured here in January."""
    now = Moment(exam.started.utc_ms, exam.started.offset_min)
    by = Attribution(ALEX, ALEX, now, now)
    readings = (parse_reading("22 mm", "mm", LUMP_LENGTH),)
    size = LumpSize(readings, LumpTool.CALLIPER, "along the body", "Kim Sorrel")
    before = EarlierFinding(
        "9" * 32,
        "8" * 32,
        SKIN,
        "2026-01-20",
        "Lump, 22 mm",
        lump=Lump(LumpDepth.UNDER_SKIN, size),
    )
    region = protocol.region(SKIN)
    term = next(term for term in region.terms if term.is_lump)
    found = Finding("7" * 32, term.label, by, term_id=term.term_id)
    exam = add_finding(exam, protocol, SKIN, found, "6" * 32)
    return replace(exam, earlier=(before,))


@pytest.fixture
def small(open_page):
    return open_page(SMALL)


@pytest.fixture
def exam(tmp_path, run_app):
    return run_app(folder=prepare_exam(tmp_path / "exams", alter=with_a_lump))


def test_lump_measured_on_a_phone_stands_beside_the_earlier_one(phone, exam):
    unlock(phone, exam)
    phone.go(f"/exam/{EXAM_ID}/region/{SKIN}")
    phone.click(phone.named("finding-line-"))
    phone.click("finding-side-left")
    phone.click("lump-open")
    phone.type("lump-size", "31 x 24")
    phone.click("lump-save")
    phone.wait_text("lump-problem", "what it was measured with")
    phone.click("lump-tool-calliper")
    phone.gone("lump-problem")
    phone.click("lump-depth-under_skin")
    phone.scroll_to("lump-beside")
    phone.wait_text("lump-beside", "Longest 22.0 mm before, 31.0 mm now.")
    phone.wait_text("lump-beside", "This does not mean unchanged.")
    phone.shot("lump-beside-phone")
    phone.click("lump-save")
    phone.gone("lump-save")
    phone.go(f"/record/{EXAM_ID}")
    phone.wait("record-text")
    phone.read_down_to("left, 31 × 24 mm (calliper, Alex Rowan), under skin")
    phone.read_down_to("Longest 22.0 mm before, 31.0 mm now.")
    phone.shot("lump-record-phone")


@pytest.mark.chromium_only("places are measured")
def test_size_tool_and_save_stay_in_sight_however_far_the_sheet_is_scrolled(
    small, exam
):
    unlock(small, exam)
    small.go(f"/exam/{EXAM_ID}/region/{SKIN}")
    small.click(small.named("finding-line-"))
    small.shot("finding-details-small")
    small.click("lump-open")
    small.wait("lump-save")
    small.shot("lump-small")
    kept = ("lump-size", "lump-unit-mm", "lump-tool-by_eye", "lump-save")

    def places():
        return [small.find(name).first.bounding_box() for name in kept]

    before = places()
    assert all(box["y"] >= 0 and box["y"] + box["height"] <= 640 for box in before)
    small.scroll_to("lump-pain-not_tested")
    small.shot("lump-small-scrolled")
    assert places() == before
    small.click("lump-save")
    small.wait("lump-problem")
    small.shot("lump-small-refused")
    assert places() == before
