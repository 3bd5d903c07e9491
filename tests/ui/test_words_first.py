"""Where nothing can be recorded yet, the button says what to do, and begins it."""

import pytest

from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.in_process import unlocked


@pytest.fixture
def phone(tmp_path):
    with unlocked(prepare_exam(tmp_path / "exams")) as driver:
        driver.go(f"/exam/{EXAM_ID}/words")
        yield driver


def test_with_nothing_to_record_the_button_says_so_and_gives_the_cursor(phone):
    phone.wait_text("words-record", "Type or dictate a line")
    phone.type("words-line", "blimp")
    phone.wait_text("words-record", "Write on, or answer above")
    phone._client.focus(None)
    phone.click("words-record")
    phone.until(lambda: phone._client.focused is not None, "typing in a field")
    phone.type("words-line", "T 38.5 C")
    phone.wait_text("words-record", "Record 1 entry")
