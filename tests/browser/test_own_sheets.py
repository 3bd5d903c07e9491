"""What leads on after a save takes nothing away that was opened meanwhile."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from exam_app.domain.animal.signalment import Animal
from exam_app.domain.protocol.protocol import Scope
from tests.browser.cheap_app import as_environment_asks
from tests.browser.exam_drafts import EXAM_ID, prepare_exam
from tests.browser.in_process import InProcessDriver, opened, unlocked
from tests.browser.prepared import run_apart
from tests.browser.test_clinic_questions import fill
from tests.browser.test_typed_words import (
    EXAM,
    busy_store,
    leave,
    with_a_find,
)


@dataclass(frozen=True)
class Saving:
    """A sheet that saves and leads on.

    Attributes:
        path: Where it is opened.
        taps: That open it; a name that ends with ``-`` stands for the first one that
            starts so.
        save: What saves.
        typed: Field and text given before.
    """

    path: str
    taps: tuple[str, ...]
    save: str
    typed: tuple[str, str] = ("", "")


IN_EXAM = {
    "answer": Saving(
        EXAM, ("urgent-banner", "urgent-kind-tried"), "urgent-answer-save"
    ),
    "telephone": Saving(
        EXAM,
        ("urgent-banner", "urgent-telephone"),
        "telephone-told",
        ("telephone-heard", "Dr Ondine"),
    ),
    "stop": Saving(EXAM, ("exam-stop", "stop-reason-unsafe"), "stop-confirm"),
    "drafts": Saving(
        "/hand-over",
        (f"hand-draft-leave-{EXAM_ID}",),
        "hand-leave-reason-tomorrow",
    ),
    "discard": Saving(EXAM, ("exam-stop", "stop-discard"), "discard-confirm"),
}
DECISION = Saving(
    "/clinic/quarantine",
    ("clinic-drop-",),
    "clinic-reason-save",
    ("clinic-reason", "sent twice by mistake"),
)
REVOCATION = Saving("/clinic/devices", ("clinic-revoke-",), "clinic-revoke-save")


def begin(driver: InProcessDriver, saving: Saving) -> None:
    """Open the sheet and fill it, up to what saves."""
    driver.go(saving.path)
    for tap in saving.taps:
        driver.click(driver.named(tap) if tap.endswith("-") else tap)
    if saving.typed[0]:
        driver.type(*saving.typed)
    driver.wait(saving.save)


def open_other_while_it_saves(driver: InProcessDriver, saving: Saving) -> None:
    begin(driver, saving)
    with busy_store(driver):
        driver.click(saving.save)
        leave(driver)
        driver.click("examiner")
        driver.wait("lock-now")
    # Asked once the app is at rest: everything is saved.
    assert driver.has("lock-now")
    assert driver.route == saving.path


@pytest.mark.parametrize("name", IN_EXAM)
def test_another_sheet_opened_while_an_exam_saves_stays(name, tmp_path):
    folder = prepare_exam(tmp_path / "exams", alter=without_sign(name))
    with as_environment_asks(), unlocked(folder) as driver:
        open_other_while_it_saves(driver, IN_EXAM[name])


def without_sign(name: str) -> Callable | None:
    """Give an exam a sign to answer, unless it is to be discarded."""
    return None if name in ("discard", "stop") else with_a_find


@pytest.fixture
def clinic(tmp_path) -> Path:
    run_apart(lambda: fill(tmp_path))
    return tmp_path / "open" / "clinic"


def test_another_sheet_opened_while_the_clinic_decides_stays(clinic):
    with as_environment_asks(), unlocked(clinic) as driver:
        open_other_while_it_saves(driver, DECISION)


def test_another_sheet_opened_while_a_device_is_revoked_stays():
    with opened("--demo", "--clinic") as driver:
        open_other_while_it_saves(driver, REVOCATION)


def test_another_screen_shown_while_an_exam_is_stopped_stays(tmp_path):
    folder = prepare_exam(tmp_path / "exams")
    with as_environment_asks(), unlocked(folder) as driver:
        begin(driver, IN_EXAM["stop"])
        with busy_store(driver):
            driver.click("stop-confirm")
            leave(driver)
            driver.go("/animals")
            driver.wait("animal-search")
        assert driver.has("animal-search")
        assert driver.route == "/animals"


def test_a_list_is_true_after_a_sheet_that_was_closed_while_it_saved(clinic):
    with as_environment_asks(), unlocked(clinic) as driver:
        begin(driver, DECISION)
        with busy_store(driver):
            driver.click("clinic-reason-save")
            leave(driver)
        driver.wait_text("screen", "Nothing waits")


def test_what_leads_on_closes_its_sheet_where_nothing_was_opened(tmp_path):
    folder = prepare_exam(tmp_path / "exams", alter=with_a_find)
    with as_environment_asks(), unlocked(folder) as driver:
        for name in ("drafts", "telephone"):
            begin(driver, IN_EXAM[name])
            driver.click(IN_EXAM[name].save)
            driver.gone("sheet")
        driver.gone("urgent-banner")
        begin(driver, IN_EXAM["stop"])
        driver.click("stop-confirm")
        driver.wait("review-status")
        driver.gone("sheet")


def test_a_graded_find_is_asked_for_its_grade_while_it_is_being_saved(tmp_path):
    stallion = Animal("9" * 32, "Ash Demo", "horse", is_demo=True)
    folder = prepare_exam(
        tmp_path / "exams", Scope.FOCUSED, ("gut_upper",), animal=stallion
    )
    with as_environment_asks(), unlocked(folder) as driver:
        driver.go(EXAM)
        driver.click("region-gut_upper-finding")
        driver.click("finding-side-left")
        driver.wait("finding-term-graded")
        with busy_store(driver):
            driver.click("finding-term-graded")
            driver.wait("finding-done")
            driver.press("Escape")
            driver.wait_text("finding-ungraded", "No grade is chosen for Sounds graded")
        driver.click("finding-done")
        driver.gone("sheet")
