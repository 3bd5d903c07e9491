"""How many taps the everyday tasks take, and how fast a tap is answered.

Counts are facts of the screens and are held to the design's limits. Signs typed on a
pad or a keyboard are counted apart from taps. Times depend on the machine and are only
printed.
"""

import contextlib
import os
import statistics
import time
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

from exam_app.domain.exam.exam import keys_in_scope, required_vitals
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.ui.widgets.identifiers import for_choice
from tests.benchmarks.timed_taps import FLOOR, HEAR, WATCH, TimedTaps
from tests.browser import conftest as walks
from tests.browser.cheap_app import as_environment_asks
from tests.browser.driver import LAPTOP, PHONE, Driver, start_app
from tests.browser.exam_drafts import BRAMBLE, EXAM_ID, begun, prepare_exam
from tests.browser.in_process import unlocked
from tests.browser.phone_exam import rows_asked
from tests.browser.prepared import KIM, PIN, in_store, prepare_folder, unlock
from tests.browser.test_body import tap_head
from tests.browser.test_given_before import give_calcium
from tests.browser.test_telephone import COW
from tests.browser.whole_exam import (
    FIRST,
    PROTOCOL,
    Hand,
    answer_row,
    rows_of,
    take_intake_vitals,
    take_vitals,
)
from tests.past_exams import VISITS, keep_visits

MINIMAL_APP = Path(__file__).with_name("minimal_app.py")
MEASURED = [pytest.mark.benchmark, pytest.mark.browser]
# Taps of each kind that is timed.
SAMPLES = 20


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as playwright:
        launched = walks.launched(playwright.chromium)
        yield launched
        launched.close()


@pytest.fixture
def size(request):
    """The window that is measured, a phone's unless the test asks for another."""
    return getattr(request, "param", PHONE)


@pytest.fixture
def walk(size, browser, tmp_path):
    folder = prepare_exam(tmp_path / "exams")
    visits = [replace(VISITS[n % len(VISITS)], day=10 * n) for n in range(SAMPLES)]
    in_store(folder, lambda vault: keep_visits(vault, visits))
    app = start_app(folder=folder)
    page = browser.new_page(viewport=size, has_touch=size == PHONE)
    page.add_init_script(HEAR)
    driver = Driver(page, tmp_path)
    unlock(driver, app)
    driver.go(f"/exam/{EXAM_ID}")
    driver.wait("exam-progress")
    yield driver, begun(BRAMBLE)[0]
    page.close()
    app.stop()


def report(hand, task, limit, scrolls=None):
    """Print what a task took, and hold it to its limits."""
    seconds = time.perf_counter() - hand.begun
    print(f"\n{task}: {len(hand.taps)} taps (limit {limit}), ", end="")
    print(f"{hand.signs} signs typed, {len(hand.scrolled)} scrolls, {seconds:.1f} s")
    assert len(hand.taps) <= limit, hand.taps
    assert scrolls is None or len(hand.scrolled) <= scrolls, hand.scrolled


COMES_BY_ITSELF = (
    "region-",
    "vital-",
    "finding-",
    "urgent-",
    "given-",
    "exam-onward",
    "review-",
    "scan-",
    "start-",
    "visit-option",
    "visit-field",
    "visit-save",
    "animal-",
)


@dataclass
class TimedHand(Hand):
    """A hand that knows when it began, and what it has scrolled since.

    What answers a part or a vital comes up by itself: it is waited for, not looked for.
    """

    begun: float = field(default_factory=time.perf_counter)
    scrolled: list[str] = field(default_factory=list)

    def tap(self, identifier):
        if identifier.startswith(COMES_BY_ITSELF):
            self.driver.wait(identifier)
        with self._looked_for(identifier):
            super().tap(identifier)

    def type(self, identifier, text):
        with self._looked_for(identifier):
            super().type(identifier, text)

    def pad(self, keys):
        self.driver.wait("pad-0")
        with self._looked_for("pad"):
            super().pad(keys)

    @contextlib.contextmanager
    def _looked_for(self, identifier):
        # In this process nothing is out of view, and nothing is scrolled.
        before = getattr(self.driver, "scrolls", 0)
        yield
        turns = getattr(self.driver, "scrolls", 0) - before
        self.scrolled += [identifier] * turns


