"""Words typed on a sheet and never saved are there again: closed, locked, killed."""

import contextlib
import shutil
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from exam_app.domain.exam.finding_transitions import add_finding
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.transitions import open_urgent
from exam_app.domain.exam.urgent import UrgentEntry
from exam_app.ui.shell import app as shell
from tests.browser.cheap_app import as_environment_asks
from tests.browser.driver import PHONE, Driver
from tests.browser.exam_drafts import EXAM_ID, STARTER, prepare_exam
from tests.browser.in_process import InProcessDriver, unlocked
from tests.browser.prepared import PIN, in_store, unlock

HALF = "half of it, never saved"
FOUND, SIGN = "5" * 32, "6" * 32
EXAM = f"/exam/{EXAM_ID}"


@dataclass(frozen=True)
class Sheet:
    """A sheet: where it opens, by which taps, its field, and what is typed."""

    path: str
    taps: tuple[str, ...]
    field: str
    text: str = ""


def region(name):
    return f"{EXAM}/region/{name}"


SHEETS = {
    "given": Sheet(EXAM, ("visit-given",), "visit-field-dose"),
    "presentation": Sheet(EXAM, ("visit-presentation",), "visit-field-history"),
    "bites": Sheet(EXAM, ("visit-bite",), "bite-field-told-0"),
    "procedures": Sheet(EXAM, ("visit-procedures",), "visit-field-what"),
    "samples": Sheet(EXAM, ("visit-samples",), "visit-field-label"),
    "plan": Sheet(EXAM, ("visit-plan",), "visit-field-owner_told"),
    "care": Sheet(EXAM, ("visit-care",), "visit-field-isolation"),
    "private note": Sheet(EXAM, ("visit-private",), "private-note"),
    "own words of a finding": Sheet(
        region("nose"), ("region-nose-finding",), "finding-words"
    ),
    "reason": Sheet(
        region("nose"), ("region-nose-more", "more-choice-not-examined"), "more-words"
    ),
    "absence": Sheet(
        region("nose"), ("region-nose-more", "more-choice-not-present"), "more-words"
    ),
    "remark": Sheet(
        region("nose"), ("region-nose-more", "more-choice-remark"), "more-words"
    ),
    "details": Sheet(region("skin_coat"), (f"finding-line-{FOUND}",), "finding-extent"),
    "lump": Sheet(
        region("skin_coat"),
        (f"finding-line-{FOUND}", "lump-open"),
        "lump-size",
        "12 x",
    ),
    "seen earlier": Sheet(
        region("skin_coat"),
        (f"finding-line-{FOUND}", "seen-earlier"),
        "seen-earlier-clock",
        "13:4",
    ),
    "temperature": Sheet(
        f"{EXAM}/review", ("review-point-temperature",), "vital-typed"
    ),
    "vital's reason": Sheet(
        f"{EXAM}/review",
        ("review-point-weight", "vital-reason-own"),
        "vital-reason-typed",
    ),
    "vital's note": Sheet(
        f"{EXAM}/review", ("review-point-temperature",), "vital-note"
    ),
    "sum": Sheet(EXAM, ("sums-open", "sums-kind-dose"), "sums-field-dose"),
    "urgent": Sheet(EXAM, ("exam-urgent",), "urgent-words"),
    "urgent answer": Sheet(
        EXAM, ("urgent-banner", "urgent-kind-told"), "urgent-instruction"
    ),
    "stop": Sheet(EXAM, ("exam-stop", "stop-reason-unsafe"), "stop-note"),
    "new animal": Sheet("/animals", ("animal-add", "animal-add-dog"), "animal-dangers"),
}
# Each its own words: those of another sheet must not pass for what this one keeps.
SHEETS = {
    name: replace(sheet, text=sheet.text or f"{HALF}: {name}")
    for name, sheet in SHEETS.items()
}
SAMPLE = ("given", "temperature")


def with_a_find(exam, protocol):
    by = Attribution(STARTER.person_id, STARTER.person_id, exam.started, exam.started)
    lump = next(
        t for r in protocol.regions if r.region_id == "skin_coat" for t in r.terms
        if t.is_lump
    )  # fmt: skip
    finding = Finding(FOUND, lump.label, by, term_id=lump.term_id)
    exam = add_finding(exam, protocol, "skin_coat", finding, "7" * 32)
    return open_urgent(exam, UrgentEntry(SIGN, "Fell from a roof", by, action="tell"))


def words_kept(folder: Path) -> list[str]:
    """Give every text that would be there after a kill now."""
    with tempfile.TemporaryDirectory() as place:
        copy = Path(shutil.copytree(folder, Path(place) / "copy"))
        kept = in_store(copy, lambda vault: vault.typed.all().values())
    return [text for _, words in kept for text in words.values()]


def wait_kept(driver: Driver, folder: Path, text: str) -> None:
    """Wait until the store has all that was typed, and not its beginning alone."""
    driver.until(lambda: text in words_kept(folder), "kept")


def open_sheet(driver: Driver, sheet: Sheet) -> None:
    driver.go(sheet.path)
    for tap in sheet.taps:
        # A restored reason stands open already.
        if tap == "vital-reason-own" and driver.has(sheet.field):
            continue
        driver.click(tap)
    driver.wait(sheet.field)


