"""The device's side of the hand-over, in a browser: its clinic, its codes, receipts.

The clinic is played by the library here; both apps meet in test_hand_over_both.
"""

import pytest

from exam_app.crypto import door
from exam_app.ui.exam_room import now
from sync.cards import as_text, from_text
from sync.pairing import ClinicKeys, accept, offer
from tests.browser.handed import (
    CLINIC_AGREEMENT,
    CLINIC_ID,
    CLINIC_SEED,
    fill_closed,
    in_store,
    pair_with_invented_clinic,
)
from tests.browser.prepared import prepare_folder, unlock

CLINIC = ClinicKeys(
    CLINIC_ID, "Invented clinic", CLINIC_SEED, CLINIC_AGREEMENT, is_demo=False
)


def test_a_device_is_paired_once_both_screens_show_the_same_six_words(phone, prepared):
    unlock(phone, prepared)
    phone.go("/hand-over")
    phone.wait("hand-pair")
    phone.shot("hand-over-unpaired-phone")
    phone.click("hand-pair-open")
    offered = offer(CLINIC, now(), door.random_bytes)
    phone.type("pair-name", "Tablet 2")
    phone.type("pair-text", as_text(offered.card).lower())
    phone.shot("pair-card-phone")
    phone.click("pair-read")
    phone.wait("pair-words")
    phone.shot("pair-answer-phone")
    sealed = from_text(phone.value("pair-answer-text"))
    accepted = accept(sealed, offered, CLINIC_AGREEMENT, now())
    assert accepted.device.name == "Tablet 2"
    said = phone.text("pair-words")
    for number, word in enumerate(accepted.words, 1):
        assert f"{number}. {word}" in said
    phone.scroll_to("pair-same")
    phone.shot("pair-words-phone")
    phone.click("pair-same")
    phone.wait("hand-count")
    phone.gone("hand-pair")
