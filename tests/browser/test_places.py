"""Nothing moves under a finger: every control stays in place while a sheet is used.

Each sheet is opened, the place of everything on it is measured, and every control that
chooses, ticks or types is tapped: afterwards all that is still there lies where it was.
"""

from dataclasses import dataclass

import pytest

from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.transitions import open_urgent
from exam_app.domain.exam.urgent import UrgentEntry
from tests.browser.driver import LAPTOP, PHONE, Driver
from tests.browser.exam_drafts import EXAM_ID, STARTER, prepare_exam
from tests.browser.prepared import unlock

pytestmark = pytest.mark.chromium_only("places are measured")

FOUND, SIGN = "5" * 32, "6" * 32
EXAM = f"/exam/{EXAM_ID}"
REVIEW = f"{EXAM}/review"

# What a tap on these does is the end of an entry or the way to another sheet.
LEADS_AWAY = (
    "sheet-close",
    "vital-save",
    "vital-reason",
    "vital-count",
    "vital-tap",
    "vital-word",
    "vital-grade",
    "vital-clear",
    "lump-save",
    "lump-open",
    "finding-done",
    "finding-remove",
    "finding-term",
    "finding-words-save",
    "finding-details",
    "seen-earlier",
    "visit-save",
    "visit-more",
    "scan-save",
    "scan-none",
    "scan-not-done",
    "urgent-answer",
    "urgent-telephone",
    "urgent-when",
    "urgent-sheet",
    "urgent-sign",
    "urgent-bitten",
    "urgent-words-save",
    "tape-open",
    "tape-take",
    "sums-keep",
    "sources",
    "source",
    "pulse-save",
    "close-sign",
    "typed-drop",
)


@dataclass(frozen=True)
class Sheet:
    """A sheet: where it opens, and by which taps."""

    path: str
    taps: tuple[str, ...]


SHEETS = {
    # First: calling a find urgent, as is tapped below, opens a second sign.
    "urgent answer": Sheet(EXAM, ("urgent-banner", "urgent-kind-told")),
    "weight": Sheet(REVIEW, ("review-point-weight",)),
    "temperature": Sheet(REVIEW, ("review-point-temperature",)),
    "heart rate": Sheet(REVIEW, ("review-point-heart_rate",)),
    "breathing": Sheet(REVIEW, ("review-point-respiratory_rate",)),
    "details": Sheet(f"{EXAM}/region/skin_coat", (f"finding-line-{FOUND}",)),
    "lump": Sheet(f"{EXAM}/region/skin_coat", (f"finding-line-{FOUND}", "lump-open")),
    "given": Sheet(EXAM, ("visit-given",)),
    "samples": Sheet(EXAM, ("visit-samples",)),
    "bites": Sheet(EXAM, ("visit-bite",)),
    "presentation": Sheet(EXAM, ("visit-presentation", "visit-more")),
    "dose": Sheet(EXAM, ("sums-open", "sums-kind-dose")),
}
SAMPLE = ("heart rate",)

_PLACES = """within => {
    const root = document.querySelector(
        '[flt-semantics-identifier="' + within + '"]') || document;
    const found = {};
    for (const node of root.querySelectorAll('[flt-semantics-identifier]')) {
        const box = node.getBoundingClientRect();
        const tappable = node.matches('[role=button],[flt-tappable]') ||
            node.querySelector('[role=button],[flt-tappable]');
        found[node.getAttribute('flt-semantics-identifier')] =
            [Math.round(box.x), Math.round(box.y), Math.round(box.width),
             Math.round(box.height), !!tappable,
             !!node.querySelector('input,textarea')];
    }
    return found;
}"""


def begun(exam, protocol):
    by = Attribution(STARTER.person_id, STARTER.person_id, exam.started, exam.started)
    region = protocol.region("skin_coat")
    lump = next(term for term in region.terms if term.is_lump)
    finding = Finding(FOUND, lump.label, by, term_id=lump.term_id)
    exam = add_finding(exam, protocol, "skin_coat", finding, "7" * 32)
    return open_urgent(exam, UrgentEntry(SIGN, "Fell from a roof", by, action="tell"))


class Watched:
    """A page whose answers from the app are counted."""

    def __init__(self, driver: Driver) -> None:
        self.driver, self.frames = driver, 0
        driver.page.on("websocket", self._follow)

    def _follow(self, socket) -> None:
        socket.on("framereceived", self._count)

    def _count(self, _frame) -> None:
        self.frames += 1

    def tap(self, identifier: str) -> None:
        """Tap a control and wait until the app's answer is drawn."""
        before = self.frames
        self.driver.find(identifier).locator(
            "xpath=self::*[@role='button' or @flt-tappable]"
            "|.//*[@role='button' or @flt-tappable]"
        ).first.click()
        for _ in range(60):
            self.driver.frames(1)
            if self.frames > before:
                break
        self.driver.frames(6)

    def write(self, identifier: str, text: str) -> None:
        """Type into a field, and give the app the time to answer."""
        self.driver.type(identifier, text)
        self.driver.frames(20)

    def seen(self, within: str) -> tuple[dict[str, list[int]], set[str]]:
        """Return the places there and in a foot below it, and which it lies over."""
        found, foot = self.places(within), f"{within}-foot"
        if not self.driver.has(foot):
            return found, set()
        below = self.places(foot)
        cut = min(place[1] for place in below.values())
        under = {name for name, place in found.items() if place[1] + place[3] > cut}
        return found | below, under - set(below)

    def places(self, within: str) -> dict[str, list[int]]:
        return self.driver.page.evaluate(_PLACES, within)


