"""Stored hand-overs and the worked example of FORMAT.md.

A vector is a file of three lines (what is expected, what to open it as, what it is),
an empty line and the bytes in hexadecimal. Keys and times are those of ``sync_tiny``.
"""

import re
from pathlib import Path

import pytest

import sync
from exam_app.crypto import door
from exam_app.exchange import inbox
from exam_app.exchange.photographs import MOST_RETURNED, MOST_UNNAMED
from sync import receipts
from sync.bundle import packing, sealing
from sync.bundle.bundle import (
    LARGEST_MANIFEST,
    LONGEST_SIGNER_NAME,
    MOST_SIGNERS,
    BundleKind,
)
from sync.bundle.contents import Contents
from sync.bundle.sealing import unseal
from sync.errors import FolderError, NotAFrameError, SyncError
from sync.photographs import (
    LARGEST_LABEL,
    MOST_NAMED,
    open_photograph,
    read_list,
    seal_photograph,
    sign_list,
)
from sync.receipts import Outcome, read_receipt, receipt_code
from sync.transport import collector, erasure_code, folder_reading, frames
from sync.trust import cards, pairing
from sync.trust.cards import as_text, read_clinic_card
from sync.trust.pairing import Offer, accept, pairing_words
from tests.pictures import picture
from tests.sync_tiny import (
    ANIMAL,
    CLINIC_ID,
    CLINIC_KEY,
    CLINIC_PRIVATE,
    CLINIC_SEED,
    CONTENTS,
    DEVICE_ID,
    DEVICE_KEY,
    DEVICE_PRIVATE,
    DEVICE_SEED,
    EVENING,
    KNOWN,
    NOTE,
    NOW,
    SIGNED,
    VECTORS,
    opened,
)

FILES = sorted(VECTORS.glob("*.hex"))
FORMAT = (Path(sync.__path__[0]) / "FORMAT.md").read_text("utf-8")


def load(path):
    head, _, spelled = path.read_text("utf-8").partition("\n\n")
    lines = dict(line.split(": ", 1) for line in head.splitlines())
    return lines["expect"], lines["open as"], bytes.fromhex(spelled)


def stored(name):
    return load(VECTORS / f"{name}.hex")[2]


def the_offer(name="good_clinic_card"):
    card = stored(name)
    return Offer(card, read_clinic_card(card, NOW))


def signed_hashes_of(bundle_hash):
    bundle = opened(stored("good_bundle"))
    known = bundle.bundle_hash == bundle_hash
    return bundle.manifest.signed_hashes if known else None


OPENERS = {
    "bundle": opened,
    "day pack": lambda content: opened(content, DEVICE_PRIVATE),
    "clinic card": lambda content: read_clinic_card(content, NOW),
    "device card": lambda sealed: accept(sealed, the_offer(), CLINIC_PRIVATE, NOW),
    "device card 2": lambda sealed: accept(
        sealed, the_offer("good_clinic_card_2"), CLINIC_PRIVATE, NOW
    ),
    "receipt": lambda signed: read_receipt(signed, CLINIC_KEY, signed_hashes_of),
    "photograph": lambda content: open_photograph(content, CLINIC_PRIVATE, KNOWN),
    "photographs": lambda signed: read_list(signed, CLINIC_KEY),
}


@pytest.mark.vector
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_stored_hand_over_is_opened_or_refused_as_written_down(path):
    expect, kind, content = load(path)
    if expect == "good":
        OPENERS[kind](content)
        return
    with pytest.raises(SyncError) as refusal:
        OPENERS[kind](content)
    assert type(refusal.value).__name__ == expect


def test_no_stored_hand_over_went_missing():
    assert len(FILES) == 117
    assert sum(load(path)[0] == "good" for path in FILES) == 18


