"""Pair this device with its clinic, step by step; a person has the last word.

A value that moves on: a card is read, six words are compared, and only "the same
words" makes the clinic the one that bundles are sealed to. "Other words" forgets
everything, and the clinic has to show a new card.
"""

from dataclasses import replace

from exam_app.domain.moments import Moment
from exam_app.domain.wording.visible_text import visible
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.pairings import Clinic
from exam_app.language.catalogue import to_translate, tr
from exam_app.record.cose import key_id_of
from exam_app.record.lineage import OwnKeys
from exam_app.store.vault.vault import Vault
from sync.errors import KnownDeviceKeyError
from sync.trust.cards import ClinicCard

HOW = to_translate(
    "1. On the clinic's computer, open “Pair a device”; it shows a card.\n"
    "2. Bring the card here: hold the camera before it, open a photo or its file, "
    "paste its text, or let a scanner that types read it into the field.\n"
    "3. Bring this device's answer back to the clinic.\n"
    "4. Compare six words on both screens."
)
COMPARE = to_translate(
    "Read the six words aloud. The clinic's screen must show the same six in the "
    "same order. If one differs, somebody may have put another card in between."
)
DIFFERENT = to_translate(
    "Stopped. Nothing was paired. Tell the clinic to say no as well, "
    "and start again with a new card, given from hand to hand."
)
ANSWER_NOTE = to_translate("It is sealed: nobody but this clinic can read it.")
_MINUTE_MS = 60_000


def device_keys(vault: Vault, name: str) -> OwnKeys:
    """Return its keys and the name the clinic will call it by, as a card needs them."""
    return replace(Exchange(vault).own_identity(), name=name)


def clinic_of(card: ClinicCard) -> Clinic:
    """Return what is kept of a clinic, once a person found the same words."""
    return Clinic(
        clinic_id=card.clinic_id,
        name=visible(card.name),
        phone=visible(card.phone),
        signing_key=card.signing_key,
        agreement_key=card.agreement_key,
        is_demo=card.is_demo,
        packing=card.packing,
    )


def check_known_clinic(vault: Vault, card: ClinicCard) -> None:
    """Refuse a card of this device's own clinic that has other keys than it had.

    A clinic that was restored is a new one, with an id of its own.

    Raises:
        KnownDeviceKeyError: The id is known with another key, or the key with
            another id.
    """
    kept = Exchange(vault).pairing.clinic()
    if kept is None:
        return
    is_id = kept.clinic_id == card.clinic_id
    is_key = kept.signing_key == card.signing_key
    if is_id != is_key:
        raise KnownDeviceKeyError("the known clinic has another key")


def name_problem(name: str) -> str:
    """Say what is wrong with a device's name; empty when it can stand."""
    if not name.strip():
        return tr("Write what the clinic should call this device, as “Tablet 2”.")
    return ""


def minutes_left(expires_ms: int, now: Moment) -> str:
    """Say how long the clinic still accepts the answer."""
    left = (expires_ms - now.utc_ms) // _MINUTE_MS
    if expires_ms <= now.utc_ms:
        return tr("The clinic's card has run out. Ask for a new one and start again.")
    if left < 1:
        return tr("The clinic accepts this answer for less than a minute.")
    return tr(
        "The clinic accepts this answer for {minutes} more min, once.", minutes=left
    )


def clinic_words(vault: Vault) -> str:
    """Describe the clinic that a person has confirmed; empty without one."""
    clinic = Exchange(vault).pairing.clinic()
    if clinic is None:
        return ""
    mark = key_id_of(clinic.signing_key).hex()[:8]
    number = f" · {clinic.phone}" if clinic.phone else ""
    key = tr("key {mark}", mark=" ".join((mark[:4], mark[4:])))
    return f"{clinic.name}{number} · {key}"
