"""A clinic and its field devices in folders, paired, with small exams to hand over.

Invented animals and people, marked demo.
"""

import contextlib
import hashlib
from dataclasses import dataclass, replace
from pathlib import Path

from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.signing import store_closed
from exam_app.crypto import door
from exam_app.crypto.door import DerivationBounds, KeyDerivation
from exam_app.domain.exam.closing import close, stop_early
from exam_app.domain.exam.exam import StopReason
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.inbox import receive
from exam_app.exchange.outbox import hand_over
from exam_app.exchange.pairings import Clinic
from exam_app.protocols.loader import load_protocol
from exam_app.record.notes import Note, NoteKind
from exam_app.record.plain_form import to_plain
from exam_app.record.records import close_and_sign, sign_note
from exam_app.store.vault.folder import create_vault
from exam_app.store.vault.open import open_vault
from exam_app.store.vault.vault import Vault
from sync.bundle.bundle import BundleKind, seal_bundle
from sync.bundle.contents import Contents
from tests.exam_samples import ANIMAL, NOW, TECHNICIAN, VETERINARIAN
from tests.store_disks import MemoryFile

CHEAP = KeyDerivation(memory_kib=64, passes=1, lanes=1)
BOUNDS = DerivationBounds(CHEAP, KeyDerivation())
PASSPHRASE = "four quiet words here"
DOG = load_protocol("dog")
LATER = Moment(NOW.utc_ms + 3_600_000, NOW.offset_min)


def named_id(name):
    """Give the same 32 digits for the same name."""
    return hashlib.sha256(name.encode()).hexdigest()[:32]


def named_bytes(name, count=32):
    return hashlib.sha256(name.encode()).digest()[:count]


def animal(name="Bramble", **fields):
    return replace(ANIMAL, animal_id=named_id(name), name=name, **fields)


def small_exam(name, of=None, closer=TECHNICIAN, **fields):
    """A focused exam, stopped early and closed."""
    order = ExamOrder(of or animal(), Scope.FOCUSED, Setting.CLINIC, ("nose",))
    exam = begin_exam(
        order, DOG.protocol, DOG.content_hash, closer, named_id(name), NOW
    )
    by = Attribution(closer.person_id, closer.person_id, NOW, NOW)
    exam = stop_early(exam, DOG.protocol, StopReason.ESCAPED, "", by)
    return replace(close(exam, DOG.protocol, closer, NOW), **fields)


@dataclass(slots=True)
class Place:
    """One computer.

    Attributes:
        name: Its keys follow from it.
        file, bundle: Something it handed over, for tests that want it.
        station: Role of the station, where its store is a register.
    """

    name: str
    vault: Vault
    file: Path | None = None
    bundle: object = None
    station: str = ""

    @property
    def is_demo(self):
        return self.vault.is_demo

    @property
    def device_id(self):
        return self.vault.settings.get("device_id")

    @property
    def seed(self):
        return self.vault.settings.get("signing_key")

    @property
    def exchange(self):
        return Exchange(self.vault)

    def close_exam(self, exam, owner=None):
        """Close an exam as the app does, with its animal and owner kept."""
        kept = self.vault.animals.get(exam.animal.animal_id)
        plain = kept or to_plain(exam.animal)
        if owner is not None:
            plain = {**plain, "owner": to_plain(owner)}
        self.vault.animals.put(plain)
        store_closed(self.vault, exam, DOG.protocol)
        return exam.exam_id

    def sign(self, exam, owner=None, salt=bytes(32)):
        return close_and_sign(exam, DOG.protocol, self.seed, owner, salt).signed

    def sign_note(self, name, exam_id, **fields):
        note = Note(
            named_id(name),
            NoteKind.ADDENDUM,
            exam_id,
            "ab" * 32,
            VETERINARIAN,
            NOW,
            "in own words",
            is_demo=self.is_demo,
        )
        return sign_note(replace(note, **fields), self.seed)

    def seal(self, clinic, contents, sequence=1, made=NOW, **fields):
        """Seal any contents, also such as the app never would."""
        given = {
            "sequence": sequence,
            "made": made,
            "sender_id": self.device_id,
            "seed": self.seed,
            "recipient_key": agreement_key(clinic.vault),
            "is_demo": self.is_demo,
            "random": door.random_bytes,
        }
        kind = fields.pop("kind", BundleKind.EXAMS)
        return seal_bundle(kind, contents, **{**given, **fields}).sealed

    def seal_exams(self, clinic, *exams, sequence=1, **fields):
        contents = Contents(tuple(self.sign(exam) for exam in exams))
        return self.seal(clinic, contents, sequence, **fields)

    def hand_over(self, *exam_ids, now=NOW):
        return hand_over(self.exchange, exam_ids, now, door.random_bytes)

    def receive(self, sealed, now=LATER):
        return receive(sealed, self.exchange, now)

    def hashes(self):
        """Every record kept, as a sorted list: a double would stand twice."""
        rows = [row for _, row in self.vault.closed._table.rows()]
        return sorted(row["hash"] for row in rows)