@pytest.fixture(params=["in_process", pytest.param("chromium", marks=MEASURED)])
def open_phone(request, tmp_path):
    """Open a phone over a folder: taps are counted in both, scrolls in Chromium."""
    with contextlib.ExitStack() as ending:

        def opened(folder):
            if request.param == "in_process":
                ending.enter_context(as_environment_asks())
                return ending.enter_context(unlocked(folder))
            app = start_app(folder=folder)
            page = request.getfixturevalue("browser").new_page(viewport=PHONE)
            ending.callback(page.close)
            driver = Driver(page, tmp_path)
            ending.callback(app.stop)
            unlock(driver, app)
            return driver

        yield opened


def begun_dog(open_phone, tmp_path):
    """Open a technician's exam of a dog in which nothing is answered."""
    driver = open_phone(prepare_exam(tmp_path / "exams"))
    driver.go(f"/exam/{EXAM_ID}")
    driver.wait(f"region-{FIRST}-normal")
    return driver, begun(BRAMBLE)[0]


def test_a_whole_normal_dog_exam_is_a_tap_for_each_part_and_vital(open_phone, tmp_path):
    driver, exam = begun_dog(open_phone, tmp_path)
    parts = len(keys_in_scope(exam, PROTOCOL))
    vitals = len(required_vitals(exam, PROTOCOL))
    driver.wait_text("exam-progress", f"0 of {parts} parts")
    hand = TimedHand(driver)
    take_vitals(hand)
    for_vitals = len(hand.taps) - 1
    rows = rows_of(exam)
    for region_id, _ in rows:
        answer_row(hand, region_id)
    driver.wait_text("exam-onward", "Review and close")
    driver.wait_text("exam-progress", f"{parts} of {parts} parts")
    print(f"\n{for_vitals} taps for {vitals} vitals, ", end="")
    print(f"{len(hand.taps) - for_vitals} for {parts} parts in {1 + len(rows)} rows")
    # The breathing rate is asked what the animal was doing: one answer more.
    assert for_vitals == vitals + 1
    assert len(hand.taps) - for_vitals == 1 + len(rows)
    report(hand, "whole normal dog exam", parts + vitals, scrolls=0)


def test_a_strays_intake_is_signed_within_forty_taps(open_phone, tmp_path):
    driver = open_phone(prepare_folder(tmp_path / "exams"))
    driver.wait("day-add")
    hand = TimedHand(driver)
    for step in ("day-add", "animal-add-dog", "animal-nameless", "start-sex-male"):
        hand.tap(step)
    hand.tap("start-scope-intake")
    hand.tap("start-go")
    driver.wait("exam-progress")
    take_intake_vitals(hand)
    for region_id in rows_asked(Scope.INTAKE):
        answer_row(hand, region_id)
    hand.tap("exam-onward")
    driver.wait("review-intake")
    driver.shot("taps-intake-review")
    hand.tap("review-intake")
    hand.tap("visit-option-kind-0")
    driver.shot("taps-intake-kind")
    hand.type("visit-field-found_where", "Mill Lane")
    hand.tap("visit-save")
    driver.gone("review-intake")
    hand.tap("review-point-scan:intake")
    hand.tap("scan-none-2")
    driver.wait_text("review-status", "Nothing is open")
    hand.tap("review-close")
    driver.wait("close-sign")
    hand.pad(PIN)
    hand.tap("close-sign")
    driver.wait("record-signed")
    report(hand, "a stray's intake, from the first screen to signed", 40, scrolls=3)


def test_the_same_small_find_on_both_sides_is_four_taps(open_phone, tmp_path):
    driver, _ = begun_dog(open_phone, tmp_path)
    driver.bring_up("region-eyes-finding")
    hand = TimedHand(driver)
    hand.tap("region-eyes-finding")
    hand.tap("finding-side-both")
    hand.tap("finding-term-red")
    hand.tap("finding-done")
    driver.gone("sheet")
    driver.wait_text("region-eyes-row", "Left: Red")
    report(hand, "the same small find on both sides", 4, scrolls=0)


