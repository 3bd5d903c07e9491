"""How many keys the clinic's evening takes: 25 records read and acknowledged.

Counts are facts of the screens and are held to their limit. Times depend on the
machine and are only printed; they are the program's, without a browser.
"""

import statistics
import time

import pytest

from tests.browser.clinic_pages import DEMO_PIN, enter_clinic, read_it
from tests.browser.driver import LAPTOP
from tests.browser.in_process import InProcessApp, InProcessDriver

pytestmark = pytest.mark.benchmark

RECORDS = 25
KEYS_A_RECORD = 2
DONE = "clinic-acknowledge-done"


@pytest.fixture
def review(tmp_path, monkeypatch):
    """The review of the demonstration's clinic, once the stick was read as well."""
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    app = InProcessApp("--demo", "--clinic")
    driver = InProcessDriver(LAPTOP, [app])
    enter_clinic(driver, app.first_address())
    driver.go("/clinic/receive")
    driver.click("clinic-folder-look")
    driver.wait_text("clinic-received", "stored")
    driver.go("/clinic/review")
    driver.wait("record-signed")
    yield driver
    app.stop()


class Hand:
    """Presses keys and nothing else, and counts them."""

    def __init__(self, driver):
        self.driver, self.keys = driver, 0
        self.times = []

    def press(self, key):
        begun = time.perf_counter()
        self.driver.press(key)
        self.times.append(time.perf_counter() - begun)
        self.keys += 1


def test_25_records_are_read_and_acknowledged_with_two_keys_each(review):
    hand = Hand(review)
    assert len(review.names("clinic-row-")) > RECORDS
    read = {review.text("record-text")}
    read_it(review)
    hand.press("a")
    # The PIN is typed once, where the cursor stands; its keys are told apart.
    review.type("clinic-pin", DEMO_PIN)
    review.press("Enter")
    review.wait(DONE)
    pin_keys = len(DEMO_PIN) + 1
    for _ in range(RECORDS - 1):
        hand.press("j")
        read_it(review)
        review.gone(DONE)
        read.add(review.text("record-text"))
        hand.press("a")
        review.wait_text(DONE, "Acknowledged by You (demo)")
    rows = map(review.text, review.names("clinic-row-"))
    assert sum("Acknowledged by You (demo)" in row for row in rows) == RECORDS
    assert len(read) == RECORDS
    typical = statistics.median(hand.times) * 1000
    print(f"\nread and acknowledge {RECORDS} records: {hand.keys} keys ", end="")
    print(
        f"(limit {KEYS_A_RECORD * RECORDS}), and {pin_keys} once for the PIN; ", end=""
    )
    print(f"{typical:.0f} ms a key at the median, in process")
    assert hand.keys <= KEYS_A_RECORD * RECORDS