def moved(before, after):
    """Return what lies elsewhere: a control may go, none may be moved."""
    return {
        name: (place, after[name])
        for name, place in before.items()
        if name in after and (place[4] or place[5]) and _far(place, after[name])
    }


def scrolled(shifted):
    """Tell whether a field that came into view took all with it, equally far."""
    ways = [
        {was[1] - now[1], was[1] + was[3] - now[1] - now[3]}
        for was, now in shifted.values()
    ]
    return bool(ways) and bool(set.intersection(*ways) - {0})


def _far(one, other):
    return any(abs(a - b) > 1 for a, b in zip(one[:4], other[:4], strict=True))


def in_view(place, size):
    x, y, width, height, tappable, writable = place
    inside = y >= 0 and y + height <= size["height"] and x >= 0
    return (tappable or writable) and inside and x + width <= size["width"]


def tap_everything(watched, within, size):
    """Tap or fill each control in view that leads nowhere, twice; count the taps."""
    taps = 0
    tried = set()
    while True:
        places, under = watched.seen(within)
        todo = [
            name
            for name, place in places.items()
            if in_view(place, size)
            and name not in under
            and name not in tried
            and name != within
            and not name.startswith(LEADS_AWAY)
        ]
        if not todo:
            return taps
        name = todo[0]
        tried.add(name)
        for _ in range(2):
            before, _ = watched.seen(within)
            if name not in before:
                break
            is_field = before[name][5]
            if is_field:
                watched.write(name, "2")
            else:
                watched.tap(name)
            after, _ = watched.seen(within)
            if within not in after and within != "screen" and not after:
                raise AssertionError(f"{name} closed the sheet")
            shifted = moved(before, after)
            assert not shifted or (is_field and scrolled(shifted)), (name, shifted)
            taps += 1


def open_sheet(watched, sheet):
    driver = watched.driver
    driver.go(sheet.path)
    for tap in sheet.taps:
        driver.click(tap)
    driver.wait("sheet")
    driver.frames(10)


def leave(driver):
    if driver.has("sheet"):
        driver.press("Escape")
        driver.gone("sheet")


def check_sheets(names, size, open_page, tmp_path, run_app):
    driver = open_page(size)
    watched = Watched(driver)
    folder = prepare_exam(tmp_path / "exams", alter=begun)
    unlock(driver, run_app(folder=folder))
    driver.go(EXAM)
    driver.wait("exam-progress")
    counts = {}
    for name in names:
        open_sheet(watched, SHEETS[name])
        try:
            counts[name] = tap_everything(watched, "sheet", size)
        except AssertionError as wrong:
            driver.shot(f"moved-{name.replace(' ', '-')}")
            raise AssertionError(f"{name}: {wrong}") from wrong
        leave(driver)
    return counts


def test_nothing_moves_between_two_taps_on_a_sheet(open_page, tmp_path, run_app):
    counts = check_sheets(SAMPLE, PHONE, open_page, tmp_path, run_app)
    assert all(counts.values())


@pytest.mark.parametrize("vital", ["heart_rate", "respiratory_rate"])
def test_one_place_tapped_twice_on_the_count_pad_types_one_digit_twice(
    vital, open_page, tmp_path, run_app
):
    driver = open_page(PHONE)
    watched = Watched(driver)
    unlock(driver, run_app(folder=prepare_exam(tmp_path / "exams")))
    driver.go(f"{EXAM}/count/{vital}/15")
    driver.page.locator('[flt-semantics-identifier="pad-2"]').wait_for(
        state="attached", timeout=40_000
    )
    driver.frames(10)
    before = watched.places("screen")
    x, y, width, height, *_ = before["pad-2"]
    for typed in ("2 in 15 s", "22 in 15 s", "222 in 15 s"):
        driver.page.mouse.click(x + width / 2, y + height / 2)
        driver.wait_text("count-typed", typed)
        assert not moved(before, watched.places("screen"))
    driver.shot(f"count-pad-{vital}-phone")


@pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_nothing_moves_between_two_taps_on_any_sheet(
    size, open_page, tmp_path, run_app
):
    counts = check_sheets(SHEETS, size, open_page, tmp_path, run_app)
    print(f"{sum(counts.values())} taps on {len(counts)} sheets moved nothing")
    print(counts)
    assert all(counts.values())
