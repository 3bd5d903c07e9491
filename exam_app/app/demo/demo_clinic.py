"""Fill a throw-away clinic by really receiving from a throw-away device.

The device of the demonstration is filled, paired and handed over with the same code
as a real one; nothing is put among the clinic's records that did not arrive sealed.
One hand-over is left on a pretended stick, so that a missing bundle can be seen, and
received from the folder.
"""

import tempfile
import uuid
from pathlib import Path

from exam_app.app.clinic import pairing as clinic_pairing
from exam_app.app.clinic.imports import import_sealed
from exam_app.app.clinic.shared_folder import FOLDER
from exam_app.app.demo import demo
from exam_app.app.exam_sessions import now
from exam_app.app.handover.pairing_device import clinic_of, device_keys
from exam_app.app.handover.photographs import photograph_files
from exam_app.app.maintenance.first_start import SetUp
from exam_app.app.session import DEMO_PIN, Session
from exam_app.crypto.door import random_bytes
from exam_app.domain.exam.people import Person, Role
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.outbox import hand_over
from exam_app.store.vault.vault import Vault
from sync.transport.folder import Ending, FolderWriter, device_folder
from sync.trust.pairing import answer

_A_HAND_OVER = 6
# The second of them.
_LEFT_ON_THE_STICK = _A_HAND_OVER


async def fill(clinic: Session) -> None:
    """Fill the clinic of a demonstration with what a device handed over."""
    with tempfile.TemporaryDirectory(prefix="exam-demo-device-") as folder:
        device = Session(Path(folder), clinic.derivation, clinic.bounds, is_demo=True)
        person = Person(uuid.uuid4().hex, "Demo", Role.TECHNICIAN)
        await device.set_up(
            SetUp("field", "Demo practice", "", uuid.uuid4().hex, person, DEMO_PIN)
        )
        try:
            demo.fill(device.vault)
            await _pair(clinic, device.vault)
            _hand_over(clinic, device.vault)
        finally:
            device.close()


async def _pair(session: Session, device: Vault) -> None:
    at, clinic = now(), session.vault
    offered = clinic_pairing.new_offer(clinic, at)
    keys = device_keys(device, "Tablet 1 (demo)")
    answered = answer(offered.card, keys, at, random_bytes)
    Exchange(device).pairing.put_clinic(clinic_of(answered.clinic))
    clinic_pairing.take_answer(clinic, answered.sealed, at)
    # Nobody is in between, so the words may cost as little as the passphrase here.
    await clinic_pairing.find_words(clinic, session.derivation)
    clinic_pairing.trust(clinic, at, "demo")


def _hand_over(clinic: Session, device: Vault) -> None:
    stick = clinic.folder / "stick"
    stick.mkdir()
    device_id = str(device.settings.get("device_id"))
    ids = [row.exam_id for row, _ in Exchange(device).not_handed_over()]
    outbox = Exchange(device)
    for place in range(0, len(ids), _A_HAND_OVER):
        part = ids[place : place + _A_HAND_OVER]
        for made in hand_over(outbox, part, now(), random_bytes):
            sealed = made.sealed
            if place == _LEFT_ON_THE_STICK:
                there = device_folder(stick, device_id)
                FolderWriter(there).put(sealed, Ending.BUNDLE)
            else:
                import_sealed(clinic.vault, sealed, now())
    for _, sealed in photograph_files(device):
        import_sealed(clinic.vault, sealed, now())
    clinic.vault.settings.put(FOLDER, str(stick))
