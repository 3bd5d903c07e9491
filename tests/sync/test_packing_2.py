"""Packing 2: the same bytes come out, byte for byte, or it is refused within bounds."""

import random
import tracemalloc
import zlib
from dataclasses import replace
from functools import cache

import cbor2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exam_app.crypto import door
from exam_app.protocols.loader import load_protocol
from exam_app.record.ids_within import (
    DRAWN_LENGTH,
    draw_id_within,
    id_within,
    is_id_within,
)
from sync.bundle.bundle import LARGEST_MANIFEST, sign_manifest
from sync.bundle.columns_2 import (
    AS_BEFORE,
    BESIDE,
    MOST_NAMED,
    TIME,
    WITHIN,
    ColumnReader2,
)
from sync.bundle.contents import Contents, sealed_size, write_contents
from sync.bundle.dictionary_3 import DICTIONARY_3
from sync.bundle.packing import (
    LARGEST_INFLATED,
    LARGEST_PART,
    NEWEST_PACKING,
    OLDEST_PACKING,
    Part,
    Unpacking,
    columns_of,
    deflate_columns,
    inflate,
    join_parts,
    pack,
)
from sync.bundle.sealing import unseal
from sync.errors import (
    BadManifestError,
    BundleTooLargeError,
    NotABundleError,
    SyncError,
    UnknownDeviceError,
)
from tests.samples import examples
from tests.sync_samples import day_contents
from tests.sync_tiny import (
    CLINIC_PRIVATE,
    CONTENTS,
    DEVICE_SEED,
    NOTE,
    OTHER_SEED,
    OWNER_PART,
    SIGNED,
    noisy_columns,
    opened,
    sealed,
    sealed_plain,
)

BUNDLE = sealed()
PLAIN = unseal(BUNDLE.sealed, CLINIC_PRIVATE).plain
EXAM_ID, HEX_ID = bytes(range(16)), bytes(range(16)).hex()


@pytest.fixture(scope="module")
def days():
    dog = load_protocol("dog")
    return [day_contents(dog, DEVICE_SEED, 25, first) for first in (0, 1_000, 5_000)]


# What comes out.


def test_what_a_version_seals_by_itself_is_packing_2_and_opens():
    assert PLAIN[0] == 3
    assert opened(BUNDLE.sealed).contents == CONTENTS


def test_an_older_packing_is_still_written_where_it_is_asked_for():
    older = sealed(packing=OLDEST_PACKING)
    assert unseal(older.sealed, CLINIC_PRIVATE).plain[0] == 2
    assert opened(older.sealed).contents == CONTENTS


@pytest.mark.slow
def test_days_come_out_byte_for_byte_and_are_smaller(days):
    for day in days:
        content = write_contents(day)
        old, new = (pack(content, packing) for packing in (1, 2))
        assert Unpacking(new).rest() == content == Unpacking(old).rest()
        assert len(new) < 0.8 * len(old)


@pytest.mark.slow
def test_a_day_of_25_exams_with_owners_seals_to_13_000_bytes_at_most(days):
    sizes = [len(sealed(day).sealed) for day in days]
    one = [
        len(sealed(Contents(records=(record,))).sealed)
        for day in days
        for record in day.records
    ]
    before = [len(sealed(day, packing=OLDEST_PACKING).sealed) for day in days]
    print(f"25 exams with owners: {before} before, {sizes} now")
    assert max(sizes) <= 11_500
    assert sum(one) / len(one) <= 900
    dog = load_protocol("dog")
    # Ids of exams that were begun with an earlier version say nothing of each other.
    older = day_contents(dog, DEVICE_SEED, 25, has_ids_within=False)
    assert len(sealed(older).sealed) <= 13_250
    assert len(sealed(older).sealed) <= sealed_size(older)


