"""Bundles: what comes out is what was signed, for whom it was meant, or nothing."""

import itertools
import random
import tracemalloc
import zlib
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exam_app.crypto import door
from exam_app.protocols.loader import load_protocol
from exam_app.record.cose import LARGEST_SIGNED
from exam_app.record.records import close_and_sign
from sync.bundle.bundle import BundleKind, refuse_demo, refuse_revoked, sign_manifest
from sync.bundle.columns import ColumnReader, take_apart
from sync.bundle.contents import Contents, plan_bundles, sealed_size, write_contents
from sync.bundle.dictionary_1 import DICTIONARY_1
from sync.bundle.dictionary_2 import DICTIONARY_2
from sync.bundle.packing import (
    LARGEST_INFLATED,
    LARGEST_PART,
    MOST_PARTS,
    OLDEST_PACKING,
    Part,
    Unpacking,
    deflate,
    join_parts,
    pack,
    split_parts,
)
from sync.bundle.sealing import LARGEST_SEALED, SealedKind, unseal
from sync.errors import (
    BadManifestError,
    BundleNotMadeError,
    BundleTooLargeError,
    BundleTooNewError,
    DemoRefusedError,
    NotABundleError,
    RevokedDeviceError,
    SyncError,
    UnknownDeviceError,
    WrongRecipientError,
)
from sync.receipts import receipt_code
from tests.record_tiny import MARKED, TINY
from tests.samples import examples
from tests.sync_samples import day_contents
from tests.sync_tiny import (
    ANIMAL,
    CLINIC_PRIVATE,
    CONTENTS,
    DEVICE_KEY,
    DEVICE_PRIVATE,
    DEVICE_SEED,
    NOTE,
    OTHER_AGREEMENT,
    OTHER_PRIVATE,
    OTHER_SEED,
    OWNER_PART,
    SIGNED,
    key_of,
    noisy_columns,
    opened,
    sealed,
    sealed_plain,
    stream,
)

# The packing of every version; the newer one is tried in ``test_packing_2``.
BUNDLE = sealed(packing=OLDEST_PACKING)
PLAIN = unseal(BUNDLE.sealed, CLINIC_PRIVATE).plain
CONTENT = Unpacking(PLAIN).rest()


@pytest.fixture(scope="module")
def day():
    return day_contents(load_protocol("dog"), DEVICE_SEED, 25)


def test_everything_comes_out_as_it_was_put_in():
    out = opened(BUNDLE.sealed)
    assert out.contents == CONTENTS
    assert out.manifest == BUNDLE.manifest
    assert out.key_id == door.sha256(DEVICE_KEY)[:16]
    assert out.bundle_hash == BUNDLE.bundle_hash == door.sha256(BUNDLE.sealed).hex()
    assert out.manifest.exam_count == 1
    assert out.manifest.signed_hashes == (SIGNED.exam_hash, door.sha256(NOTE).hex())


def test_both_ends_tell_the_same_receipt_code_and_nobody_else():
    out = opened(BUNDLE.sealed)
    assert receipt_code(out.receipt_secret, out.bundle_hash) == BUNDLE.receipt_code
    again = sealed(random=stream(18))
    assert again.receipt_code != BUNDLE.receipt_code


def test_day_pack_goes_back_to_the_device_with_receipts():
    contents = replace(CONTENTS, receipts=(b"receipt 1", b"receipt 2"))
    pack_back = sealed(contents, BundleKind.DAY_PACK)
    assert opened(pack_back.sealed, DEVICE_PRIVATE).contents == contents
    with pytest.raises(BundleNotMadeError):
        sealed(contents)


def test_a_record_with_marks_comes_out_byte_for_byte():
    # Places are small integers among others: whatever column they go through.
    signed = close_and_sign(MARKED, TINY, DEVICE_SEED, None, bytes(32)).signed
    contents = Contents(records=(signed,))
    assert take_apart(signed) is not None
    assert opened(sealed(contents).sealed).contents == contents


def test_empty_bundle_is_a_bundle():
    assert opened(sealed(Contents()).sealed).contents == Contents()


def test_protocol_and_owner_of_a_record_elsewhere_are_carried():
    elsewhere = replace(OWNER_PART, exam_hash="ab" * 32)
    contents = Contents(
        protocols=(b'{"any": "text"}', b"\xff" * 300), owners=(elsewhere,)
    )
    assert opened(sealed(contents).sealed).contents == contents


json_like = st.recursive(
    st.booleans() | st.integers(-(2**40), 2**40) | st.text(max_size=20),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=8,
)


