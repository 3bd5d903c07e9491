"""The first module of a build that only saves: no screens, one store, no end.

It runs in Python's worker in the real page, over the browser's real private files.
Each save is told after it was acknowledged; each start first tells what it found.
"""

import asyncio
import hashlib
import json
import sys
from pathlib import Path
from typing import Any

from exam_app.crypto.door import DerivationBounds, KeyDerivation
from exam_app.store.engine.browser_files import open_browser_folder
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.folder import create_vault, vault_exists
from exam_app.store.vault.open import open_vault
from exam_app.store.vault.vault import Vault

CHEAP = KeyDerivation(memory_kib=64, passes=1, lanes=1)
BOUNDS = DerivationBounds(CHEAP, KeyDerivation())


# How many times longer every text is, and after how many saves all is written anew;
# a test that wants a full disk puts other numbers here.
LONGER = 1
EVERY = 25


def said_of(turn: int) -> str:
    """What the draft of this turn says; nothing else was ever written."""
    return hashlib.sha256(b"%d" % turn).hexdigest() * (1 + turn % 40) * LONGER


async def opened() -> Vault:
    """Open the vault of this browser, or make it."""
    folder = await open_browser_folder("exams")
    place = Path("/exams")
    place.mkdir(exist_ok=True)
    if vault_exists(place, folder):
        return await open_vault(place, "hoof", bounds=BOUNDS, opener=folder)
    vault, _ = await create_vault(place, "hoof", CHEAP, bounds=BOUNDS, opener=folder)
    return vault


def found(vault: Vault) -> dict[str, Any]:
    """Read everything back and hold it to what may have been written."""
    turn = vault.settings.get("turn", 0)
    closed = {row.exam_id for row in vault.closed.latest(10**6)}
    drafts = [vault.drafts.get(row.exam_id) for row in vault.drafts.open()]
    faults = [d for d in drafts if d is None or d["said"] != said_of(d["turn"])]
    faults += [d for d in drafts if d and not turn - 7 < d["turn"] <= turn]
    faults += [{"missing": n} for n in range(7, turn + 1, 7) if f"e{n}" not in closed]
    faults += [
        {"wrong": number}
        for number in range(7, turn + 1, 7)
        if vault.closed.get(f"e{number}") != said_of(number).encode()
    ]
    return {"turn": turn, "faults": faults, "damage": vault.damage_report}


def save(vault: Vault, turn: int) -> None:
    """Save as an exam is saved: drafts over and over, then closed; written anew."""
    with vault.transaction():
        if turn % 7 == 0:
            vault.close_exam(
                ClosedExam(exam_id=f"e{turn}", animal_id="a1"), said_of(turn).encode()
            )
        else:
            draft = {"turn": turn, "said": said_of(turn)}
            vault.drafts.put(f"e{turn - turn % 7 + 7}", draft)
        vault.settings.put("turn", turn)
    if turn % EVERY == 0:
        vault.rewrite()


async def run() -> None:
    """Tell what is there, then save until the end comes."""
    try:
        vault = await opened()
        at_first = found(vault)
        sys.stdout.write(f"FOUND {json.dumps(at_first)}\n")
        turn = at_first["turn"]
        while True:
            turn += 1
            save(vault, turn)
            sys.stdout.write(f"SAVED {turn}\n")
            await asyncio.sleep(0.005)
    except Exception as error:
        sys.stdout.write(f"FAILED {type(error).__name__}: {error}\n")
        raise


async def _connected(_: object) -> None:
    """Answer to the worker in the place of a page."""


def start() -> None:
    """Begin; the worker waits for nothing else."""
    import flet_js  # is there in the browser only

    flet_js.start_connection = _connected
    asyncio.get_event_loop().create_task(run())
