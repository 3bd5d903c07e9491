"""Closed exams, open ones and a paired clinic in a set-up store, for hand-over tests.

The animals are invented; they are not marked as demo here, since demo records are
refused where real ones are exchanged, and that refusal has tests of its own.
"""

from collections.abc import Callable
from dataclasses import replace

from exam_app.app.exam_sessions import now
from exam_app.app.exam_start import ExamOrder, begin_exam
from exam_app.app.handover.pairing_device import clinic_of
from exam_app.app.signing import store_closed
from exam_app.crypto import door
from exam_app.domain.exam.closing import close
from exam_app.domain.exam.exam import Exam, keys_in_scope, words_for
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.transitions import assert_no_abnormality
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope
from exam_app.exchange.exchange import Exchange
from exam_app.protocols.loader import load_protocol
from exam_app.record.plain_form import to_plain
from exam_app.store.vault.vault import Vault
from sync.trust.cards import ClinicCard
from tests.browser.exam_drafts import BRAMBLE, STARTER

CLINIC_SEED = bytes(range(32))
CLINIC_AGREEMENT = bytes(range(1, 33))
CLINIC_ID = "d" * 32
NAMES = ("Ash", "Birch", "Cedar", "Dale", "Elder")


def animal_named(number: int):
    """One of the invented animals."""
    return replace(
        BRAMBLE, animal_id=f"{number:032x}", name=NAMES[number], is_demo=False
    )


def closed_exam(number: int, started: Moment, alter: Callable | None = None) -> Exam:
    """A closed focused exam in which every part was answered."""
    loaded = load_protocol("dog")
    order = ExamOrder(
        animal_named(number), Scope.FOCUSED, Setting.CLINIC, ("nose", "eyes")
    )
    exam_id = f"{number + 160:032x}"
    protocol = loaded.protocol
    exam = begin_exam(order, protocol, loaded.content_hash, STARTER, exam_id, started)
    by = Attribution(STARTER.person_id, STARTER.person_id, started, started)
    for key in keys_in_scope(exam, protocol):
        exam = assert_no_abnormality(exam, protocol, (key,), words_for(exam), by)
    if alter is not None:
        exam = alter(exam, protocol, by)
    return close(exam, protocol, STARTER, started)


def fill_closed(
    vault: Vault, count: int, alter: Callable | None = None, altered: int = 1
) -> None:
    """Close so many exams; ``alter`` changes the first of them before they close."""
    loaded, started = load_protocol("dog"), now()
    vault.protocols.put(loaded.content_hash, loaded.content)
    for number in range(count):
        exam = closed_exam(number, started, alter if number < altered else None)
        vault.animals.put(to_plain(exam.animal))
        store_closed(vault, exam, loaded.protocol)


def pair_with_invented_clinic(vault: Vault) -> None:
    """Confirm a clinic whose keys the tests know."""
    card = ClinicCard(
        CLINIC_ID,
        "Invented clinic",
        door.signing_public_key(CLINIC_SEED),
        door.agreement_public_key(CLINIC_AGREEMENT),
        bytes(16),
        bytes(32),
        0,
        is_demo=False,
        phone="555 0123",
    )
    Exchange(vault).pairing.put_clinic(clinic_of(card))
