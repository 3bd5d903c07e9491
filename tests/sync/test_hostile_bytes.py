"""Truncated, flipped, replayed and oversized inputs at the readers of the hand-over.

What is read by nobody but its recipient is changed before it is sealed, as somebody
with a paired device could; nothing of it is ever kept.
"""

import random

import pytest

from exam_app.crypto import door
from exam_app.record.errors import RecordError
from exam_app.record.lineage import OwnKeys
from exam_app.record.records import close_and_sign
from exam_app.record.salted_blocks import block_matches, read_private
from sync.bundle.bundle import (
    LARGEST_MANIFEST,
    BundleKind,
    read_manifest,
    sign_manifest,
)
from sync.bundle.contents import Contents, PrivatePart
from sync.bundle.packing import Unpacking, pack
from sync.errors import BundleTooLargeError, SyncError
from sync.trust.cards import LARGEST_CARD, read_clinic_card, read_device_card
from sync.trust.pairing import answer, offer
from tests.record_tiny import PRIVATE_SALT, SALT, SEED, TINY, TOLD_PRIVATELY
from tests.sync_tiny import (
    CLINIC_KEY,
    CLINIC_PRIVATE,
    CLINIC_SEED,
    DEVICE_KEY,
    DEVICE_PRIVATE,
    DEVICE_SEED,
    NOW,
    opened,
    sealed,
    stream,
)

MADE = close_and_sign(TOLD_PRIVATELY, TINY, SEED, None, SALT, PRIVATE_SALT)
PART = PrivatePart(MADE.exam_hash, PRIVATE_SALT, MADE.private_block)
BUNDLE = sealed(Contents((MADE.signed,), privates=(PART,))).sealed
PACK = sealed(Contents(), BundleKind.DAY_PACK, signers=((DEVICE_KEY, "Tablet"),))
OFFERED = offer(
    OwnKeys("c1" * 16, "Clinic", CLINIC_SEED, CLINIC_PRIVATE, True), NOW, stream(1)
)
ANSWER = answer(
    OFFERED.card,
    OwnKeys("d1" * 16, "Tablet", DEVICE_SEED, DEVICE_PRIVATE, True),
    NOW,
    stream(2),
)
SIGNERS = sign_manifest(PACK.manifest, CLINIC_SEED)
READERS = {
    "bundle with a private note": (BUNDLE, opened),
    "day pack with signers": (PACK.sealed, lambda b: opened(b, DEVICE_PRIVATE)),
    "manifest with signers": (SIGNERS, lambda b: read_manifest(b, CLINIC_KEY)),
    "clinic card": (OFFERED.card, lambda b: read_clinic_card(b, NOW)),
    "device card": (ANSWER.cards.device, read_device_card),
}


def changed(content, everything):
    """Every flip of a bit and every cut, or a seeded sample of them."""
    flips = [(place, bit) for place in range(len(content)) for bit in range(8)]
    cuts = list(range(len(content)))
    if not everything:
        chance = random.Random(11)
        flips, cuts = chance.sample(flips, 120), chance.sample(cuts, 40)
    for place, bit in flips:
        yield (
            content[:place] + bytes([content[place] ^ 1 << bit]) + content[place + 1 :]
        )
    yield from (content[:length] for length in cuts)
    yield content + b"\0"


def accepted(name, everything):
    content, read = READERS[name]
    read(content)
    tries = got_in = 0
    for other in changed(content, everything):
        tries += 1
        try:
            read(other)
        except SyncError:
            continue
        got_in += 1
    return tries, got_in


@pytest.mark.parametrize("name", READERS)
def test_changed_or_cut_input_is_refused(name):
    assert accepted(name, everything=False) == (161, 0)


@pytest.mark.exhaustive
@pytest.mark.parametrize("name", READERS)
def test_every_changed_bit_and_every_cut_is_refused(name):
    tries, got_in = accepted(name, everything=True)
    print(f"{name}: {tries} changed inputs, {got_in} got in")
    assert got_in == 0


def test_private_block_with_any_bit_changed_fits_no_record():
    whole = door.sha256(PRIVATE_SALT + MADE.private_block).hex()
    assert block_matches(whole, PRIVATE_SALT, MADE.private_block)
    for other in changed(MADE.private_block, everything=True):
        assert not block_matches(whole, PRIVATE_SALT, other)
        try:
            read_private(other, TOLD_PRIVATELY)
        except RecordError:
            continue


def test_oversized_card_and_manifest_are_refused_unread():
    for read in (lambda b: read_clinic_card(b, NOW), read_device_card):
        with pytest.raises(SyncError):
            read(ANSWER.cards.device + bytes(LARGEST_CARD))
    long = b"\x00" + b"\x59" + (LARGEST_MANIFEST + 1).to_bytes(2, "big")
    packed = pack(long + bytes(LARGEST_MANIFEST + 1))
    with pytest.raises(BundleTooLargeError):
        Unpacking(packed).first(LARGEST_MANIFEST)


def test_packed_noise_is_refused_and_never_breaks_the_reader():
    chance = random.Random(12)
    for _ in range(400):
        noise = chance.randbytes(chance.randrange(1, 200))
        with pytest.raises(SyncError):
            Unpacking(noise).first(LARGEST_MANIFEST)