@settings(max_examples=examples(60))
@given(
    st.lists(st.binary(max_size=200), max_size=4),
    st.lists(st.dictionaries(st.text(max_size=8), json_like, max_size=4), max_size=2),
)
def test_any_bytes_and_any_animals_come_out_as_they_were(parts, animals):
    contents = Contents(
        records=tuple(parts), protocols=tuple(parts[:2]), animals=tuple(animals)
    )
    assert opened(sealed(contents).sealed).contents == contents


@given(st.binary(max_size=300))
def test_columns_of_any_bytes_give_the_same_bytes_or_are_not_made(content):
    columns = take_apart(content)
    if columns is not None:
        joined, _ = ColumnReader(columns).put_together(0, len(content))
        assert joined == content


def test_columns_hold_what_cannot_be_packed_apart():
    columns = take_apart(SIGNED.signed)
    assert len(columns.random) >= 64 + 32 + 16
    for secretlike in (SIGNED.signed[-64:], bytes.fromhex(SIGNED.owner_hash)):
        assert secretlike in columns.random
        assert secretlike not in columns.structure
    assert len(columns.times) > 0


# Sizes: targets of the design, for varied exams of 31 regions, 11 vitals, 6 findings.


@pytest.mark.slow
def test_typical_exam_and_day_stay_small(day):
    bare = replace(day, owners=())
    old = OLDEST_PACKING
    ones = [sealed(Contents((record,)), packing=old) for record in day.records]
    assert sum(len(one.sealed) for one in ones) / len(ones) <= 1_050
    assert len(sealed(bare, packing=old).sealed) <= 13_500
    assert len(sealed(day, packing=old).sealed) <= 14_500


def test_dictionaries_are_those_that_were_shipped():
    assert len(DICTIONARY_2) == 12_288
    assert door.sha256(DICTIONARY_2).hex() == (
        "688b5e581af9589f6d0f083e570d189ae508ad9f6d8e359ffd73b2a1daa6f657"
    )
    assert len(DICTIONARY_1) == 8_192
    assert door.sha256(DICTIONARY_1).hex() == (
        "82a398b489d51bb3ece66ee78ac27f49d3b458bf0e2b0a7d3a7e88ff4d51de23"
    )


# Wrong hands.


def test_bundle_for_another_clinic_is_not_opened():
    with pytest.raises(WrongRecipientError):
        opened(BUNDLE.sealed, OTHER_PRIVATE)


def test_bundle_sealed_again_to_another_clinic_is_refused():
    # The clinic is honest to read, but passes on what was meant for it alone.
    passed_on = sealed_plain(PLAIN, key=OTHER_AGREEMENT)
    with pytest.raises(WrongRecipientError):
        opened(passed_on, OTHER_PRIVATE)


def test_same_plain_sealed_again_to_the_same_clinic_has_another_hash_and_code():
    again = opened(sealed_plain(PLAIN))
    assert again.contents == CONTENTS
    assert again.bundle_hash != BUNDLE.bundle_hash
    assert receipt_code(again.receipt_secret, again.bundle_hash) != BUNDLE.receipt_code


def test_replayed_bundle_says_the_same_every_time():
    assert opened(BUNDLE.sealed) == opened(bytes(BUNDLE.sealed))


def test_device_that_is_not_paired_is_named_by_its_key():
    with pytest.raises(UnknownDeviceError) as refusal:
        opened(BUNDLE.sealed, known=key_of([]))
    assert door.sha256(DEVICE_KEY)[:16].hex() in str(refusal.value)


def test_lookup_that_gives_another_device_s_key_opens_nothing():
    other = door.signing_public_key(OTHER_SEED)
    with pytest.raises(BadManifestError):
        opened(BUNDLE.sealed, known=lambda _: other)


def test_bundle_made_after_the_device_was_revoked_is_set_aside():
    manifest = opened(BUNDLE.sealed).manifest
    refuse_revoked(manifest, None)
    refuse_revoked(manifest, 17)
    with pytest.raises(RevokedDeviceError) as refusal:
        refuse_revoked(manifest, 16)
    assert str(refusal.value) == "17, good until 16"


def test_demo_bundle_is_refused_by_a_real_clinic_and_the_other_way_round():
    demo, real = opened(BUNDLE.sealed), opened(sealed(is_demo=False).sealed)
    refuse_demo(demo.manifest, is_demo_here=True)
    refuse_demo(real.manifest, is_demo_here=False)
    with pytest.raises(DemoRefusedError):
        refuse_demo(demo.manifest, is_demo_here=False)
    with pytest.raises(DemoRefusedError):
        refuse_demo(real.manifest, is_demo_here=True)


