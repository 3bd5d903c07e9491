"""How many taps the everyday tasks take, and how fast a tap is answered.

Counts are facts of the screens and are held to the design's limits. Times depend on
the machine and are only printed.
"""

import statistics

import pytest
from playwright.sync_api import sync_playwright

from exam_app.domain.exam import Exam
from tests.browser.conftest import HEADLESS_FLAGS
from tests.browser.driver import PHONE, Driver, start_app
from tests.browser.exam_drafts import EXAM_ID, go, prepare_exam
from tests.browser.prepared import KIM, PIN, unlock
from tests.browser.whole_exam import Hand, answer_row, rows_of, take_vitals
from tests.conftest import find_chromium

pytestmark = [pytest.mark.benchmark, pytest.mark.browser]

TAP_TO_SCREEN = """identifier => new Promise(done => {
  const find = id => document.querySelector('[flt-semantics-identifier="' + id + '"]');
  const progress = find('exam-progress');
  const before = progress.textContent + progress.innerHTML;
  const start = performance.now();
  const look = () => {
    const now = find('exam-progress');
    if (now && now.textContent + now.innerHTML !== before)
      done(performance.now() - start);
    else requestAnimationFrame(look);
  };
  const inner = find(identifier).querySelector('[role=button], [flt-tappable]');
  const box = (inner || find(identifier)).getBoundingClientRect();
  const at = {clientX: box.x + box.width / 2, clientY: box.y + box.height / 2,
    bubbles: true, pointerId: 1, pointerType: 'touch', isPrimary: true, button: 0};
  const target = document.elementFromPoint(at.clientX, at.clientY);
  target.dispatchEvent(new PointerEvent('pointerdown', {...at, buttons: 1}));
  target.dispatchEvent(new PointerEvent('pointerup', {...at, buttons: 0}));
  requestAnimationFrame(look);
})"""


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(
            executable_path=find_chromium(), args=list(HEADLESS_FLAGS)
        )
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
    driver = Driver(page, tmp_path)
    unlock(driver, app)
    go(driver, f"/exam/{EXAM_ID}")
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
    times = []
    for region_id, _ in rows_of(exam):
        name = f"region-{region_id}-normal"
        driver.scroll_to(name)
        driver.wait(name)
        times.append(driver.page.evaluate(TAP_TO_SCREEN, name))
    times.sort()
    p95 = times[int(len(times) * 0.95)]
    median = statistics.median(times)
    print(f"\ntap to changed screen, {len(times)} taps: ", end="")
    print(f"median {median:.0f} ms, 95th percentile {p95:.0f} ms (goal < 100 ms)")
    assert len(times) == len(rows_of(exam))
