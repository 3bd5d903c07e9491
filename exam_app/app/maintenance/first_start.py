"""What is answered once, at the first start, and what the vault keeps of it."""

import importlib
import uuid
from dataclasses import dataclass
from pathlib import Path

from exam_app.crypto import door
from exam_app.domain.exam.people import Person
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.engine.files import Opener, OwnPlace
from exam_app.store.errors import UnfinishedVaultError
from exam_app.store.vault.folder import was_begun
from exam_app.store.vault.vault import Vault

MADE_UNDER = "made_under"
RESTORED_FROM = "restored_from"
_STOP_THERE = to_translate(
    "Do not examine there any more: what is entered there does not come here. Look "
    "whether every exam is here, pair with the clinic again and hand over. Then remove "
    "the old copy, so that nobody goes on in it"
)


@dataclass(frozen=True, slots=True)
class SetUp:
    """What a first person answers once.

    Attributes:
        role: ``field`` or ``clinic``: what this computer is.
        practice: The practice's or shelter's name.
        clinic_phone: As typed; shown, never dialled.
        passphrase: Opens the exams after a restart.
        person: The first person.
        pin: The first person's PIN.
        made_under: The address that the exams belong to; empty on a computer.
    """

    role: str
    practice: str
    clinic_phone: str
    passphrase: str
    person: Person
    pin: str
    made_under: str = ""


def fill_settings(vault: Vault, answers: SetUp) -> None:
    """Keep the answers and make this device's own keys, in one save."""
    with vault.transaction():
        vault.people.put(answers.person)
        vault.people.set_pin(answers.person.person_id, answers.pin)
        for name in ("role", "practice", "clinic_phone", MADE_UNDER):
            vault.settings.put(name, getattr(answers, name))
        vault.settings.put("last_person", answers.person.person_id)
        vault.settings.put("device_id", uuid.uuid4().hex)
        vault.settings.put("signing_key", door.new_signing_key())
        vault.settings.put("agreement_key", door.new_agreement_key())


def own_address(opener: Opener) -> str:
    """Return the address that the browser keeps the exams under.

    Returns:
        Scheme, name and port; empty where the files lie in the system's folders.
    """
    if not isinstance(opener, OwnPlace):
        return ""
    return str(importlib.import_module("js").location.origin)


def keep_address(vault: Vault, here: str) -> None:
    """Keep where the restored exams belong now, and where they came from."""
    former = vault.settings.get(MADE_UNDER, "")
    vault.settings.put(RESTORED_FROM, former)
    vault.settings.put(MADE_UNDER, here)


def cut_off_words(folder: Path, opener: Opener) -> str:
    """Say that a set-up or restoration was cut off in this place; empty otherwise."""
    return tr(UnfinishedVaultError.advice) if was_begun(folder, opener) else ""


def address_words(here: str) -> str:
    """Say before the set-up what the exams belong to; empty on a computer."""
    if not here:
        return ""
    return tr(
        "Exams belong to this address: {here}. If you had exams under another "
        "address, open that one, back up there, and restore here.",
        here=here,
    )


def moved_words(former: str, here: str) -> str:
    """Say once, after restoring, what the place before still holds."""
    if former and former != here:
        return tr(
            "These exams came from {former}. That address still holds its own copy, "
            "on the device the backup was made on. {stop}: in that browser's "
            "settings, clear the site data of {former}.",
            former=former,
            stop=tr(_STOP_THERE),
        )
    return tr(
        "The device or folder that this backup came from may still hold its own copy. "
        "{stop}.",
        stop=tr(_STOP_THERE),
    )


def belonging_words(vault: Vault) -> str:
    """Say what address the exams belong to and came from; empty on a computer."""
    here, former = vault.settings.get(MADE_UNDER, ""), vault.settings.get(RESTORED_FROM)
    if not here:
        return ""
    said = tr(
        "The exams belong to {here} in this browser; under another address they are "
        "not found.",
        here=here,
    )
    if not former or former == here:
        return said
    return " ".join((said, tr("They were restored from {former}.", former=former)))