def flat_parts(draw_from):
    """Parts of any CBOR, with times, ids, hashes and signatures among it."""
    leaf = (
        st.integers(0, 2**33)
        | st.integers(0, 300)
        | st.sampled_from(draw_from)
        | st.binary(max_size=70)
        | st.text(max_size=9)
        | st.booleans()
    )
    return st.recursive(
        leaf,
        lambda inner: (
            st.lists(inner, max_size=5)
            | st.dictionaries(st.integers(0, 30), inner, max_size=5)
            | st.integers(0, 2**32 - 1).map(lambda time: {1: time})
        ),
        max_leaves=25,
    ).map(lambda value: cbor2.dumps(value, canonical=True))


STRINGS = [
    EXAM_ID,
    id_within(EXAM_ID, b"abcde"),
    id_within(EXAM_ID, b"fghij"),
    bytes(32),
    b"h" * 32,
    b"s" * 64,
    door.sha256(bytes(32) + b"block"),
    door.sha256(b"h" * 32 + b"other"),
]
BESIDES = st.sampled_from(
    [
        cbor2.dumps([0, bytes(32), b"block"]),
        cbor2.dumps([1, b"h" * 32, b"other"]),
        cbor2.dumps([0, b"short", b"block"]),
        cbor2.dumps([bytes(32), bytes(32), b"block"]),
        cbor2.dumps([0, bytes(32), b"block"]) + b"\x00",
    ]
)
ANY_PART = flat_parts(STRINGS) | st.binary(max_size=60)


@settings(max_examples=examples(400))
@given(
    st.lists(ANY_PART, max_size=4),
    st.lists(ANY_PART, max_size=2),
    st.lists(BESIDES | ANY_PART, max_size=3),
    st.lists(BESIDES, max_size=2),
)
def test_any_parts_come_out_byte_for_byte(exams, notes, owners, privates):
    parts = (
        [(Part.EXAM, one) for one in exams]
        + [(Part.NOTE, one) for one in notes]
        + [(Part.OWNER, one) for one in owners]
        + [(Part.PRIVATE, one) for one in privates]
    )
    content = join_parts(parts)
    packed = pack(content)
    # Not given back by the older packing, which is there should this one fail.
    assert packed[0] == 3
    assert Unpacking(packed).rest() == content


@settings(max_examples=examples(60))
@given(st.lists(st.integers(0, 2**32 - 1), max_size=40), st.integers(0, 2**16))
def test_times_in_any_order_come_out_as_they_were(times, start):
    around = cbor2.dumps([{1: start + n * 7 % 500} for n in range(20)] + times)
    content = join_parts([(Part.EXAM, around)])
    assert Unpacking(pack(content)).rest() == content


def test_more_strings_than_can_be_named_come_out_as_they_were():
    drawn = random.Random(4)
    ids = [drawn.randbytes(16) for _ in range(MOST_NAMED + 40)]
    content = join_parts([(Part.EXAM, cbor2.dumps(ids)), (Part.NOTE, cbor2.dumps(ids))])
    packed = pack(content)
    assert Unpacking(packed).rest() == content
    # The second time the first 256 take two bytes each.
    assert len(columns_of(content, 2)[3]) == 16 * (2 * len(ids) - MOST_NAMED)


def test_hash_of_the_owner_beside_is_not_carried():
    hashed = bytes.fromhex(SIGNED.owner_hash)
    with_it = Contents(records=(SIGNED.signed,), owners=(OWNER_PART,))
    structure, *_, drawn = columns_of(write_contents(with_it), 2)
    assert hashed not in drawn
    assert structure.count(BESIDE) >= 1
    assert opened(sealed(with_it).sealed).contents == with_it
    *_, drawn = columns_of(write_contents(replace(with_it, owners=())), 2)
    assert hashed in drawn


