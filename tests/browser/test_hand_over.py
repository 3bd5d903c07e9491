"""The device's side of the hand-over, in a browser: its clinic, its codes, receipts.

The clinic is played by the library here; both apps meet in test_hand_over_both.
"""

import pytest

from exam_app.app.exam_sessions import now
from exam_app.crypto import door
from exam_app.domain.exam.transitions import answer_urgent, open_urgent
from exam_app.domain.exam.urgent import AnswerKind, UrgentAnswer, UrgentEntry
from exam_app.exchange.exchange import Exchange
from exam_app.record.lineage import OwnKeys
from sync.bundle.bundle import open_bundle
from sync.receipts import Outcome, Receipt, ReceiptLine, receipt_code, sign_receipt
from sync.trust.cards import as_text, from_text
from sync.trust.pairing import accept, offer
from tests.browser.clinic_pages import words_of
from tests.browser.codes import code_on, collect
from tests.browser.handed import (
    CLINIC_AGREEMENT,
    CLINIC_ID,
    CLINIC_SEED,
    fill_closed,
    pair_with_invented_clinic,
)
from tests.browser.prepared import PIN, in_store, prepare_folder, unlock

CLINIC = OwnKeys(
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
    for number, word in enumerate(words_of(accepted.cards), 1):
        assert f"{number}. {word}" in said
    phone.scroll_to("pair-same")
    phone.shot("pair-words-phone")
    phone.click("pair-same")
    phone.wait("hand-count")
    phone.gone("hand-pair")


def with_urgent_sign(exam, protocol, by):
    """Open an urgent sign of which the veterinarian was told."""
    answer = UrgentAnswer(AnswerKind.TOLD, by, whom="Kim Sorrel", how="phone")
    entry = UrgentEntry("a" * 32, "Bleeding that does not stop", by)
    return answer_urgent(open_urgent(exam, entry), entry.entry_id, answer)


def closed_and_paired(vault):
    fill_closed(vault, 3, with_urgent_sign)
    pair_with_invented_clinic(vault)
    vault.settings.put("look", "dark")


@pytest.fixture
def device(tmp_path, run_app):
    """An app in its dark look, paired, with three closed exams, one urgent."""
    folder = prepare_folder(tmp_path / "exams")
    in_store(folder, closed_and_paired)
    own = in_store(folder, lambda vault: Exchange(vault).own_device())
    return run_app(folder=folder), own.signing_key


@pytest.mark.everyday_in_chromium
def test_codes_on_the_screen_are_the_bundle_and_receipts_move_it_on(phone, device):
    app, device_key = device
    unlock(phone, app)
    phone.wait_text("day-waits", "3 exams are not handed over")
    assert phone.named("day-urgent-")
    phone.shot("day-waits-phone")
    phone.click("day-hand-over")
    phone.wait_text("hand-count", "3 exams are not handed over")
    phone.shot("hand-over-phone")
    phone.click("hand-codes")
    phone.wait("player-code")
    [sealed] = collect(phone, 1).finished()
    phone.shot("player-phone")
    opened = open_bundle(sealed, CLINIC_AGREEMENT, lambda _: device_key)
    assert opened.manifest.exam_count == 3
    phone.wait_text("player-said", "were shown once")
    phone.press("Space")
    phone.wait_text("player-said", "Paused.")
    assert code_on(phone) == code_on(phone)
    # Right after a tap by which codes are drawn anew, the next one counts too.
    phone.click("player-dots-bigger")
    phone.click("player-done")
    confirm(phone, opened)
    phone.shot("receipt-by-code-phone")
    phone.type("receipt-text", as_text(signed_receipt(opened)))
    phone.click("receipt-read")
    phone.wait_text("receipt-outcome", "All 3 arrived.")
    phone.shot("receipt-signed-phone")
    phone.click("receipt-delete")
    phone.shot("receipt-delete-phone")
    phone.click("receipt-delete-yes")
    phone.wait_text("told", "3 exams deleted here.")
    phone.go("/")
    phone.wait("day-new")
    phone.gone("day-waits")
    phone.gone("day-closed-" + f"{160:032x}")


def confirm(phone, opened):
    """Type a slip, a wrong code, then the right one as a hurried person would."""
    code = receipt_code(opened.receipt_secret, opened.bundle_hash)
    phone.type("receipt-typed", code[:-1])
    phone.click("receipt-confirm")
    phone.wait_text("receipt-said", "No try was used")
    wrong = receipt_code(bytes(32), opened.bundle_hash)
    phone.type("receipt-typed", wrong)
    phone.click("receipt-confirm")
    phone.wait_text("receipt-said", "4 tries are left")
    phone.type("receipt-typed", code.lower().replace("-", " ").replace("0", "O"))
    phone.click("receipt-confirm")
    phone.wait_text("receipt-said", "received, by the clinic's code")
    phone.gone("receipt-delete")


def signed_receipt(opened):
    manifest = opened.manifest
    lines = tuple(ReceiptLine(key, Outcome.STORED) for key in manifest.signed_hashes)
    receipt = Receipt(
        CLINIC_ID,
        manifest.sender_id,
        opened.bundle_hash,
        manifest.sequence,
        now(),
        lines,
        is_demo=False,
    )
    return sign_receipt(receipt, CLINIC_SEED)


def test_on_a_laptop_the_code_stands_beside_its_buttons(laptop, device):
    app, _ = device
    unlock(laptop, app)
    laptop.shot("day-waits-laptop")
    laptop.go("/hand-over")
    laptop.wait("hand-codes")
    laptop.shot("hand-over-laptop")
    laptop.click("hand-codes")
    laptop.wait("player-code")
    assert len(collect(laptop, 1).finished()) == 1
    laptop.shot("player-laptop")
    laptop.click("player-dots-dense")
    laptop.wait_text("player-said", "The one code was shown")
    assert code_on(laptop)
    laptop.click("player-dots-typing")
    laptop.wait_text("player-said", "Code 1 of")
    first = code_on(laptop, start="EXF")
    laptop.press("Space")
    laptop.wait_text("player-said", "Code 2 of")
    assert code_on(laptop, start="EXF", after=first)
    laptop.shot("player-typing-laptop")
    laptop.go("/pair")
    laptop.wait("pair-read")
    laptop.shot("pair-laptop")


def test_an_urgent_record_is_shown_at_once_from_its_own_screen(phone, device):
    app, _ = device
    unlock(phone, app)
    phone.go(f"/record/{160:032x}")
    phone.wait_text("record-hand-over", "Show to the clinic at once")
    phone.shot("record-urgent-phone")
    phone.click("record-hand-over")
    phone.wait_text("screen", "Hand-over 1: 1 exam")
    assert code_on(phone)
    phone.go("/")
    phone.wait_text(phone.named("day-urgent-"), "Urgent, not handed over: Ash")


def test_an_urgent_record_whose_codes_nobody_can_read_is_read_on_the_telephone(
    phone, device
):
    app, _ = device
    unlock(phone, app)
    phone.go(f"/record/{160:032x}")
    phone.click("record-hand-over")
    phone.wait("player-code")
    phone.shot("player-urgent-phone")
    phone.click("player-telephone")
    phone.wait_text("telephone-number", "Hill practice: 555 0123")
    phone.type("telephone-heard", "Dr Ash")
    phone.type("clinic-pin", PIN)
    phone.click("clinic-note-save")
    phone.gone("sheet")
    phone.wait_text("told", "Dr Ash was told on the telephone")
    # The codes go on.
    assert code_on(phone)


def test_of_several_urgent_records_among_the_codes_one_is_chosen_for_the_telephone(
    phone, tmp_path, run_app
):
    folder = prepare_folder(tmp_path / "exams")

    def all_urgent(vault):
        fill_closed(vault, 2, with_urgent_sign, altered=2)
        pair_with_invented_clinic(vault)

    in_store(folder, all_urgent)
    unlock(phone, run_app(folder=folder))
    phone.go("/hand-over")
    phone.click("hand-codes")
    phone.click("player-telephone")
    phone.shot("player-which-phone")
    phone.click(f"player-telephone-{160:032x}")
    phone.wait("telephone-number")
