"""A set-up store with one open exam in it, as a start for the browser's tests."""

from collections.abc import Callable
from pathlib import Path

from exam_app.app.exam_sessions import now
from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.domain.animal.signalment import Animal
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Person, Role
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol
from exam_app.protocols.loader import LoadedProtocol, load_protocol
from exam_app.record.plain_form import to_plain
from exam_app.store.repositories.rows import open_projection
from exam_app.store.vault.vault import Vault
from tests.browser.driver import Driver
from tests.browser.in_process import InProcessDriver
from tests.browser.prepared import ALEX, in_store, prepare_folder
from tests.past_exams import BRAMBLE

EXAM_ID = "e" * 32
SMOKE = Animal("f" * 32, "Smoke Demo", "cat", tag="pen 4", is_demo=True)
FLOCK = Animal("5" * 32, "Low field (demo)", "sheep", is_group=True, is_demo=True)
STARTER = Person(ALEX, "Alex Rowan", Role.TECHNICIAN, "AR")


def begun(
    animal: Animal,
    scope: Scope = Scope.TECHNICIAN,
    setting: Setting = Setting.CLINIC,
    focus: tuple[str, ...] = (),
    exam_id: str = EXAM_ID,
    started: Moment | None = None,
) -> tuple[Exam, LoadedProtocol]:
    """Begin an exam in memory, as the app does for itself; now unless told when."""
    loaded, started = load_protocol(animal.species), started or now()
    order = ExamOrder(animal, scope, setting, focus)
    exam = begin_exam(
        order, loaded.protocol, loaded.content_hash, STARTER, exam_id, started
    )
    return exam, loaded


def keep_open(vault: Vault, exam: Exam, loaded: LoadedProtocol) -> None:
    """Keep an open exam with its animal and its protocol."""
    vault.animals.put(to_plain(exam.animal))
    vault.protocols.put(loaded.content_hash, loaded.content)
    shown = open_projection(exam, loaded.protocol, now())
    vault.drafts.put(exam.exam_id, to_plain(exam), shown)


def prepare_exam(
    folder: Path,
    scope: Scope = Scope.TECHNICIAN,
    focus: tuple[str, ...] = (),
    alter: Callable[[Exam, SpeciesProtocol], Exam] | None = None,
    animal: Animal = BRAMBLE,
    setting: Setting = Setting.CLINIC,
) -> Path:
    """Make a set-up store with one open exam, of a dog unless told otherwise.

    Args:
        focus: Region ids of a focused exam.
        alter: Answers parts of it beforehand.
    """

    def fill(vault: Vault) -> None:
        exam, loaded = begun(animal, scope, setting, focus)
        if alter is not None:
            exam = alter(exam, loaded.protocol)
        with vault.transaction():
            keep_open(vault, exam, loaded)

    in_store(prepare_folder(folder), fill)
    return folder


def prepare_flock(folder: Path) -> Path:
    """Make a set-up store with one open round of a flock, in which no row is begun."""
    return prepare_exam(folder, Scope.GROUP, animal=FLOCK, setting=Setting.FARM)


def jump_to_head(driver: Driver | InProcessDriver) -> None:
    """Bring up what is open first of the head: a phone lists its headings apart."""
    if driver.any_of("exam-headings", "exam-jump-head") == "exam-headings":
        driver.click("exam-headings")
    driver.click("exam-jump-head")
