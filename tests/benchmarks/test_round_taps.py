"""How many taps twenty ewes of a round take by thumb, with what it took in seconds.

Counts are facts of the screens and are held to a limit; the seconds are a scripted
hand's on this machine and are only printed. A tag typed is one tap, its keys are named
apart; a reader that types takes none.
"""

import time

import pytest
from playwright.sync_api import sync_playwright

from tests.browser import conftest as walks
from tests.browser.driver import PHONE, Driver, start_app
from tests.browser.exam_drafts import EXAM_ID, prepare_flock
from tests.browser.prepared import unlock
from tests.browser.test_round import BODY_CONDITION, KEY_MS, LOCOMOTION, focused
from tests.browser.whole_exam import Hand

pytestmark = [pytest.mark.benchmark, pytest.mark.browser]

EWES = 20
MOST_TAPS = 6
ANSWERS = ("region-distance-normal", "vital-grade-3", "vital-grade-0")


@pytest.fixture
def phone(tmp_path):
    app = start_app(folder=prepare_flock(tmp_path / "exams"))
    with sync_playwright() as playwright:
        browser = walks.launched(playwright.chromium)
        driver = Driver(browser.new_page(viewport=PHONE), tmp_path)
        unlock(driver, app)
        driver.go(f"/round/{EXAM_ID}")
        driver.wait("round-columns-done")
        for place in (BODY_CONDITION, LOCOMOTION):
            driver.click(f"round-column-{place}")
        driver.click("round-columns-done")
        driver.gone("sheet")
        driver.wait("round-begin")
        yield driver
        browser.close()
    app.stop()


def answer(hand):
    for name in ANSWERS:
        hand.driver.wait(name)
        hand.tap(name)


def report(way, hand, keys, seconds, before):
    each, scrolls = len(hand.taps) / EWES, hand.driver.scrolls - before
    print(f"\n{EWES} ewes, {way}: {len(hand.taps)} taps, {each:.1f} an ewe", end="")
    print(f" (limit {MOST_TAPS}), {keys} keys of tags, {scrolls} scrolls, ", end="")
    print(f"{seconds:.0f} s, {seconds / EWES:.1f} s an ewe")
    assert each <= MOST_TAPS
    assert scrolls == 0


def all_finished(driver):
    words = f"{EWES} animals here: 0 closed, {EWES} finished, 0 open"
    driver.wait_text("round-counts", words)


def test_twenty_ewes_by_thumb_take_few_taps_and_no_scroll(phone):
    hand, before, began = Hand(phone), phone.scrolls, time.monotonic()
    keys = 0
    for number in range(EWES):
        tag, go_on = f"{number:04}", "round-next" if number else "round-begin"
        phone.wait(go_on)
        hand.type("round-tag", tag)
        keys += len(tag)
        hand.tap(go_on)
        answer(hand)
    phone.wait("round-next")
    hand.tap("round-next")
    seconds = time.monotonic() - began
    all_finished(phone)
    report("tags typed on the phone", hand, keys, seconds, before)


def test_twenty_ewes_with_a_reader_that_types_take_a_tap_a_question(phone):
    hand, before, began = Hand(phone), phone.scrolls, time.monotonic()
    hand.tap("round-tag")
    keys = 0
    for number in range(EWES):
        focused(phone, "round-tag")
        tag = f"{number:04}"
        phone.page.keyboard.type(tag, delay=KEY_MS)
        phone.press("Enter")
        keys += len(tag) + 1
        answer(hand)
    phone.wait("round-next")
    seconds = time.monotonic() - began
    all_finished(phone)
    report("tags read by a reader that types", hand, keys, seconds, before)
    assert len(hand.taps) == 1 + EWES * len(ANSWERS)
