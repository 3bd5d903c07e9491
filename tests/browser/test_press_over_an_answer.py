"""What is held down while a finger answers is still meant when it is let go."""

import pytest

from exam_app.domain.protocol.protocol import Scope
from tests.browser.driver import PHONE
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.prepared import unlock

pytestmark = pytest.mark.chromium_only("a mouse and a finger press at once")


# Until the client has taken a press for more than the beginning of a click.
PRESSED_FRAMES = 30


def held(driver, identifier):
    """Press a control with the mouse, and hold it."""
    box = driver.find(identifier).first.bounding_box()
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    driver.page.mouse.move(*middle)
    driver.page.mouse.down()
    driver.frames(PRESSED_FRAMES)


@pytest.fixture
def phone(tmp_path, run_app, open_page):
    driver = open_page(PHONE)
    folder = prepare_exam(tmp_path / "exams", Scope.TECHNICIAN)
    unlock(driver, run_app(folder=folder))
    return driver


def test_a_key_held_over_a_save_types_into_the_next_vital(phone):
    phone.go(f"/exam/{EXAM_ID}/vitals")
    phone.type("vital-typed", "12.5")
    held(phone, "pad-8")
    phone.touch("vital-save")
    phone.wait("vital-state-resting")
    phone.page.mouse.up()
    phone.click("pad-0")
    assert phone.value("vital-typed") == "80"