def agreement_key(vault):
    return door.agreement_public_key(vault.settings.get("agreement_key"))


async def in_memory(_path):
    return MemoryFile()


async def new_place(folder, name, role, is_demo=True, opener=in_memory):
    """Give a new place; it is gone with the test unless files are opened."""
    vault, _ = await create_vault(
        folder, PASSPHRASE, CHEAP, bounds=BOUNDS, opener=opener
    )
    fill_place(vault, name, role)
    vault.is_demo = is_demo
    return Place(name, vault)


def new_register_place(register, name, role, is_demo=True):
    """Give a new place whose store is a clinic of its own in a register."""
    station = register.admit(register.new_clinic())
    place = Place(name, register.open(station))
    fill_place(place.vault, name, role)
    place.vault.is_demo = is_demo
    place.station = station
    return place


def fill_place(vault, name, role):
    with vault.transaction():
        vault.settings.put("role", role)
        vault.settings.put("practice", f"Invented {name}")
        vault.settings.put("device_id", named_id(f"device {name}"))
        vault.settings.put("signing_key", named_bytes(f"signing {name}"))
        vault.settings.put("agreement_key", named_bytes(f"agreement {name}"))


async def open_place(folder, name, is_demo=True):
    vault = await open_vault(folder, PASSPHRASE, bounds=BOUNDS)
    vault.is_demo = is_demo
    return Place(name, vault)


def pair(clinic, device, **fields):
    """Pair as the screens do, without the cards."""
    own = Exchange(device.vault).own_device()
    kept = replace(own, **{"name": device.name, "state": "paired", **fields})
    Exchange(clinic.vault).pairing.put_device(kept)
    known = Exchange(clinic.vault).own_device()
    Exchange(device.vault).pairing.put_clinic(
        Clinic(
            clinic_id=known.device_id,
            name=clinic.name,
            signing_key=known.signing_key,
            agreement_key=known.agreement_key,
            is_demo=clinic.is_demo,
        )
    )


@contextlib.asynccontextmanager
async def paired_places(
    folder, devices=("Tablet one",), opener=in_memory, is_demo=True, register=None
):
    """Give the clinic and its devices, all paired, and close them at the end.

    The clinic's store is a folder, or stands in a register where one is given.
    """
    if register is None:
        clinic = await new_place(folder / "clinic", "Clinic", "clinic", is_demo, opener)
    else:
        clinic = new_register_place(register, "Clinic", "clinic", is_demo)
    places = [
        await new_place(folder / name, name, "field", is_demo, opener)
        for name in devices
    ]
    for place in places:
        pair(clinic, place)
    try:
        yield (clinic, *places)
    finally:
        for place in (clinic, *places):
            place.vault.close()