def test_id_within_an_exam_is_told_by_five_bytes_and_is_a_uuid_of_version_8():
    made = id_within(EXAM_ID, b"abcde")
    assert made.startswith(b"abcde")
    assert is_id_within(EXAM_ID, made)
    assert not is_id_within(bytes(16), made)
    assert not is_id_within(EXAM_ID, made[:-1] + bytes([made[-1] ^ 1]))
    # RFC 9562, section 5.8: version 8 in octet 6, variant 10 in octet 8.
    assert made[6] >> 4 == 8
    assert made[8] >> 6 == 0b10
    # Worked out by hand of the rule of FORMAT.md.
    digest = door.sha256(b"exam-app id within v1" + EXAM_ID + b"abcde")
    assert made[9:] == digest[4:11]
    drawn = {draw_id_within(HEX_ID) for _ in range(200)}
    assert len(drawn) == 200
    assert all(is_id_within(EXAM_ID, bytes.fromhex(one)) for one in drawn)


def test_dictionary_3_is_the_one_that_was_shipped():
    assert len(DICTIONARY_3) == 12_288
    assert door.sha256(DICTIONARY_3).hex() == (
        "bdae457dda7e41e4c6055280a471b400cdde6d557838a17203387aeeded2ff19"
    )


# What is refused.


def packed_2(structure, steps=b"", highs=b"", drawn=b""):
    return deflate_columns((structure, steps, highs, drawn), NEWEST_PACKING)


MANIFEST_ONLY = b"\x00\x40"
IN = b"\x81"


