"""A set-up store with one open exam in it, as a start for the browser's tests."""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from exam_app.app.exam_sessions import now
from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.session import Session
from exam_app.domain.animal.signalment import AgeBasis, Animal, Sex
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Person, Role
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol
from exam_app.protocols.loader import load_protocol
from exam_app.record.plain_form import to_plain
from exam_app.store.repositories.rows import open_projection
from tests.browser.cheap_app import CHEAP_COSTS
from tests.browser.prepared import ALEX, PASSPHRASE, prepare_folder

EXAM_ID = "e" * 32
BRAMBLE = Animal(
    "c" * 32,
    "Bramble Demo",
    "dog",
    sex=Sex.FEMALE_NEUTERED,
    age_days=1500,
    age_basis=AgeBasis.TOLD,
    is_demo=True,
)
SMOKE = Animal("f" * 32, "Smoke Demo", "cat", tag="pen 4", is_demo=True)
STARTER = Person(ALEX, "Alex Rowan", Role.TECHNICIAN, "AR")


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
    prepare_folder(folder)

    async def fill() -> None:
        session = Session(folder, CHEAP_COSTS.derivation, CHEAP_COSTS.bounds)
        await session.open_with_passphrase(PASSPHRASE)
        loaded, vault = load_protocol(animal.species), session.vault
        order = ExamOrder(animal, scope, setting, focus)
        exam = begin_exam(
            order, loaded.protocol, loaded.content_hash, STARTER, EXAM_ID, now()
        )
        if alter is not None:
            exam = alter(exam, loaded.protocol)
        with vault.transaction():
            vault.animals.put(to_plain(animal))
            vault.protocols.put(loaded.content_hash, loaded.content)
            shown = open_projection(exam, loaded.protocol, now())
            vault.drafts.put(EXAM_ID, to_plain(exam), shown)
        session.close()

    # A thread of its own: the browser's driver keeps a loop running in this one.
    with ThreadPoolExecutor(1) as pool:
        pool.submit(lambda: asyncio.run(fill())).result()
    return folder
