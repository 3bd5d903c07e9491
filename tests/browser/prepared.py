"""A set-up store with two people, and the way into it."""

import asyncio
from collections.abc import Awaitable, Callable, Coroutine
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, TypeVar

from exam_app.app.maintenance.first_start import SetUp
from exam_app.app.session import Session
from exam_app.domain.exam.people import Person, Role
from exam_app.store.vault.vault import Vault
from tests.browser.cheap_app import CHEAP_COSTS
from tests.browser.driver import Driver, RunningApp

T = TypeVar("T")

PASSPHRASE = "four quiet words here"
PIN = "4321"
ALEX = "a" * 32
KIM = "b" * 32


def run_apart(work: Callable[[], Coroutine[Any, Any, T]]) -> T:
    """Do something in a thread: the browser's driver keeps a loop in this one."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(lambda: asyncio.run(work())).result()


def in_store(folder: Path, work: Callable[[Vault], object]) -> object:
    """Do something with the store of a set-up folder, while no app runs on it."""

    async def opened() -> object:
        session = Session(folder, CHEAP_COSTS.derivation, CHEAP_COSTS.bounds)
        await session.open_with_passphrase(PASSPHRASE)
        try:
            done = work(session.vault)
            return await done if isinstance(done, Awaitable) else done
        finally:
            session.close()

    return run_apart(opened)


def prepare_folder(folder: Path) -> Path:
    """Make a set-up store with two people in it."""

    async def fill() -> None:
        session = Session(folder, CHEAP_COSTS.derivation, CHEAP_COSTS.bounds)
        alex = Person(ALEX, "Alex Rowan", Role.TECHNICIAN, "AR")
        await session.set_up(
            SetUp("field", "Hill practice", "555 0123", PASSPHRASE, alex, PIN)
        )
        kim = Person(KIM, "Kim Sorrel", Role.VETERINARIAN, "KS")
        session.vault.people.put(kim)
        session.vault.people.set_pin(KIM, PIN)
        session.vault.settings.put("recovery_confirmed", value=True)
        session.close()

    run_apart(fill)
    return folder


def unlock(driver: Driver, app: RunningApp, *, first: bool = True) -> None:
    """Open the page and the store with the passphrase."""
    driver.open(app.first_address() if first else app.new_address())
    give_passphrase(driver)


def give_passphrase(driver: Driver) -> None:
    """Open the store from the page that asks for its passphrase."""
    driver.type("unlock-secret", PASSPHRASE)
    driver.click("unlock-open")
    driver.wait("examiner")