def test_pairing_card_is_no_bundle():
    with pytest.raises(NotABundleError):
        opened(sealed_plain(PLAIN, SealedKind.DEVICE_CARD))


def test_bundle_under_the_header_of_a_day_pack_is_refused():
    with pytest.raises(BadManifestError):
        opened(sealed_plain(PLAIN, SealedKind.DAY_PACK))


# Changed contents, sealed by somebody who can.


def resigned(contents, **changes):
    """The true manifest (or a changed one, signed again) over other contents."""
    manifest = replace(BUNDLE.manifest, **changes)
    signed = join_parts([(Part.MANIFEST, sign_manifest(manifest, DEVICE_SEED))])
    return sealed_plain(pack(signed + contents))


MANIFEST = sign_manifest(BUNDLE.manifest, DEVICE_SEED)
MANIFEST_BYTES = join_parts([(Part.MANIFEST, MANIFEST)])
BODY = CONTENT[len(MANIFEST_BYTES) :]


def test_manifest_stands_first_and_its_hash_covers_all_that_follows():
    assert CONTENT.startswith(MANIFEST_BYTES)
    assert door.sha256(BODY).hex() == BUNDLE.manifest.contents_hash
    assert opened(resigned(BODY)).contents == CONTENTS


@pytest.mark.parametrize(
    "other",
    [
        replace(CONTENTS, notes=()),
        replace(CONTENTS, records=()),
        replace(CONTENTS, records=CONTENTS.records * 2),
        replace(CONTENTS, owners=()),
        replace(CONTENTS, animals=(ANIMAL | {"name": "Brunos"},)),
        replace(CONTENTS, protocols=(b"{}",)),
        replace(CONTENTS, records=CONTENTS.notes, notes=CONTENTS.records),
    ],
    ids=["note", "record", "twice", "owner", "animal", "protocol", "swapped"],
)
def test_anything_dropped_added_or_exchanged_is_refused(other):
    with pytest.raises(BadManifestError):
        opened(resigned(write_contents(other)))


def arrangements():
    """Every choice and order of the parts of a bundle, also none."""
    parts = list(split_parts(BODY))
    for count in range(len(parts) + 1):
        for chosen in itertools.permutations(parts, count):
            yield b"".join(join_parts([(kind, content)]) for kind, content, _ in chosen)


@pytest.mark.exhaustive
def test_every_other_choice_and_order_of_the_parts_is_refused():
    # As a stranger could who saw the parts: columns keep any order of parts.
    refusals = 0
    for body in arrangements():
        if body != BODY:
            with pytest.raises(SyncError):
                opened(sealed_plain(pack_raw(MANIFEST_BYTES + body)))
            refusals += 1
    print(f"{refusals} other arrangements refused")
    assert refusals == 64


@pytest.mark.parametrize(
    ("changes", "error"),
    [
        ({"exam_count": 0}, BadManifestError),
        ({"note_count": 0}, BadManifestError),
        ({"kind": BundleKind.DAY_PACK}, BadManifestError),
        ({"sequence": 0}, BadManifestError),
        ({"recipient_key": OTHER_AGREEMENT}, WrongRecipientError),
        ({"contents_hash": "00" * 32}, BadManifestError),
    ],
)
def test_manifest_that_does_not_fit_is_refused(changes, error):
    with pytest.raises(error):
        opened(resigned(BODY, **changes))


def refused_as(error, content):
    with pytest.raises(error):
        opened(sealed_plain(pack(content)))


def test_bundle_without_manifest_or_with_two_is_refused():
    refused_as(NotABundleError, BODY)
    refused_as(NotABundleError, b"")
    twice = join_parts([(Part.MANIFEST, b"")]) + BODY
    with pytest.raises(NotABundleError):
        opened(resigned(twice, contents_hash=door.sha256(twice).hex()))


def test_parts_out_of_order_are_refused_although_their_sender_signed_them():
    turned = join_parts([(Part.NOTE, NOTE), (Part.EXAM, SIGNED.signed)])
    manifest = replace(BUNDLE.manifest, contents_hash=door.sha256(turned).hex())
    signed = join_parts([(Part.MANIFEST, sign_manifest(manifest, DEVICE_SEED))])
    with pytest.raises(NotABundleError):
        opened(sealed_plain(pack_raw(signed + turned)))