@pytest.mark.vector
def test_stored_photograph_and_list_say_what_was_signed_and_are_made_so_today():
    content = stored("good_photograph")
    got = open_photograph(content, CLINIC_PRIVATE, KNOWN)
    assert got.picture == picture(0)
    assert seal_photograph(got.label, got.picture, DEVICE_SEED) == content
    said = read_list(stored("good_photographs"), CLINIC_KEY)
    assert said.held == (got.label.sha256,)
    assert said.wanted == ("a2" * 32,)
    assert sign_list(said, CLINIC_SEED) == stored("good_photographs")


@pytest.mark.vector
def test_stored_bundles_say_what_was_sealed():
    for name in (
        "good_bundle",
        "good_bundle_without_dictionary",
        "good_bundle_unknown_field",
        "good_bundle_dictionary_2",
        "good_bundle_packing_2",
    ):
        bundle = opened(stored(name))
        assert bundle.contents == CONTENTS
        assert bundle.manifest.sequence == 17
        assert bundle.manifest.made == EVENING
        assert bundle.manifest.sender_id == DEVICE_ID
        assert bundle.manifest.is_demo
    assert opened(stored("good_bundle_empty")).contents == Contents()


@pytest.mark.vector
def test_stored_day_pack_says_what_was_sealed():
    pack = opened(stored("good_day_pack"), DEVICE_PRIVATE)
    assert pack.manifest.kind is BundleKind.DAY_PACK
    assert pack.contents == Contents(
        records=(SIGNED.signed,),
        notes=(NOTE,),
        animals=(ANIMAL,),
        receipts=(stored("good_receipt"),),
    )


@pytest.mark.vector
def test_stored_day_pack_names_the_device_that_signed_a_part():
    pack = opened(stored("good_day_pack_signers"), DEVICE_PRIVATE)
    assert pack.manifest.signers == ((DEVICE_KEY, "Demo tablet 1"),)


@pytest.mark.vector
def test_stored_private_note_goes_beside_its_exam():
    contents = opened(stored("good_bundle_private")).contents
    (part,) = contents.privates
    assert part.exam_hash == door.sha256(contents.records[0]).hex()
    assert b"rope mark" in part.block
    assert b"rope mark" not in contents.records[0]


@pytest.mark.vector
def test_stored_receipt_says_what_was_signed():
    receipt = OPENERS["receipt"](stored("good_receipt"))
    assert (receipt.clinic_id, receipt.device_id) == (CLINIC_ID, DEVICE_ID)
    assert [line.record_hash for line in receipt.lines] == [
        SIGNED.exam_hash,
        door.sha256(NOTE).hex(),
    ]
    outcomes = [line.outcome for line in receipt.lines]
    assert outcomes == [Outcome.STORED, Outcome.HAD_ALREADY]
    assert receipt.received == EVENING


@pytest.mark.vector
async def test_stored_cards_give_the_words_that_are_written_down():
    accepted = OPENERS["device card"](stored("good_device_card"))
    assert " ".join(await pairing_words(accepted.cards)) in FORMAT
    slow = OPENERS["device card 2"](stored("good_device_card_2"))
    assert (slow.cards.words_version, accepted.cards.words_version) == (2, 1)
    assert " ".join(await pairing_words(slow.cards)) in FORMAT
    with_former = OPENERS["device card"](stored("good_device_card_former_key"))
    assert [former.device_id for former in with_former.device.former] == ["d0" * 16]


def blocks():
    """The worked examples by their titles."""
    pattern = r"\*\*([^*\n]+)\.\*\*(?:(?!```hex|\*\*).)*```hex\n(.*?)```"
    found = re.findall(pattern, FORMAT, re.DOTALL)
    return {title: bytes.fromhex(re.sub(r"#.*", "", block)) for title, block in found}


