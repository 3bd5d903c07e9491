"""What is answered once, at the first start, and what the vault keeps of it."""

import uuid
from dataclasses import dataclass
from typing import Any

from exam_app.crypto import door
from exam_app.store.vault import Vault


@dataclass(frozen=True, slots=True)
class SetUp:
    """What a first person answers once.

    Attributes:
        role: ``field`` or ``clinic``: what this computer is.
        practice: The practice's or shelter's name.
        clinic_phone: As typed; shown, never dialled.
        passphrase: Opens the exams after a restart.
        person: The first person's fields, with ``person_id``.
        pin: The first person's PIN.
    """

    role: str
    practice: str
    clinic_phone: str
    passphrase: str
    person: dict[str, Any]
    pin: str


def fill_settings(vault: Vault, answers: SetUp) -> None:
    """Keep the answers and make this device's own keys, in one save."""
    with vault.transaction():
        vault.people.put(answers.person)
        vault.people.set_pin(answers.person["person_id"], answers.pin)
        vault.settings.put("role", answers.role)
        vault.settings.put("practice", answers.practice)
        vault.settings.put("clinic_phone", answers.clinic_phone)
        vault.settings.put("last_person", answers.person["person_id"])
        vault.settings.put("device_id", uuid.uuid4().hex)
        vault.settings.put("signing_key", door.new_signing_key())
        vault.settings.put("agreement_key", door.new_agreement_key())