def test_more_parts_than_the_limit_are_not_counted_on():
    parts = b"\x01\x40" * MOST_PARTS
    assert sum(1 for _ in split_parts(parts)) == MOST_PARTS
    with pytest.raises(BundleTooLargeError):
        list(split_parts(parts + b"\x01\x40"))
    with pytest.raises(BundleTooLargeError):
        join_parts([(Part.EXAM, b"")] * (MOST_PARTS + 1))


# Bombs and limits.


def bombs():
    """Small sealed bytes that ask for much: each by what it abuses."""
    press = zlib.compressobj(9, zlib.DEFLATED, -15)
    zeros = press.compress(bytes(64 * 2**20)) + press.flush()
    yield "zeros", b"\x00" + zeros
    head = (2**31).to_bytes(4, "big") * 2
    yield "long columns", b"\x00" + raw_deflate(head)
    # Each structure byte becomes five bytes.
    many = b"\x81\x5a" + LARGEST_PART.to_bytes(4, "big") + b"\x1a" * 2**15
    yield "times", deflate((many, bytes(2**15), b""))
    huge = b"\x81" + b"\x5a" + (2**31).to_bytes(4, "big")
    yield "huge part", deflate((huge, b"", b""))
    tiny = b"".join(b"\x01\x40" for _ in range(20_001))
    yield "many parts", pack_raw(tiny)
    size = LARGEST_PART + 1
    yield "large part", pack_raw(b"\x04\x5a" + size.to_bytes(4, "big") + bytes(size))
    full = b"\x81\x5a" + LARGEST_PART.to_bytes(4, "big") + bytes(LARGEST_PART)
    yield "many items", pack_raw(full * 3)


def raw_deflate(content):
    press = zlib.compressobj(9, zlib.DEFLATED, -15)
    return press.compress(content) + press.flush()


def pack_raw(structure):
    return deflate((structure, b"", b""))


@cache
def made_bombs():
    """Make them once, and not before a test asks."""
    return dict(bombs())


BOMBS = ["zeros", "long columns", "times", "huge part"]
BOMBS += ["many parts", "large part", "many items"]


@pytest.mark.parametrize("name", BOMBS)
def test_bomb_is_refused_within_bounds(name):
    assert [*made_bombs()] == BOMBS
    content = sealed_plain(made_bombs()[name])
    assert len(content) < 100_000
    tracemalloc.start()
    try:
        with pytest.raises(SyncError):
            opened(content)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 8 * LARGEST_INFLATED


def test_limits_are_kept_by_the_writer_too():
    with pytest.raises(BundleTooLargeError):
        sealed(Contents(protocols=(bytes(LARGEST_PART + 1),)))
    with pytest.raises(BundleTooLargeError):
        sealed(Contents(protocols=(bytes(LARGEST_PART),) * 5))
    noise = tuple(stream()(LARGEST_PART) for _ in range(3))
    with pytest.raises(BundleTooLargeError):
        sealed(Contents(protocols=noise))
    with pytest.raises(BundleTooLargeError):
        opened(bytes(LARGEST_SEALED + 1))
    assert LARGEST_SIGNED < LARGEST_PART


def test_animal_that_has_no_spelling_is_not_sent():
    for wrong in ({"weight": 1.5}, {"owner": None}, {"deep": object()}):
        with pytest.raises(BundleNotMadeError):
            sealed(Contents(animals=(wrong,)))


@pytest.mark.parametrize(
    ("packed", "error"),
    [
        (b"", NotABundleError),
        (b"\x04" + PLAIN[1:], BundleTooNewError),
        (b"\xff" + PLAIN[1:], BundleTooNewError),
        (b"\x00" + PLAIN[1:], NotABundleError),
        (PLAIN[:-1], NotABundleError),
        (PLAIN + b"\x00", NotABundleError),
        (pack_raw(b"\x07\x40"), BundleTooNewError),
        (pack_raw(b"\x00\x40\x02\x40\x01\x40"), NotABundleError),
        (pack_raw(b"\x00\x5f"), NotABundleError),
        (pack_raw(b"\x00\x60"), NotABundleError),
        (pack_raw(b"\x00\x43ab"), NotABundleError),
        (deflate((b"\x00\x40", b"\x00", b"")), NotABundleError),
        (deflate((b"\x00\x40", b"", b"\x00")), NotABundleError),
        (deflate((b"\x80\x45\x1a", b"", b"")), NotABundleError),
        (deflate((b"\x80\x45\x1a", b"\x80" * 6, b"")), NotABundleError),
        (deflate((b"\x80\x45\x1a", b"\x01", b"")), NotABundleError),
        (deflate((b"\x80\x42\x1a", b"\x02", b"")), NotABundleError),
        (deflate((b"\x80\x51\x50", b"", b"short")), NotABundleError),
    ],
)
def test_packed_form_that_is_not_ours_is_refused(packed, error):
    with pytest.raises(error):
        opened(sealed_plain(packed))


