"""The place that was left comes back where it lay, and no second tap takes back."""

import io
from itertools import groupby

import pytest
from PIL import Image

from exam_app.domain.animal.signalment import Animal
from exam_app.domain.protocol.protocol import Scope
from tests.browser.driver import SMALL
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.prepared import unlock
from tests.browser.test_hand import EXAM, SIZES, begin

COW = Animal("8" * 32, "Alma Demo", "cattle", is_demo=True)
TAKES_BACK = ("exam-undo", "exam-redo", "more-undo", "vital-clear", "review-undo")
# The identifier of what lies on top at a place of the window.
_AT = """([x, y]) => {
    const named = 'flt-semantics-identifier';
    const on = document.elementFromPoint(x, y);
    const at = on && on.closest(`[${named}]`);
    return at ? at.getAttribute(named) : '';
}"""
_ROWS = """list => [...list.querySelectorAll('[flt-semantics-identifier]')].map(
    one => [one.getAttribute('flt-semantics-identifier'),
            Math.round(one.getBoundingClientRect().y)])"""


def settle(driver):
    """Let the list come to rest where it was scrolled to."""
    driver.wait("exam-list")
    places = []
    while len(places) < 3 or len({str(place) for place in places[-3:]}) > 1:
        driver.frames(15)
        places.append(driver.find("exam-list").first.evaluate(_ROWS))


def top_of(driver, identifier):
    driver.wait(identifier)
    settle(driver)
    return driver.find(identifier).first.bounding_box()["y"]


def middle_of(driver, identifier):
    box = driver._tappable(identifier).bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


@pytest.mark.chromium_only("places are measured")
@SIZES
def test_a_part_far_down_lies_where_it_lay_after_back_review_and_a_kill(
    size, tmp_path, run_app, open_page
):
    folder = prepare_exam(tmp_path / "exams")
    driver, app = open_page(size), run_app(folder=folder)
    unlock(driver, app)
    driver.go(EXAM)
    row = "region-abdomen-row"
    driver.click("region-heart-normal")
    driver.wait("region-abdomen-normal")
    as_it_lay = pytest.approx(top_of(driver, row), abs=2)

    driver.click("region-abdomen-open")
    driver.wait("exam-next")
    driver.click("back")
    assert top_of(driver, row) == as_it_lay
    if size == SMALL:
        driver.click("exam-more")
    driver.click("exam-review")
    driver.wait("review-status")
    driver.click("back")
    assert top_of(driver, row) == as_it_lay
    driver.click("back")
    driver.click(f"day-draft-{EXAM_ID}")
    assert top_of(driver, row) == as_it_lay
    driver.wait_text("saved", "Saved")
    unlock(driver, run_app(folder=app.killed()))
    driver.go(EXAM)
    assert top_of(driver, row) == as_it_lay


def tall_lines(driver):
    """Count the lines of large digits on the face of a count: bright on dark."""
    box = driver.find("count-face").first.bounding_box()
    seen = Image.open(io.BytesIO(driver.page.screenshot())).convert("L")
    inside = (box["x"] + 8, box["y"] + 8, box["x"] + box["width"] - 8)
    face = seen.crop((*map(int, inside), int(box["y"] + box["height"] - 8)))
    rows = (face.crop((0, y, face.width, y + 1)) for y in range(face.height))
    bright = [row.getextrema()[1] > 200 for row in rows]
    runs = [len([*run]) for is_bright, run in groupby(bright) if is_bright]
    return sum(run > 60 for run in runs)


@pytest.mark.chromium_only("places are measured")
def test_a_count_of_minutes_shows_its_three_digits_in_one_line_and_leads_back(
    open_page, tmp_path, run_app
):
    driver = open_page(SMALL)
    begin(driver, prepare_exam(tmp_path / "exams", animal=COW), run_app)
    driver.click("vital-rumen_contractions")
    driver.wait("vital-count-120")
    as_it_lay = pytest.approx(top_of(driver, "vital-save"), abs=2)
    driver.click("vital-count-120")
    driver.wait_text("count-face", "11")
    driver.shot("count-minutes-small")
    cancel = driver.find("count-cancel").first.bounding_box()
    assert cancel["y"] + cancel["height"] <= 640
    assert tall_lines(driver) == 1
    driver.click("count-cancel")
    driver.wait("vital-count-120")
    assert top_of(driver, "vital-save") == as_it_lay


@pytest.mark.chromium_only("taps land on a place, whatever is drawn there")
def test_no_way_back_appears_under_the_finger_that_answered(
    phone, tmp_path, run_app, monkeypatch
):
    monkeypatch.setenv("TEST_GUARD", "0.35")
    begin(phone, prepare_exam(tmp_path / "exams"), run_app)
    answers = (
        "region-distance-normal",
        "vital-grade-0",
        "vital-word-pink",
        "region-eyes.left-normal",
        "region-eyes.right-normal",
        "region-ears-normal",
        "region-head-normal",
    )
    under = {}
    for name in answers:
        if name == "vital-grade-0":
            phone.click("vital-mentation")
        if name == "vital-word-pink":
            phone.click("vital-mucous_membrane_colour")
        phone.scroll_to(name)
        settle(phone)
        place = middle_of(phone, name)
        phone.page.mouse.click(*place)
        settle(phone)
        under[name] = phone.page.evaluate(_AT, place)
    assert not set(under.values()) & set(TAKES_BACK)


@pytest.mark.chromium_only("taps land on a place, whatever is drawn there")
def test_a_second_tap_on_take_back_does_not_do_it_again(
    phone, tmp_path, run_app, monkeypatch
):
    monkeypatch.setenv("TEST_GUARD", "0.35")
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("eyes", "nose"))
    begin(phone, folder, run_app)
    settle(phone)
    phone.click("region-eyes-normal")
    phone.wait_text("exam-progress", "2 of 3")
    settle(phone)
    place = middle_of(phone, "exam-undo")
    for _ in range(2):
        phone.page.mouse.click(*place, delay=20)
    phone.wait_text("told", "Taken back: Eyes, both: no abnormality")
    settle(phone)
    phone.wait("exam-redo")
    phone.wait_text("exam-progress", "0 of 3")