def test_small_things_of_an_exam_stay_within_their_taps(open_phone, tmp_path):
    driver, _ = begun_dog(open_phone, tmp_path)
    driver.click("vital-temperature")
    hand = TimedHand(driver)
    hand.tap("vital-reason-refused")
    driver.wait_text("vital-temperature", "refused")
    report(hand, "temperature refused, once it is its turn", 1, scrolls=0)

    hand = TimedHand(driver)
    hand.tap("examiner")
    hand.tap(f"person-{KIM}")
    driver.gone("sheet")
    report(hand, "change examiner", 2, scrolls=0)
    driver.click("examiner")
    driver.click("lock-now")
    driver.wait("lock-pin")
    hand = TimedHand(driver)
    hand.type("lock-pin", PIN)
    hand.tap("lock-open")
    driver.wait("exam-progress")
    report(hand, "resume after lock", 2, scrolls=0)

    hand = TimedHand(driver)
    hand.tap("exam-stop")
    hand.tap("stop-reason-unsafe")
    hand.tap("stop-confirm")
    driver.wait("review-status")
    report(hand, "stop early", 3, scrolls=0)


@pytest.fixture
def floor(size, browser, tmp_path):
    """A page of the least that Flet can do: a button that changes a text."""
    app = start_app(script=MINIMAL_APP)
    page = browser.new_page(viewport=size, has_touch=size == PHONE)
    page.add_init_script(HEAR)
    driver = Driver(page, tmp_path)
    driver.open(app.first_address())
    driver.wait("floor")
    yield driver
    page.close()
    app.stop()


@pytest.fixture
def timed(walk, floor):
    """Taps on the exam's page, in turns with those on the floor."""
    return TimedTaps(walk[0], floor)


SIZES = pytest.mark.parametrize(
    "size", [PHONE, LAPTOP], ids=["phone", "laptop"], indirect=True
)


@pytest.mark.benchmark
@pytest.mark.browser
@SIZES
def test_tap_to_changed_screen_is_measured_beside_its_floor(walk, timed):
    driver, exam = walk
    rows = [region_id for region_id, _ in rows_of(exam)]
    driver.bring_up(f"region-{rows[0]}-normal")
    for region_id in rows:
        timed.tap("answer a part", f"region-{region_id}-normal", "exam-progress")
    timed.report()
    assert len(timed.taken["answer a part"]) == len(rows)


@pytest.mark.benchmark
@pytest.mark.browser
@SIZES
def test_opening_and_saving_on_a_sheet_is_measured_beside_its_floor(walk, timed):
    driver, exam = walk
    for region_id, keys in rows_of(exam)[:SAMPLES]:
        driver.bring_up(f"region-{region_id}-finding")
        timed.tap("open a finding's sheet", f"region-{region_id}-finding", "sheet")
        if len(keys) > 1:
            driver.click("finding-side-both")
        # One that is not urgent: what an urgent one does is more than a find.
        terms = PROTOCOL.region(region_id).terms
        term = next(term for term in terms if not term.urgent_sign_id)
        named = for_choice("finding-term", term.term_id)
        timed.tap("save a finding", named, "finding-done")
        driver.click("finding-done")
        driver.gone("sheet")
        timed.tap("open the urgent signs", "exam-urgent", "sheet")
        driver.click("sheet-close")
        driver.gone("sheet")
    driver.click("vital-weight")
    driver.wait("vital-other")
    for _ in range(SAMPLES):
        timed.tap("open a vital's sheet", "vital-other", "sheet")
        driver.click("sheet-close")
        driver.gone("sheet")
    timed.report()
    assert {len(times) for name, times in timed.taken.items() if name != FLOOR} == {
        SAMPLES
    }


@pytest.mark.benchmark
@pytest.mark.browser
@SIZES
def test_going_to_a_record_is_measured_beside_its_floor(walk, timed):
    driver, _ = walk
    driver.go("/records")
    for number in range(SAMPLES):
        line = for_choice("records-line", f"{number + 1:032x}")
        driver.scroll_to(line)
        timed.tap("to a record", line, "record-signed")
        driver.go("/records")
    timed.report()
    assert len(timed.taken["to a record"]) == SAMPLES