@pytest.mark.parametrize(
    ("packed", "why"),
    [
        (packed_2(MANIFEST_ONLY, steps=b"\x00"), "steps left over"),
        (packed_2(MANIFEST_ONLY, highs=b"\x00"), "upper bytes left over"),
        (packed_2(MANIFEST_ONLY, drawn=b"\x00"), "random left over"),
        (packed_2(IN + b"\x42" + bytes([TIME])), "no count"),
        (packed_2(IN + b"\x42" + bytes([TIME]), b"\x01"), "no lowest byte"),
        (packed_2(IN + b"\x42" + bytes([TIME]), b"\x01", b"", b"a"), "no upper"),
        (packed_2(IN + b"\x42" + bytes([TIME]), b"\x01", b"\x00", b"a"), "no step"),
        (packed_2(IN + b"\x42\x1c", b"\x01\x02", b"\x00", b"a"), "step too far"),
        (packed_2(IN + b"\x42\x1c", b"\x01\x01", b"\x00", b"a"), "step before"),
        (packed_2(IN + b"\x42\x1c", b"\x80" * 6, b"\x00", b"a"), "count unending"),
        (packed_2(IN + b"\x43\x1c", b"\x02\x00", b"\x00" * 2, b"aa"), "many times"),
        (packed_2(IN + b"\x45\x1c", b"\x01\x00", b"\xff" * 4 + b"\x7f", b"a"), "late"),
        (packed_2(IN + b"\x41\x1c", b"\x00"), "time of none"),
        (packed_2(IN + b"\x51" + bytes([AS_BEFORE, 0]), b"\x00"), "none before"),
        (packed_2(IN + b"\x51" + bytes([AS_BEFORE]), b"\x00"), "no name"),
        (packed_2(IN + b"\x51" + bytes([WITHIN]), b"\x00", b"", b"abcde"), "no exam"),
        (packed_2(IN + b"\x58\x22" + bytes([BESIDE]), b"\x00"), "nothing beside"),
        (packed_2(IN + b"\x51\x50", b"\x00", b"", b"short"), "random cut off"),
        (packed_2(IN + b"\x45\x50", b"\x00", b"", bytes(16)), "longer than it says"),
        (packed_2(IN + b"\x42\x1d\x00", b"\x00"), "a head that CBOR does not have"),
        (packed_2(b"\x01\x5f"), "unending part"),
        (packed_2(b"\x01\x43ab"), "part cut off"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_packed_form_that_is_not_ours_is_refused(packed, why):
    with pytest.raises(NotABundleError):
        Unpacking(packed).rest()
    with pytest.raises(SyncError):
        opened(sealed_plain(packed))


def test_any_order_of_parts_gives_the_one_order_that_is_signed():
    # What stands first in the columns is nobody's claim: kinds decide.
    parts = [(Part.NOTE, b"\x01"), (Part.EXAM, b"\x02"), (Part.OWNER, b"\x03")]
    turned = b"".join(bytes([kind]) + cbor2.dumps(part) for kind, part in parts)
    whole = Unpacking(packed_2(turned)).rest()
    assert whole == join_parts(sorted(parts))


def resigned(content, **changes):
    manifest = replace(BUNDLE.manifest, **changes)
    signed = join_parts([(Part.MANIFEST, sign_manifest(manifest, DEVICE_SEED))])
    return sealed_plain(pack(signed + content))


def test_other_contents_behind_the_true_manifest_are_refused():
    for other in (
        replace(CONTENTS, notes=()),
        replace(CONTENTS, owners=()),
        replace(CONTENTS, records=CONTENTS.records * 2),
        replace(CONTENTS, owners=(replace(OWNER_PART, salt=b"x" * 32),)),
        replace(CONTENTS, records=(NOTE,), notes=(SIGNED.signed,)),
    ):
        with pytest.raises(BadManifestError):
            opened(resigned(write_contents(other)))


def test_truncated_or_prolonged_is_refused():
    for length in range(len(PLAIN)):
        with pytest.raises(SyncError):
            Unpacking(PLAIN[:length]).rest()
    with pytest.raises(NotABundleError):
        Unpacking(PLAIN + b"\x00")


@pytest.mark.slow
def test_flips_inside_the_seal_are_refused_or_mean_nothing():
    chance = random.Random(7)
    places = [(place, bit) for place in range(len(PLAIN)) for bit in range(8)]
    for place, bit in chance.sample(places, 400):
        changed = bytearray(PLAIN)
        changed[place] ^= 1 << bit
        try:
            out = opened(sealed_plain(bytes(changed)))
        except SyncError:
            continue
        assert out.contents == CONTENTS


@pytest.mark.exhaustive
def test_every_flip_in_a_column_is_refused_or_means_nothing():
    refused = same = 0
    columns = inflate(PLAIN)
    for number, column in enumerate(columns):
        for place in range(len(column)):
            for bit in range(8):
                changed = [bytearray(one) for one in columns]
                changed[number][place] ^= 1 << bit
                try:
                    out = opened(sealed_plain(deflate_columns(changed, 2)))
                except SyncError:
                    refused += 1
                    continue
                assert out.contents == CONTENTS
                same += 1
    print(f"{refused} flips in columns of packing 2 refused, {same} mean nothing")
    assert same == 0


@pytest.mark.slow
def test_noise_in_columns_never_escapes_as_another_error():
    chance = random.Random(8)
    for _ in range(400):
        columns = noisy_columns(PLAIN, chance)
        try:
            out = opened(sealed_plain(deflate_columns(columns, 2)))
        except SyncError:
            continue
        assert out.contents == CONTENTS


def test_noise_never_breaks_the_reader():
    chance = random.Random(9)
    for _ in range(400):
        drawn = [chance.randbytes(chance.randrange(60)) for _ in range(4)]
        length = chance.randrange(40)
        drawn[0] = IN + cbor2.dumps(bytes(length))[:1] + drawn[0]
        with pytest.raises(SyncError):
            opened(sealed_plain(packed_2(*drawn)))


def head(kind, length):
    return bytes([kind]) + cbor2.dumps(bytes(length))[: -length or None]


def bombs():
    """Small packed bytes that ask for much: each by what it abuses."""
    press = zlib.compressobj(9, zlib.DEFLATED, -15, zdict=DICTIONARY_3)
    yield "zeros", b"\x03" + press.compress(bytes(64 * 2**20)) + press.flush()
    press = zlib.compressobj(9, zlib.DEFLATED, -15, zdict=DICTIONARY_3)
    long = (2**31).to_bytes(4, "big") * 3
    yield "long columns", b"\x03" + press.compress(long) + press.flush()
    # A string of 32 bytes is named half a million times, in many parts.
    size = LARGEST_PART
    times = size // 34
    part = head(0x81, 34 * times)
    first = part + b"\x58\x20" + bytes([AS_BEFORE, 0]) * (times - 1)
    again = part + bytes([AS_BEFORE, 0]) * times
    yield "named", packed_2(first + again * 8, b"\0" * 9, b"", bytes(32))
    within = size // 17
    part = head(0x81, 17 * within) + b"\x50" + bytes([WITHIN]) * (within - 1)
    drawn = bytes(16 + DRAWN_LENGTH * (within - 1))
    yield "made within", packed_2(part * 3, b"\0" * 3, b"", drawn * 3)
    # Five bytes for each of the structure's.
    count = size // 5
    late = b"\xff\xff\xff\x07" + bytes(count - 1)
    steps = b"\xb3\xe6\x0c" + b"\0" + b"\0" * (count - 1)
    part = head(0x81, 5 * count) + bytes([TIME]) * count
    yield "times", packed_2(part * 4, steps * 4, late * 4, bytes(count) * 4)
    unused = head(0x81, size) + b"\x00" * size
    claimed = b"\x80\x80\x20"
    yield "times unused", packed_2(unused, claimed, bytes(2**19), bytes(2**19))
    yield "many parts", packed_2(b"\x01\x40" * 2**20)
    yield "parts in columns", packed_2(b"\x81\x40" * 2**20, bytes(2**20))
    block = cbor2.dumps([0, bytes(32), bytes(200)])
    yield "beside", packed_2((head(3, len(block)) + block) * 15_000)


@cache
def made_bombs():
    """Make them once, and not before a test asks."""
    return dict(bombs())


BOMBS = ["zeros", "long columns", "named", "made within", "times", "times unused"]
BOMBS += ["many parts", "parts in columns", "beside"]


def one_of_a_kind(name):
    """Leave those that take longest under tracing to the exhaustive run."""
    marks = [pytest.mark.exhaustive] if name in ("times", "made within") else []
    return pytest.param(name, marks=marks)


@pytest.mark.slow
@pytest.mark.parametrize("name", [*map(one_of_a_kind, BOMBS)])
def test_bomb_of_a_known_device_stays_within_bounds(name):
    assert [*made_bombs()] == BOMBS
    packed = made_bombs()[name]
    # Behind a manifest of a known device, which is the dearest: all is put together.
    tracemalloc.start()
    try:
        try:
            made = len(Unpacking(packed).rest())
        except SyncError:
            made = 0
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert made <= LARGEST_INFLATED + 2**17
    assert peak < 8 * LARGEST_INFLATED
    with pytest.raises(SyncError):
        opened(sealed_plain(packed))


def test_stranger_has_no_more_than_a_manifest_put_together(monkeypatch):
    spent, whole = [0], ColumnReader2.put_together

    def counted(reader, place, length, told):
        spent[0] += length
        return whole(reader, place, length, told)

    monkeypatch.setattr(ColumnReader2, "put_together", counted)
    signed = sign_manifest(BUNDLE.manifest, OTHER_SEED)
    behind = b"\x81\x41\x00" * 9_000
    steps = bytes(9_000)
    packed = packed_2(head(0, len(signed)) + signed + behind, steps)
    with pytest.raises(UnknownDeviceError):
        opened(sealed_plain(packed))
    assert spent[0] <= LARGEST_MANIFEST
    long = packed_2(head(0x80, LARGEST_MANIFEST + 1) + bytes(9))
    with pytest.raises(BundleTooLargeError):
        Unpacking(long).first(LARGEST_MANIFEST)


def test_replayed_bundle_says_the_same_every_time():
    assert opened(BUNDLE.sealed) == opened(bytes(BUNDLE.sealed))
