"""The device's side of the hand-over, in a browser: its clinic, its codes, receipts.

The clinic is played by the library here; both apps meet in test_hand_over_both.
"""

import pytest

from exam_app.crypto import door
from exam_app.ui.exam_room import now
from sync.cards import as_text, from_text
from sync.pairing import ClinicKeys, accept, offer
from tests.browser.codes import code_on, collect
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


def put_sealed(vault):
    """Keep stand-in bytes as a sealed bundle: what is shown, not what is in it."""
    fill_closed(vault, 2)
    pair_with_invented_clinic(vault)
    rows = vault.exchange.not_handed_over()
    bundle = {
        "bundle_hash": door.sha256(SEALED).hex(),
        "recipient_id": CLINIC_ID,
        "sequence": 1,
        "kind": "exams",
        "made_ms": 0,
        "exam_ids": [row["exam_id"] for row in rows],
        "record_hashes": [row["hash"] for row in rows],
        "signed_hashes": [row["hash"] for row in rows],
        "made_offset_min": 0,
    }
    vault.exchange.outgoing.put(bundle, SEALED, "ABCD-EFGH")
    vault.settings.put("look", "dark")


SEALED = b"".join(door.sha256(bytes([number])) for number in range(90))


@pytest.fixture
def sealed_app(tmp_path, run_app):
    """An app in its dark look with one hand-over that was sealed."""
    folder = prepare_folder(tmp_path / "exams")
    in_store(folder, put_sealed)
    return run_app(folder=folder)


def test_codes_on_the_screen_rebuild_the_bundle_and_space_stops_them(phone, sealed_app):
    unlock(phone, sealed_app)
    phone.go("/hand-over")
    phone.wait("hand-bundle-1")
    phone.shot("hand-over-phone")
    phone.go("/hand-over/codes/1")
    phone.wait("player-code")
    collector = collect(phone, 1)
    phone.shot("player-phone")
    assert collector.finished() == [SEALED]
    phone.wait_text("player-said", "codes were shown once")
    phone.press("Space")
    phone.wait_text("player-said", "Paused.")
    first, second = code_on(phone), code_on(phone)
    assert first == second != ""
    phone.shot("player-paused-phone")
    phone.click("player-dots-bigger")
    phone.wait_text("player-said", "Code 1 of")
    assert code_on(phone) != first
