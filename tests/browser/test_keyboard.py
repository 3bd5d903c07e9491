"""An exam with nothing but a keyboard, at laptop size, and in a narrow window."""

import pytest
from playwright.sync_api import TimeoutError as PlaywrightTimeoutError

from exam_app.domain.protocol.protocol import Scope
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.prepared import PASSPHRASE, unlock

pytestmark = pytest.mark.chromium_only("the focus moves by keys")

MOST_STOPS = 60
FOCUS_MS = 1500
FOCUSED = """() => {
    const named = 'flt-semantics-identifier';
    const at = document.activeElement && document.activeElement.closest(`[${named}]`);
    return at ? at.getAttribute(named) : '';
}"""


_READ = """() => [...document.querySelectorAll('[flt-semantics-identifier]')]
    .map(node => node.getAttribute('flt-semantics-identifier'))"""


def focused(driver):
    return driver.page.evaluate(FOCUSED)


def wait_for_focus(driver, identifier):
    driver.page.wait_for_function(f"named => ({FOCUSED})() === named", arg=identifier)


def press_tab(driver):
    """Press Tab, wait until the focus has moved, and tell where it is."""
    before = focused(driver)
    driver.press("Tab")
    try:
        driver.page.wait_for_function(
            f"before => {{ const now = ({FOCUSED})(); return now && now !== before; }}",
            arg=before,
            timeout=FOCUS_MS,
        )
    except PlaywrightTimeoutError:
        # Some stops have no name: the next Tab leads on.
        return before
    return focused(driver)


def tab_to(driver, identifier):
    """Press Tab until a control has the focus; tell the stops on the way."""
    driver.wait(identifier)
    stops = [focused(driver)]
    while stops[-1] != identifier:
        assert len(stops) < MOST_STOPS, f"Tab never reached {identifier}: {stops}"
        stops.append(press_tab(driver))
    return stops


def press_on(driver, identifier, key="Enter"):
    stops = tab_to(driver, identifier)
    driver.press(key)
    return stops


def test_exam_is_walked_up_to_the_refusal_with_a_keyboard_alone(
    laptop, tmp_path, run_app
):
    app = run_app(folder=prepare_exam(tmp_path / "exams"))
    laptop.open(app.first_address())
    tab_to(laptop, "unlock-secret")
    laptop.page.keyboard.type(PASSPHRASE)
    laptop.press("Enter")
    laptop.wait("examiner")
    press_on(laptop, f"day-draft-{EXAM_ID}")

    press_on(laptop, "region-distance-normal", "Space")
    laptop.wait_text("region-distance-state", "No abnormality")
    # The weight has come up, and its number can be typed at once.
    wait_for_focus(laptop, "vital-typed")
    laptop.page.keyboard.type("24.5")
    press_on(laptop, "vital-unit-lb", "Space")
    press_on(laptop, "vital-save")
    laptop.wait_text("vital-weight", "24.5 lb")

    press_on(laptop, "region-head-row")
    wait_for_focus(laptop, "region-head-normal")
    press_on(laptop, "region-head-finding")
    wait_for_focus(laptop, "sheet-close")
    laptop.press("Escape")
    laptop.gone("sheet")
    wait_for_focus(laptop, "region-head-finding")
    laptop.press("Enter")
    laptop.shot("keyboard-terms-laptop")
    stops = tab_to(laptop, "finding-words")
    term = next(stop for stop in stops if stop.startswith("finding-term-"))
    press_on(laptop, term)
    laptop.wait("finding-note")
    laptop.press("Escape")
    laptop.gone("sheet")
    wait_for_focus(laptop, "region-head-finding")

    laptop.press("F2")
    laptop.wait("review-status")
    laptop.shot("keyboard-review-laptop")


def test_parts_are_gone_to_by_arrows_and_answered_by_enter(laptop, tmp_path, run_app):
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("eyes", "nose"))
    unlock(laptop, run_app(folder=folder))
    laptop.go(f"/exam/{EXAM_ID}")
    laptop.wait("region-eyes-normal")
    laptop.press("ArrowDown")
    wait_for_focus(laptop, "region-nose-normal")
    laptop.press("Enter")
    laptop.wait_text("region-nose-state", "No abnormality")


def test_a_screen_reader_meets_the_list_then_the_part_then_its_answers(
    laptop, tmp_path, run_app
):
    unlock(laptop, run_app(folder=prepare_exam(tmp_path / "exams")))
    laptop.go(f"/exam/{EXAM_ID}")
    laptop.wait("region-distance-normal")
    read = laptop.page.evaluate(_READ)
    order = ["exam-list", "region-head-row", "region-distance-open", "exam-zone"]
    assert [name for name in read if name in order] == order
    assert read.index("exam-zone") < read.index("region-distance-normal")


def test_in_a_narrow_window_a_key_makes_buttons_of_what_a_finger_taps(
    phone, tmp_path, run_app
):
    app = run_app(folder=prepare_exam(tmp_path / "exams"))
    unlock(phone, app)
    phone.go(f"/exam/{EXAM_ID}")
    press_on(phone, "region-distance-normal", "Space")
    phone.wait_text("region-distance-state", "No abnormality")
    press_on(phone, "vital-other")
    phone.wait("sheet")


def test_a_foot_is_marked_closer_with_keys_alone(laptop, tmp_path, run_app):
    folder = prepare_exam(tmp_path / "exams", Scope.FOCUSED, ("forelimb", "skin_coat"))
    unlock(laptop, run_app(folder=folder))
    laptop.go(f"/exam/{EXAM_ID}")
    press_on(laptop, "exam-body")
    laptop.wait("body-mark")
    press_on(laptop, "body-mark")
    laptop.wait("mark-panel")
    tab_to(laptop, "mark-on-left")
    # From the middle of the trunk to the near fore foot.
    for key in ("ArrowLeft",) * 5 + ("ArrowDown",) * 7:
        laptop.press(key)
    laptop.wait_text("mark-cross", "Forelimbs, left")
    laptop.press("Shift+ArrowLeft")
    laptop.shot("keyboard-cross-laptop")
    laptop.press("Enter")
    laptop.wait_text("mark-panel", "Mark 1, left view. Which part is it?")
    press_on(laptop, "mark-closer-fore_foot_outer.left")
    # The drawing that has come has the keys, and from it the others are gone to.
    wait_for_focus(laptop, "mark-on-fore_foot_outer.left")
    laptop.wait_text("mark-cross", "Forelimbs, left, pastern")
    for _ in range(7):
        laptop.press("ArrowDown")
    laptop.wait_text("mark-cross", "Forelimbs, left, toes")
    laptop.shot("keyboard-cross-foot-laptop")
    laptop.press("Enter")
    laptop.wait_text("mark-panel", "outer side of the left fore foot, closer drawing")
    press_on(laptop, "mark-part-forelimb.left")
    term = laptop.named("finding-term-")
    press_on(laptop, term)
    laptop.wait_text("mark-open", "Move mark 1, outer side of the left fore foot")
    laptop.press("Escape")
    laptop.gone("sheet")
    laptop.go(f"/record/{EXAM_ID}/draft")
    laptop.read_down_to("outer side of the left fore foot, closer drawing, 576 of 1000")
