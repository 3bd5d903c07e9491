"""A place on a drawing by keys alone: a cross, what is under it, and Enter."""

import pytest

from exam_app.domain.protocol.protocol import Scope
from exam_app.protocols.bodies import load_body
from exam_app.ui.finding.mark_drawing import SMALL_STEP, STEP
from tests.browser.driver import LAPTOP
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.in_process import unlocked

PARTS = ("forelimb", "chest", "mouth", "skin_coat")


@pytest.fixture
def marks(tmp_path):
    """The place sheet over an exam, with the keys on its drawing."""
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, PARTS)
    with unlocked(folder, LAPTOP) as driver:
        driver.go(f"/exam/{EXAM_ID}")
        driver.wait("exam-progress")
        driver.click("exam-body")
        driver.click("body-mark")
        driver.focus_drawing("mark-on-left")
        yield driver


def record(driver) -> str:
    driver.go(f"/record/{EXAM_ID}/draft")
    driver.wait("record-mark-left")
    return driver.text("screen")


def test_the_drawing_says_how_it_is_used_by_keys(marks):
    assert "Arrow keys move a cross, with Shift in small steps" in marks.text(
        "mark-on-left"
    )


@pytest.mark.slow
def test_what_is_under_the_cross_is_said_and_enter_marks_it(marks):
    # The cross begins on the drawing and goes where the arrows lead.
    marks.wait("mark-cross")
    said = {marks.text("mark-cross")}
    for _ in range(4):
        marks.press("ArrowRight")
        said.add(marks.text("mark-cross"))
    assert any(words.endswith(", left") for words in said)
    assert len(said) > 1
    marks.press("Enter")
    marks.wait_text("mark-panel", "Mark 1, left view. Which part is it?")
    # Nothing is kept before the part was confirmed.
    marks.click("mark-part-skin_coat")
    marks.click("finding-term-wound")
    marks.wait_text("mark-open", "Move mark 1, left view")


def crossed(driver):
    """The place that Enter marks, in thousandths, as the record says it."""
    driver.press("Enter")
    driver.click("mark-part-skin_coat")
    driver.click("finding-term-wound")
    driver.click("finding-done")
    words = record(driver).partition("Mark 1: left view, ")[2]
    across, _, rest = words.partition(" of 1000 across, ")
    return int(across), int(rest.partition(" of")[0])


@pytest.mark.slow
@pytest.mark.parametrize(
    ("keys", "moved"),
    [
        ((), (0, 0)),
        (("ArrowRight",), (STEP, 0)),
        (("Shift+ArrowRight", "Shift+ArrowRight"), (2 * SMALL_STEP, 0)),
        (("ArrowRight", "Shift+ArrowLeft", "ArrowLeft"), (-SMALL_STEP, 0)),
        (("ArrowUp", "ArrowDown", "Shift+ArrowDown"), (0, SMALL_STEP)),
    ],
)
def test_arrows_make_large_steps_and_with_shift_small_ones(marks, keys, moved):
    view = load_body("dog").views["left"]
    start = view.areas[0].label
    for key in keys:
        marks.press(key)
    x, y = crossed(marks)
    assert x == round(start[0] + moved[0])
    # Thousandths of the height are larger or smaller than those of the width.
    assert y == pytest.approx((start[1] + moved[1]) * 1000 / view.height, abs=0.51)


@pytest.mark.slow
def test_the_cross_stays_on_the_drawing(marks):
    for _ in range(30):
        marks.press("ArrowUp")
    marks.wait_text("mark-cross", "Beside what is drawn")
    marks.press("Enter")
    marks.wait_text("mark-panel", "Tap where it is.")
    for _ in range(40):
        marks.press("ArrowDown")
        marks.press("ArrowRight")
    marks.wait_text("mark-cross", "Beside what is drawn")


def test_the_cross_goes_with_the_keys(marks):
    marks.wait("mark-cross")
    marks.press("Tab")
    # Tab was let go on the drawing again, as nothing else takes keys here.
    marks.wait("mark-cross")
    marks.touch_drawing("mark-on-left", 200, 90)
    marks.gone("mark-cross")


@pytest.mark.slow
def test_a_foot_is_marked_on_its_closer_drawing_by_keys(marks):
    down_to_the_foot(marks)
    marks.click("mark-closer-fore_foot_outer.left")
    marks.wait("mark-on-fore_foot_outer.left")
    marks.click("mark-view-fore_foot_under.left")
    marks.focus_drawing("mark-on-fore_foot_under.left")
    for _ in range(5):
        marks.press("ArrowUp")
    marks.wait_text("mark-cross", "Forelimbs, left, main pad")
    marks.press("Enter")
    said = "Mark 1, under side of the left fore foot, closer drawing"
    marks.wait_text("mark-panel", f"{said}. Which part is it?")
    marks.click("mark-part-forelimb.left")
    marks.click(marks.named("finding-term-"))
    words = record(marks)
    assert "under side of the left fore foot, closer drawing, 500 of 1000" in words
    assert marks.has("record-mark-fore_foot_under.left")


def down_to_the_foot(driver):
    """Go down until the cross is low on the fore limb, and propose it."""
    for _ in range(5):
        driver.press("ArrowLeft")
    for _ in range(7):
        driver.press("ArrowDown")
    driver.wait_text("mark-cross", "Forelimbs, left")
    driver.press("Enter")
