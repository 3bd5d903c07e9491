"""An exam with nothing but a keyboard, at laptop size."""

import pytest
from playwright.sync_api import TimeoutError as PlaywrightTimeoutError

from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.prepared import PASSPHRASE

pytestmark = pytest.mark.chromium_only("the focus moves by keys")

MOST_STOPS = 60
FOCUS_MS = 1500
FOCUSED = """() => {
    const named = 'flt-semantics-identifier';
    const at = document.activeElement && document.activeElement.closest(`[${named}]`);
    return at ? at.getAttribute(named) : '';
}"""


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
    wait_for_focus(laptop, "region-distance-finding")

    press_on(laptop, "vital-weight")
    wait_for_focus(laptop, "vital-typed")
    stops = tab_to(laptop, "sheet-close")
    assert all(not stop.startswith(("region-", "exam-")) for stop in stops), stops
    assert "vital-save" in stops
    press_on(laptop, "vital-unit-lb", "Space")
    tab_to(laptop, "vital-typed")
    laptop.page.keyboard.type("24.5")
    laptop.press("Enter")
    laptop.wait_text("vital-weight", "24.5 lb")
    wait_for_focus(laptop, "vital-weight")

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