DRAWN = ["body-name", "region-eyes.left-normal", "region-eyes-normal"]


@pytest.mark.benchmark
@pytest.mark.browser
def test_a_tap_on_the_drawing_is_measured_beside_one_on_the_list(walk):
    driver, _ = walk
    driver.page.evaluate(WATCH, DRAWN)
    times = {"a line of the list": [], "the drawing opens": [], "its left eye": []}

    def timed(name, act):
        act()
        driver.page.wait_for_function("() => window.answered !== null", timeout=20_000)
        times[name].append(driver.page.evaluate("answered - lifted"))

    for _ in range(10):
        driver.bring_up("region-head-normal")
        timed("a line of the list", lambda: driver.click("region-eyes-row"))
        driver.wait("region-eyes-normal")
        driver.bring_up("region-head-normal")
        timed("the drawing opens", lambda: driver.click("exam-body"))
        driver.wait("body-left")
        timed("its left eye", lambda: tap_head(driver, PHONE, "eyes.left"))
        driver.gone("sheet")
        driver.wait_text("region-eyes.left-normal", "Eyes, left: no abnormality")
    print(f"\ntap to changed screen, load {os.getloadavg()[0]:.1f}:")
    for name, taken in times.items():
        median, worst = statistics.median(taken), max(taken)
        print(f"  {name}: median {median:.0f} ms, longest {worst:.0f} ms")
    assert {len(taken) for taken in times.values()} == {10}


def begun_cow(open_phone, tmp_path):
    """Open a veterinarian's exam of a cow on its farm."""
    folder = prepare_exam(tmp_path / "exams", animal=COW, setting=Setting.FARM)
    driver = open_phone(folder)
    driver.click("examiner")
    driver.click(f"person-{KIM}")
    driver.gone("sheet")
    driver.go(f"/exam/{EXAM_ID}")
    driver.wait("exam-progress")
    return driver


def test_urgent_cow_is_the_veterinarians_within_four_taps(open_phone, tmp_path):
    driver = begun_cow(open_phone, tmp_path)
    hand = TimedHand(driver)
    hand.tap("exam-urgent")
    hand.tap("urgent-sign-down")
    hand.tap("urgent-kind-am-veterinarian")
    driver.wait("urgent-answer-save")
    driver.shot("taps-urgent")
    hand.tap("urgent-answer-save")
    driver.gone("urgent-banner")
    report(hand, "urgent cow, I am the veterinarian", 4, scrolls=0)


def test_calcium_of_the_last_lot_is_given_within_five_taps(open_phone, tmp_path):
    driver = begun_cow(open_phone, tmp_path)
    give_calcium(driver)
    hand = TimedHand(driver)
    hand.tap("visit-given")
    hand.tap("given-before-0")
    hand.tap("given-dose-0")
    hand.tap("visit-save")
    driver.gone("sheet")
    assert driver.text("visit-given").count("lot A12") == 2
    report(hand, "calcium of the last lot", 5)


def start_from_today(driver, *steps):
    """Walk from the first screen to where a new animal's first answer is given."""
    driver.go("/")
    driver.wait("day-add")
    hand = TimedHand(driver)
    for step in ("day-add", *steps, "start-go"):
        hand.tap(step)
    driver.wait(f"region-{FIRST}-normal")
    return hand


STRAY = ("animal-add-dog", "animal-nameless", "start-scope-intake")


def test_a_stray_without_a_name_is_begun_after_few_taps(open_phone, tmp_path):
    hand = start_from_today(open_phone(prepare_folder(tmp_path / "exams")), *STRAY)
    report(hand, "from today to a new stray's first part", 5, scrolls=0)


@pytest.mark.slow
def test_ten_intakes_in_a_row_choose_species_place_and_scope_once(open_phone, tmp_path):
    driver = open_phone(prepare_folder(tmp_path / "exams"))
    hand = start_from_today(driver, *STRAY)
    for _ in range(9):
        following = start_from_today(driver, "animal-same", "animal-nameless")
        hand.taps += following.taps
    report(hand, "ten intakes in a row, to each first part", 41, scrolls=0)
