"""A set-up store with two people, and the way into it."""

import asyncio
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from exam_app.app.maintenance.first_start import SetUp
from exam_app.app.session import Session
from tests.browser.cheap_app import CHEAP_COSTS
from tests.browser.driver import Driver, RunningApp

PASSPHRASE = "four quiet words here"
PIN = "4321"
ALEX = "a" * 32
KIM = "b" * 32


def prepare_folder(folder: Path) -> Path:
    """Make a set-up store with two people in it."""

    async def fill() -> None:
        session = Session(folder, CHEAP_COSTS.derivation, CHEAP_COSTS.bounds)
        alex = _person(ALEX, "Alex Rowan", "technician", "AR")
        await session.set_up(
            SetUp("field", "Hill practice", "555 0123", PASSPHRASE, alex, PIN)
        )
        kim = _person(KIM, "Kim Sorrel", "veterinarian", "KS")
        session.vault.people.put(kim)
        session.vault.people.set_pin(KIM, PIN)
        session.vault.settings.put("recovery_confirmed", value=True)
        session.close()

    # A thread of its own: the browser's driver keeps a loop running in this one.
    with ThreadPoolExecutor(1) as pool:
        pool.submit(lambda: asyncio.run(fill())).result()
    return folder


def _person(person_id: str, name: str, role: str, initials: str) -> dict[str, str]:
    return {
        "person_id": person_id,
        "name": name,
        "role": role,
        "initials": initials,
        "licence": "",
    }


def unlock(driver: Driver, app: RunningApp, *, first: bool = True) -> None:
    """Open the page and the store with the passphrase."""
    driver.open(app.first_address() if first else app.new_address())
    driver.type("unlock-secret", PASSPHRASE)
    driver.click("unlock-open")
    driver.wait("examiner")
