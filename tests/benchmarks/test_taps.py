"""How many taps the everyday tasks take, and how fast a tap is answered.

Counts are facts of the screens and are held to the design's limits. Times depend on
the machine and are only printed.
"""

import os
import statistics

import pytest
from playwright.sync_api import sync_playwright

from exam_app.domain.exam.exam import Exam
from tests.browser import conftest as walks
from tests.browser.driver import PHONE, Driver, start_app
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.prepared import KIM, PIN, unlock
from tests.browser.whole_exam import Hand, answer_row, rows_of, take_vitals

pytestmark = [pytest.mark.benchmark, pytest.mark.browser]

# All times are taken inside the page. A tap counts from the finger's lifting, which is
# what the app answers to; the driver's own way between down and up is left out.
HEAR = """
  const Plain = WebSocket;
  window.sent = window.got = null;
  window.WebSocket = class extends Plain {
    constructor(...given) {
      super(...given);
      this.addEventListener('message', () => { window.got ??= performance.now(); });
    }
    send(bytes) { window.sent ??= performance.now(); return super.send(bytes); }
  };
"""
WATCH = """() => {
  const text = () => {
    const found = document.querySelector('[flt-semantics-identifier="exam-progress"]');
    return found ? found.outerHTML : '';
  };
  window.lifted = window.answered = null;
  addEventListener('pointerup', () => {
    window.lifted = performance.now(); window.answered = null; window.before = text();
    window.sent = window.got = null;
  }, true);
  new MutationObserver(() => {
    if (window.lifted !== null && window.answered === null && text() !== window.before)
      window.answered = performance.now();
  }).observe(document, {subtree: true, childList: true, attributes: true,
    characterData: true});
}"""
TIMES = "[sent - lifted, got - sent, answered - got, answered - lifted]"
PARTS = ("page, until it is sent", "app, until its answer", "page, drawn", "in all")


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as playwright:
        launched = walks.launched(playwright.chromium)
        yield launched
        launched.close()


@pytest.fixture
def walk(browser, tmp_path):
    started: list[Exam] = []

    def keep(exam, _protocol):
        started.append(exam)
        return exam

    app = start_app(folder=prepare_exam(tmp_path / "exams", alter=keep))
    page = browser.new_page(viewport=PHONE)
    page.add_init_script(HEAR)
    driver = Driver(page, tmp_path)
    unlock(driver, app)
    driver.go(f"/exam/{EXAM_ID}")
    driver.wait("exam-progress")
    yield driver, started[0]
    page.close()
    app.stop()


def report(task, taps, limit):
    print(f"\n{task}: {taps} taps (limit {limit})")
    assert taps <= limit


def test_everyday_tasks_stay_within_their_taps(walk):
    driver, exam = walk
    hand = Hand(driver)
    hand.tap("vital-temperature")
    hand.tap("vital-reason-refused")
    driver.gone("sheet")
    report("temperature refused", len(hand.taps), 2)

    hand = Hand(driver)
    hand.tap("region-eyes-finding")
    hand.tap("finding-side-both")
    hand.tap("finding-term-red")
    hand.tap("finding-done")
    driver.gone("sheet")
    report("the same small find on both sides", len(hand.taps), 4)
    driver.click("exam-undo")

    hand = Hand(driver)
    hand.tap("examiner")
    hand.tap(f"person-{KIM}")
    driver.gone("sheet")
    report("change examiner", len(hand.taps), 2)
    driver.click("examiner")
    driver.click("lock-now")
    driver.wait("lock-pin")
    hand = Hand(driver)
    hand.type("lock-pin", PIN)
    hand.tap("lock-open")
    driver.wait("exam-progress")
    report("resume after lock (the PIN typed)", len(hand.taps), 2)

    hand = Hand(driver)
    take_vitals(hand)
    vitals = len(hand.taps)
    for region_id, _ in rows_of(exam):
        answer_row(hand, region_id)
    rows = len(rows_of(exam))
    print(f"\nwhole normal dog exam: {len(hand.taps)} taps: vitals {vitals}, ", end="")
    print(f"regions {len(hand.taps) - vitals} for {rows} rows")
    assert len(hand.taps) - vitals == rows

    hand = Hand(driver)
    hand.tap("exam-stop")
    hand.tap("stop-reason-unsafe")
    hand.tap("stop-confirm")
    driver.wait("review-status")
    report("stop early", len(hand.taps), 3)


def test_tap_to_changed_screen_is_measured(walk):
    driver, exam = walk
    driver.page.evaluate(WATCH)
    times = []
    for region_id, _ in rows_of(exam):
        driver.click(f"region-{region_id}-normal")
        driver.page.wait_for_function("() => window.answered !== null", timeout=20_000)
        times.append(driver.page.evaluate(TIMES))
    load = os.getloadavg()[0]
    print(f"\ntap to changed screen, {len(times)} taps, load {load:.1f}:")
    for name, part in zip(PARTS, zip(*times, strict=True), strict=True):
        p95 = sorted(part)[int(len(part) * 0.95)]
        median = statistics.median(part)
        print(f"  {name}: median {median:.0f} ms, 95th percentile {p95:.0f} ms")
    print("  goal: 95th percentile in all < 100 ms")
    assert len(times) == len(rows_of(exam))
