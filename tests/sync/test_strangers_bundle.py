"""What a stranger's small bundle costs the clinic before it is refused.

Whoever knows the clinic's public key can seal anything to it. These four kilobytes
inflate to four megabytes of what is slowest to put together; a stranger signs the
manifest, or there is none.
"""

import time
import zlib
from dataclasses import replace

import cbor2
import pytest

from exam_app.crypto import door
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.inbox import receive
from sync.bundle.bundle import LARGEST_MANIFEST, BundleKind, sign_manifest
from sync.bundle.columns import ColumnReader
from sync.bundle.contents import Contents, write_contents
from sync.bundle.packing import Part, join_parts
from sync.bundle.sealing import SealedKind, seal_to
from sync.errors import SyncError, UnknownDeviceError, WrongRecipientError
from tests.handover_places import LATER, agreement_key, paired_places
from tests.sync_tiny import (
    DEVICE_SEED,
    OTHER_AGREEMENT,
    OTHER_SEED,
    opened,
    sealed,
    sealed_plain,
)

MEGABYTE = 2**20
SMALL = 4_500
IN_COLUMNS = 0x80


def head(kind, length):
    return bytes([kind]) + cbor2.dumps(bytes(length))[: -length or None]


def packed(structure, times=b"", random=b""):
    press = zlib.compressobj(9, zlib.DEFLATED, -15, 9)
    lengths = len(structure).to_bytes(4, "big") + len(times).to_bytes(4, "big")
    content = lengths + structure + times + random
    return b"\0" + press.compress(content) + press.flush()


def parts_of(item, spells, times=b"", random=b"", count=3):
    """Parts in columns, each a megabyte of one item."""
    items = MEGABYTE // spells
    structure = b"".join(
        head(IN_COLUMNS | min(place, 1), items * spells) + item * items
        for place in range(count)
    )
    return packed(structure, times * items * count, random * items * count)


def behind_a_manifest(signed, structure):
    """A manifest as the first part, and then what is slow."""
    return packed(head(0, len(signed)) + signed + structure)


def strangers_manifest():
    honest = sealed(Contents()).manifest
    return sign_manifest(honest, OTHER_SEED)


SLOW = b"\x81\x41\x00" * (4 * MEGABYTE // 3 - 200)
CASES = {
    "times": parts_of(b"\x1a", 5, times=b"\0"),
    "hashes": parts_of(b"\x50", 17, random=bytes(16)),
    "texts": parts_of(b"\x61a", 2),
    "empty parts": packed(b"\0\x40" + b"\1\x40" * (2 * MEGABYTE - 8)),
    "tiny parts in columns": packed(b"\x80\x41\0" + SLOW),
    "behind a manifest": behind_a_manifest(strangers_manifest(), SLOW),
    "a long first part": packed(head(0x80, LARGEST_MANIFEST) + b"\0" * (4 * MEGABYTE)),
    "zeros": packed(bytes(4 * MEGABYTE - 16)),
}


@pytest.fixture
def put_together(monkeypatch):
    """How many bytes of parts in columns were put together."""
    spent, whole = [0], ColumnReader.put_together

    def counted(reader, place, length):
        spent[0] += length
        return whole(reader, place, length)

    monkeypatch.setattr(ColumnReader, "put_together", counted)
    return spent


@pytest.mark.parametrize("name", CASES)
def test_strangers_bundle_is_refused_before_its_contents_are_put_together(
    name, put_together
):
    bundle = sealed_plain(CASES[name])
    assert len(bundle) <= SMALL
    with pytest.raises(SyncError):
        opened(bundle)
    assert put_together[0] <= LARGEST_MANIFEST


def signed_for(recipient_key, seed, contents):
    """A bundle signed for one recipient and sealed again to the clinic."""
    content = write_contents(contents)
    honest = sealed(Contents()).manifest
    manifest = replace(
        honest,
        recipient_key=recipient_key,
        contents_hash=door.sha256(content).hex(),
        kind=BundleKind.EXAMS,
    )
    signed = join_parts([(Part.MANIFEST, sign_manifest(manifest, seed))])
    return packed(signed + SLOW)


def test_known_devices_manifest_for_another_clinic_opens_nothing_more(put_together):
    # The other clinic opened it and seals the manifest again before slow contents.
    again = signed_for(OTHER_AGREEMENT, DEVICE_SEED, Contents())
    with pytest.raises(WrongRecipientError):
        opened(sealed_plain(again))
    assert put_together[0] <= LARGEST_MANIFEST


@pytest.mark.exhaustive
async def test_strangers_bundles_cost_the_clinic_little_time(tmp_path):
    async with paired_places(tmp_path) as (clinic, _):
        dearest = taken = 0
        for name, plain in CASES.items():
            key = agreement_key(clinic.vault)
            bundle, _ = seal_to(SealedKind.EXAMS, key, plain, door.random_bytes)
            begun = time.perf_counter()
            try:
                receive(bundle, clinic.exchange, LATER)
            except SyncError as error:
                refused = type(error).__name__
            else:
                taken += 1
            spent = time.perf_counter() - begun
            dearest = max(dearest, spent)
            print(f"{name}: {len(bundle)} bytes, {spent * 1000:.0f} ms, {refused}")
        print(f"{len(CASES)} strangers' bundles, {taken} taken, {dearest:.3f} s")
        assert taken == 0
        assert clinic.hashes() == []


async def test_stranger_fills_no_more_than_its_share_of_what_is_set_aside(tmp_path):
    async with paired_places(tmp_path) as (clinic, _):
        key = agreement_key(clinic.vault)
        plain = behind_a_manifest(strangers_manifest(), b"")
        for number in range(60):
            bundle, _ = seal_to(SealedKind.EXAMS, key, plain, door.random_bytes)
            with pytest.raises(UnknownDeviceError):
                receive(bundle, clinic.exchange, LATER)
            held = Exchange(clinic.vault).quarantine.held()
            assert len(held) == min(number + 1, 50)
