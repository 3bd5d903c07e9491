"""The page of words: what to do where nothing can be recorded, words for a remark."""

import asyncio

import pytest

from exam_app.app.words.line_state import LineState
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


def test_words_go_into_a_remark_once_and_stand_below_their_sheet_until_then(
    phone, monkeypatch
):
    saved, asked = asyncio.Event(), []
    put = LineState.put_into_remark

    async def slowly(state, not_read, key):
        asked.append(key)
        await saved.wait()
        return await put(state, not_read, key)

    async def goes_on():
        saved.set()

    monkeypatch.setattr(LineState, "put_into_remark", slowly)
    phone.type("words-line", "wagged happily")
    phone.click("words-remark-0")
    phone.click("words-part-nose")
    # Another tap before the first one is kept is no second remark.
    phone.click("words-part-mouth")
    assert phone.has("words-part-nose")
    phone.app.run(goes_on())
    phone.gone("sheet")
    assert asked == ["nose"]
    assert "wagged" not in phone.text("words-not-read")
    phone.click("words-dismiss-0")
    phone.gone("words-not-read")
