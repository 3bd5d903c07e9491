"""A clinic's store and a device's store, paired by their own code, for tests.

The device is the invented practice of the demonstration; its records are marked demo,
and so is this clinic.
"""

import shutil
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from exam_app.app.clinic import pairing as clinic_pairing
from exam_app.app.demo import demo
from exam_app.app.exam_sessions import now
from exam_app.app.handover.pairing_device import clinic_of, device_keys
from exam_app.app.maintenance.first_start import SetUp
from exam_app.app.session import Session
from exam_app.crypto.door import random_bytes
from exam_app.domain.exam.people import Person, Role
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.outbox import hand_over
from exam_app.store.vault.vault import Vault
from sync.trust.pairing import answer, pairing_words
from tests.browser.cheap_app import CHEAP_COSTS

PIN = "4321"
PASSPHRASE = "four quiet words here"
VETERINARIAN = Person("b" * 32, "Dr Mar Ondine", Role.VETERINARIAN, "MO")


def new_session(folder: Path) -> Session:
    """A session over an empty folder, with passphrases that cost next to nothing."""
    folder.mkdir(parents=True, exist_ok=True)
    return Session(folder, CHEAP_COSTS.derivation, CHEAP_COSTS.bounds, is_demo=True)


async def prepare_both(folder: Path) -> None:
    """Set up both and pair them; the device holds the demonstration's exams."""
    clinic, device = new_session(folder / "clinic"), new_session(folder / "device")
    for session, role in ((clinic, "clinic"), (device, "field")):
        answers = SetUp(role, "Invented", "555 0100", PASSPHRASE, VETERINARIAN, PIN)
        await session.set_up(answers)
    demo.fill(device.vault)
    await pair(clinic.vault, device.vault)
    clinic.close()
    device.close()


@asynccontextmanager
async def opened_both(
    prepared: Path, folder: Path
) -> AsyncIterator[tuple[Session, Session]]:
    """Open a copy of both in a folder of its own."""
    shutil.copytree(prepared, folder, dirs_exist_ok=True)
    clinic, device = new_session(folder / "clinic"), new_session(folder / "device")
    for session in (clinic, device):
        await session.open_with_passphrase(PASSPHRASE)
    yield clinic, device
    clinic.close()
    device.close()


async def pair(clinic: Vault, device: Vault, name: str = "Van 2") -> tuple[str, ...]:
    """Pair a device and return the words that both showed."""
    at = now()
    offered = clinic_pairing.new_offer(clinic, at)
    given = answer(offered.card, device_keys(device, name), at, random_bytes)
    Exchange(device).pairing.put_clinic(clinic_of(given.clinic))
    clinic_pairing.take_answer(clinic, given.sealed, at)
    await clinic_pairing.find_words(clinic, CHEAP_COSTS.derivation)
    waiting = clinic_pairing.waiting(clinic)
    words = await pairing_words(given.cards, CHEAP_COSTS.derivation)
    assert waiting is not None
    assert waiting.words == words
    assert clinic_pairing.trust(clinic, at, "Dr Mar Ondine") == name
    return words


def sealed_by(device: Vault, count: int = 3) -> list[bytes]:
    """Seal the oldest exams that were not handed over, in one hand-over."""
    outbox = Exchange(device)
    ids = [row.exam_id for row, _ in Exchange(device).not_handed_over()]
    shown = {x for b in Exchange(device).outgoing.all() for x in b.exam_ids}
    fresh = [exam_id for exam_id in ids if exam_id not in shown][:count]
    return [one.sealed for one in hand_over(outbox, fresh, now(), random_bytes)]