def type_and_leave(driver: Driver, sheet: Sheet, folder: Path) -> None:
    open_sheet(driver, sheet)
    driver.type(sheet.field, sheet.text)
    wait_kept(driver, folder, sheet.text)
    leave(driver)


def leave(driver: Driver) -> None:
    if driver.has("sheet"):
        driver.press("Escape")
        driver.gone("sheet")


def check_kept(driver: Driver, sheet: Sheet) -> None:
    open_sheet(driver, sheet)
    driver.scroll_to(sheet.field)
    assert driver.value(sheet.field) == sheet.text
    leave(driver)


def typed_closed_killed_and_there_again(
    names: tuple[str, ...], driver: Driver, folder: Path, run_app: Callable
) -> int:
    app = run_app(folder=folder)
    unlock(driver, app)
    for name in names:
        type_and_leave(driver, SHEETS[name], folder)
    unlock(driver, run_app(folder=app.killed()))
    for name in names:
        check_kept(driver, SHEETS[name])
    return len(names)


def test_words_typed_on_a_sheet_outlast_closing_it_and_a_kill(
    open_page, tmp_path, run_app
):
    driver = open_page(PHONE)
    folder = prepare_exam(tmp_path / "exams", alter=with_a_find)
    typed_closed_killed_and_there_again(SAMPLE, driver, folder, run_app)
    driver.go(f"{EXAM}/review")
    driver.wait_text("typed-notice", HALF)
    driver.shot("typed-review-phone")
    driver.click("typed-drop")
    driver.gone("typed-notice")


@pytest.mark.exhaustive
def test_words_typed_on_every_sheet_outlast_closing_it_and_a_kill(
    open_page, tmp_path, run_app
):
    driver = open_page(PHONE)
    folder = prepare_exam(tmp_path / "exams", alter=with_a_find)
    names = tuple(SHEETS)
    count = typed_closed_killed_and_there_again(names, driver, folder, run_app)
    print(f"{count} sheets kept what was typed")


def lock_when_idle(driver: InProcessDriver) -> None:
    """Let nobody touch the screen for as long as it takes, then come back."""
    session = driver.app.session
    usual, session.lock_after_seconds = session.lock_after_seconds, 0.0
    driver.wait("lock-pin")
    session.lock_after_seconds = usual
    driver.type("lock-pin", PIN)
    driver.click("lock-open")
    driver.gone("lock-pin")


@pytest.mark.parametrize(
    "names",
    [
        pytest.param(tuple(SHEETS)[::4], id="some"),
        pytest.param(tuple(SHEETS), id="all", marks=pytest.mark.exhaustive),
    ],
)
def test_words_just_typed_stand_on_a_sheet_as_before_after_a_lock(
    tmp_path, monkeypatch, names
):
    monkeypatch.setattr(shell, "IDLE_LOOK_SECONDS", 0.02)
    folder, lost = prepare_exam(tmp_path / "exams", alter=with_a_find), []
    with as_environment_asks(), unlocked(folder) as driver:
        for name in names:
            sheet = SHEETS[name]
            open_sheet(driver, sheet)
            driver.type(sheet.field, sheet.text)
            lock_when_idle(driver)
            if not driver.has(sheet.field) or driver.value(sheet.field) != sheet.text:
                lost.append(name)
            leave(driver)
            check_kept(driver, sheet)
    assert lost == []
    print(f"{len(names)} sheets stand as before after a lock")


@contextlib.contextmanager
def busy_store(driver: InProcessDriver) -> Iterator[None]:
    """Keep the store from writing anything, as a slow disk does."""
    turn = driver.app.session._turn

    async def released() -> None:
        turn.release()

    driver.app.run(turn.acquire())
    try:
        yield
    finally:
        driver.app.run(released())


@contextlib.contextmanager
def weight_typed(tmp_path: Path) -> Iterator[InProcessDriver]:
    """Open the weight from the review, and type one that is not saved."""
    folder = prepare_exam(tmp_path / "exams")
    with as_environment_asks(), unlocked(folder) as driver:
        driver.go(f"{EXAM}/review")
        driver.click("review-point-weight")
        driver.type("vital-typed", "24")
        yield driver


def test_a_value_that_is_being_saved_is_told_as_unsaved_no_longer_than_that(tmp_path):
    with weight_typed(tmp_path) as driver:
        with busy_store(driver):
            driver.click("vital-save")
            leave(driver)
            driver.wait_text("typed-notice", "24")
        driver.gone("typed-notice")


def test_a_sheet_opened_while_another_is_being_saved_stays(tmp_path):
    folder, remark = prepare_exam(tmp_path / "exams"), SHEETS["remark"]
    with as_environment_asks(), unlocked(folder) as driver:
        open_sheet(driver, remark)
        driver.type(remark.field, remark.text)
        with busy_store(driver):
            driver.click("more-words-save")
            leave(driver)
            driver.click("exam-urgent")
            driver.wait("urgent-words")
        # Asked once the app is at rest: everything is saved.
        assert driver.has("urgent-words")


def test_a_sheet_opened_while_a_value_is_being_saved_stays(tmp_path):
    with weight_typed(tmp_path) as driver:
        with busy_store(driver):
            driver.click("vital-save")
            leave(driver)
            driver.click("examiner")
            driver.wait("people-open")
        assert driver.has("people-open")