@pytest.mark.vector
def test_worked_bundle_of_the_format_opens_and_unpacks_as_written_down():
    sealed, content = blocks()["Sealed"], blocks()["Unpacked"]
    assert sealed == stored("good_bundle_empty")
    unsealed = unseal(sealed, CLINIC_PRIVATE)
    assert packing.Unpacking(unsealed.plain).rest() == content
    bundle = opened(sealed)
    assert bundle.contents == Contents()
    assert bundle.bundle_hash in FORMAT
    assert bundle.receipt_secret.hex() in FORMAT
    assert receipt_code(bundle.receipt_secret, bundle.bundle_hash) in FORMAT


@pytest.mark.vector
def test_worked_card_and_receipt_of_the_format_are_the_stored_ones():
    assert blocks()["Clinic card"] == stored("good_clinic_card")
    assert blocks()["Receipt"] == stored("good_receipt")
    assert as_text(stored("good_clinic_card"))[:40] in FORMAT


def test_every_error_and_every_limit_stands_in_the_format():
    elsewhere = {NotAFrameError, FolderError}
    families = {"SyncError", "CardError", "ReceiptError"}
    from sync import errors

    for name, value in vars(errors).items():
        is_error = isinstance(value, type) and issubclass(value, SyncError)
        if is_error and value not in elsewhere and name not in families:
            assert f"`{name}`" in FORMAT, name


LIMITS = {
    "sealed bundle": f"{sealing.LARGEST_SEALED:,} bytes",
    "unpacked, and its columns": f"{packing.LARGEST_INFLATED:,} bytes",
    "one part": f"{packing.LARGEST_PART:,} bytes",
    "manifest": f"{LARGEST_MANIFEST:,} bytes",
    "parts": f"{packing.MOST_PARTS:,}",
    "lines of a receipt": f"{receipts.MOST_LINES:,}",
    "card": f"{cards.LARGEST_CARD:,} bytes",
    "name or telephone on a card": f"{cards.LONGEST_NAME:,} characters",
    "former keys on a card": f"{cards.MOST_FORMER:,}",
    "signers in a day pack": f"{MOST_SIGNERS:,}",
    "name of a signer": f"{LONGEST_SIGNER_NAME:,} characters",
    "a card's time": f"{pairing.VALID_MS // 60_000:,} minutes",
    "number of a bundle": f"{inbox.HIGHEST_SEQUENCE:,}",
    "tries of a receipt code": f"{receipts.TRIES:,}",
    "bundle in frames": f"{frames.LONGEST_BUNDLE:,} bytes",
    "frames that rebuild a bundle": f"{erasure_code.MOST_SOURCES:,}",
    "unfinished bundles": f"{collector.MOST_PENDING:,}",
    "blocks kept of one bundle": f"{collector.MOST_PIECES:,}",
    "blocks kept in all": f"{collector.MOST_BLOCKS:,}",
    "blocks kept of one id": f"{collector.MOST_VARIANTS:,}",
    "attempts to rebuild for one frame": f"{collector.MOST_TRIES:,}",
    "file in a folder": f"{folder_reading.LARGEST_FILE:,} bytes",
    "files of one look": f"{folder_reading.MOST_FILES:,}",
    "held by one look, about": f"{folder_reading.MOST_HELD:,} bytes",
    "folders below the first": f"{folder_reading.DEEPEST:,}",
    "label of a photograph": f"{LARGEST_LABEL:,} bytes",
    "photographs in a list": f"{MOST_NAMED:,} each",
    "photographs without a record": f"{MOST_UNNAMED:,}",
    "photographs beside a day pack": f"{MOST_RETURNED:,}",
}


def test_limits_in_the_format_are_those_of_the_code():
    section = FORMAT.partition("\n## Limits\n")[2].partition("\n## ")[0]
    rows = re.findall(r"^\| ([^|]+) \| ([^|]+) \|$", section, re.MULTILINE)
    told = {what: most for what, most in rows if not what.startswith(("what", "---"))}
    assert told == {key: text.replace(",", " ") for key, text in LIMITS.items()}
    # No other number of bytes is told anywhere else for what a folder may hold.
    assert "8 MiB" not in FORMAT