# Every bit, every cut, and noise inside the seal.


def flips(content):
    for place in range(len(content) * 8):
        broken = bytearray(content)
        broken[place // 8] ^= 1 << place % 8
        yield bytes(broken)


def cuts(content):
    for length in range(len(content)):
        yield content[:length]
        yield content[length:] if length else content + b"\x00"


ONE_EXAM = sealed(Contents(records=(SIGNED.signed,)), packing=OLDEST_PACKING).sealed


def refused(broken):
    with pytest.raises(SyncError):
        opened(broken)


def test_sampled_bit_flips_and_cuts_of_a_sealed_bundle_are_refused():
    chance = random.Random(9180)
    for broken in chance.sample(list(flips(ONE_EXAM)), 300):
        refused(broken)
    for broken in chance.sample(list(cuts(ONE_EXAM)), 100):
        refused(broken)


@pytest.mark.exhaustive
def test_every_bit_flip_and_every_cut_of_a_sealed_bundle_is_refused():
    counts = [0, 0]
    for broken in flips(BUNDLE.sealed):
        refused(broken)
        counts[0] += 1
    for broken in cuts(BUNDLE.sealed):
        refused(broken)
        counts[1] += 1
    print(f"{counts[0]} flips and {counts[1]} cuts refused, 0 opened")
    assert counts[0] == len(BUNDLE.sealed) * 8


@pytest.mark.exhaustive
def test_every_bit_flip_inside_the_seal_is_refused_or_changes_nothing():
    # As a stranger could: the seal is whole, what is inside was changed. Deflate has
    # bits that mean nothing; then exactly what was signed comes out, or it is refused.
    same = broken = 0
    for changed in flips(PLAIN):
        try:
            assert opened(sealed_plain(changed)).contents == CONTENTS
            same += 1
        except SyncError:
            broken += 1
    print(f"{broken} flips inside the seal refused, {same} mean nothing")


def test_noise_inside_the_seal_never_escapes_as_another_error():
    chance = random.Random(8949)
    for _ in range(150):
        columns = noisy_columns(PLAIN, chance)
        try:
            out = opened(sealed_plain(deflate(columns)))
        except SyncError:
            continue
        assert out.contents == CONTENTS


@pytest.mark.slow
def test_signed_noise_never_escapes_as_another_error():
    # The signer is trusted, its software may be broken.
    chance = random.Random(9052)
    for _ in range(150):
        noisy = bytearray(BODY)
        for _ in range(chance.randrange(1, 3)):
            noisy[chance.randrange(len(noisy))] = chance.randrange(256)
        try:
            content = resigned(
                bytes(noisy), contents_hash=door.sha256(bytes(noisy)).hex()
            )
            opened(content)
        except SyncError:
            continue


# Planning.


def test_day_in_one_bundle_if_it_fits(day):
    assert plan_bundles(day, 38_000) == (day,)
    assert plan_bundles(Contents(), 38_000) == (Contents(),)


@pytest.mark.parametrize("limit", [1_600, 3_000, 6_000])
def test_several_bundles_each_within_the_limit_hold_everything_once(day, limit):
    whole = replace(day, notes=(NOTE,) * 3, animals=(ANIMAL,) * 2)
    planned = plan_bundles(whole, limit)
    for name in ("records", "owners", "notes", "animals"):
        parts = tuple(one for part in planned for one in getattr(part, name))
        assert parts == getattr(whole, name)
    sizes = [len(sealed(part).sealed) for part in planned]
    assert max(sizes) <= limit
    for part in planned:
        assert len(sealed(part).sealed) <= sealed_size(part)
        names = {door.sha256(record).hex() for record in part.records}
        assert {owner.exam_hash for owner in part.owners} == names


def test_what_is_too_large_alone_travels_alone(day):
    protocol = random.Random(1).randbytes(5_000)
    planned = plan_bundles(replace(day, protocols=(protocol,)), 3_000)
    assert planned[0] == Contents(protocols=(protocol,))
    assert all(part.records for part in planned[1:])
