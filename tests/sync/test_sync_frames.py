"""Frames and their collector: any order, several bundles, strays and hostile frames."""

import itertools
import random
import re
import tracemalloc
from hashlib import sha256
from pathlib import Path
from zlib import crc32

import base45
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sync.errors import BundleTooLargeError, NotAFrameError
from sync.transport.collector import MOST_FINISHED, MOST_PENDING, Arrival, Collector
from sync.transport.frames import (
    ALPHABET,
    CAPACITIES,
    DotSize,
    _longest_block,
    decode_base45,
    encode_base45,
    largest_bundle,
    longest_content,
    read_frame,
    split,
)
from sync.transport.keyboard import to_keys
from tests.samples import examples

DAY = random.Random(25).randbytes(12_976)


def frames_of(length, seed=1, dots=DotSize.NORMAL):
    return split(random.Random(seed).randbytes(length), dots)


def forged(tag, length, count, block_id, block):
    """Write a frame from the description in FORMAT.md, true or not."""
    content = tag + length.to_bytes(2, "big") + bytes([count, block_id]) + block
    check = crc32(b"EX1" + content).to_bytes(4, "big")
    return "EX1" + base45.b45encode(content + check).decode()


# RFC 9285, sections 4.3 and 4.4.
@pytest.mark.reference
@pytest.mark.parametrize(
    ("content", "text"),
    [
        (b"AB", "BB8"),
        (b"Hello!!", "%69 VD92EX0"),
        (b"base-45", "UJCLQE7W581"),
        (b"ietf!", "QED8WEX0"),
    ],
)
def test_base45_examples_of_its_rfc(content, text):
    assert encode_base45(content) == text
    assert decode_base45(text) == content


@given(st.binary(max_size=400))
def test_base45_is_that_of_another_implementation(content):
    assert encode_base45(content) == base45.b45encode(content).decode()
    assert decode_base45(base45.b45encode(content).decode()) == content
    assert longest_content(len(encode_base45(content))) == len(content)


@given(st.text(st.sampled_from(ALPHABET), max_size=9))
def test_base45_refuses_what_another_implementation_refuses(text):
    try:
        expected = base45.b45decode(text)
    except ValueError:
        with pytest.raises(ValueError, match=r"group|left over"):
            decode_base45(text)
    else:
        assert decode_base45(text) == expected


# RFC 9285, section 6: "GGW" is 65536, one above what two bytes hold.
@pytest.mark.parametrize("text", ["GGW", ":::", "::", "A", "BB8A", "bb8", "ÄB8"])
def test_impossible_base45_is_refused(text):
    with pytest.raises(ValueError, match=r"group|left over|character"):
        decode_base45(text)


def test_frame_is_laid_out_as_written_down():
    frames = split(DAY, DotSize.NORMAL)
    whole = base45.b45decode(frames.text(2)[3:])
    assert frames.text(2)[:3] == "EX1"
    assert whole[:6] == sha256(DAY).digest()[:6]
    assert whole[6:8] == len(DAY).to_bytes(2, "big")
    assert (whole[8], whole[9]) == (frames.count, 2) == (43, 2)
    assert whole[10:-4] == DAY[2 * 302 : 3 * 302]
    assert whole[-4:] == crc32(b"EX1" + whole[:-4]).to_bytes(4, "big")


@pytest.mark.parametrize("for_typing", [False, True])
@pytest.mark.parametrize("dots", list(DotSize))
@pytest.mark.parametrize("length", [1, 2, 305, 306, 307, 1_000, 12_976])
def test_frames_of_any_length_fit_their_dots_and_rebuild(dots, length, for_typing):
    sealed = random.Random(length).randbytes(length)
    frames = split(sealed, dots, for_typing=for_typing)
    texts = [frames.text(frame_id) for frame_id in range(256)]
    assert {len(text) for text in texts} == {len(texts[0])}
    assert len(texts[0]) <= CAPACITIES[dots]
    collector = Collector()
    arrivals = [collector.add(text) for text in texts[-frames.count :]]
    assert arrivals[-1] is Arrival.COMPLETE
    assert collector.finished() == [sealed]


@pytest.mark.parametrize("for_typing", [False, True])
@pytest.mark.parametrize("dots", list(DotSize))
def test_largest_bundle_is_cut_and_one_byte_more_is_refused(dots, for_typing):
    largest = largest_bundle(dots, for_typing=for_typing)
    assert split(bytes(largest), dots, for_typing=for_typing).count <= 128
    for length in (0, largest + 1):
        with pytest.raises(BundleTooLargeError):
            split(bytes(length), dots, for_typing=for_typing)


def test_a_day_takes_forty_three_frames_and_one_exam_four():
    assert split(DAY, DotSize.NORMAL).count == 43
    assert frames_of(1_017).count == 4


@settings(max_examples=examples(40))
@given(st.data())
def test_frames_in_any_order_rebuild_the_bundle_once(data):
    rng = random.Random(data.draw(st.integers(0, 2**32)))
    sealed = rng.randbytes(data.draw(st.integers(1, 6_000)))
    frames = split(sealed, data.draw(st.sampled_from(DotSize)))
    order = rng.choices(range(256), k=20) + rng.sample(range(256), frames.count + 5)
    collector = Collector()
    arrivals = [collector.add(frames.text(i)) for i in order]
    assert collector.finished() == [sealed]
    assert collector.finished() == []
    assert arrivals.count(Arrival.COMPLETE) == 1
    assert arrivals.count(Arrival.NEW) == frames.count - 1
    assert Arrival.STRAY not in arrivals


def test_scanning_goes_on_where_it_stopped():
    frames = split(DAY, DotSize.NORMAL)
    collector = Collector()
    first = list(itertools.islice(frames.order(), 20))
    again = list(itertools.islice(frames.order(start=20), 23))
    for frame_id in first:
        assert collector.add(frames.text(frame_id)) is Arrival.NEW
    assert [(p.have, p.needed) for p in collector.progress()] == [(20, 43)]
    (shown,) = collector.progress()
    assert shown.have < shown.needed
    assert [collector.add(frames.text(i)) for i in again][-1] is Arrival.COMPLETE
    (shown,) = collector.progress()
    assert shown.have == shown.needed


def shown_until_complete(count, is_lost):
    """Count frames shown until ``count`` different ones were seen."""
    frames, seen = frames_of(count, dots=DotSize.NORMAL), set()
    for shown, frame_id in enumerate(itertools.islice(frames.order(), 20_000)):
        if not is_lost(shown):
            seen.add(frame_id)
        if len(seen) == count:
            return shown + 1
    raise AssertionError


@pytest.mark.parametrize("seen_of", range(1, 34))
def test_every_nth_frame_alone_completes_the_largest_bundle(seen_of):
    for begin in range(seen_of):
        shown = shown_until_complete(128, lambda n, b=begin: n % seen_of != b)
        assert shown <= 160 * seen_of


@pytest.mark.parametrize("begin", [0, 1])
def test_with_every_second_frame_lost_twice_as_many_are_enough(begin):
    for count in range(1, 129):
        assert shown_until_complete(count, lambda n: n % 2 != begin) <= 2 * count


def test_several_bundles_mixed_come_out_each_once():
    bundles = [random.Random(seed).randbytes(2_000 + seed) for seed in range(6)]
    texts = [
        split(bundle, dots).text(frame_id)
        for bundle, dots in zip(bundles, itertools.cycle(DotSize), strict=False)
        for frame_id in range(40, 80)
    ]
    random.Random(3).shuffle(texts)
    collector = Collector()
    for text in texts:
        assert collector.add(text) is not Arrival.STRAY
    assert sorted(collector.finished()) == sorted(bundles)


def test_the_same_bundle_in_bigger_dots_is_not_given_out_again():
    collector = Collector()
    for dots in DotSize:
        frames = split(DAY, dots)
        for frame_id in range(frames.count):
            collector.add(frames.text(frame_id))
    assert collector.finished() == [DAY]
    assert len(collector.progress()) == 1


def test_changing_the_dots_half_way_keeps_both_counts():
    collector = Collector()
    small, big = split(DAY, DotSize.NORMAL), split(DAY, DotSize.BIGGER)
    for frame_id in range(30):
        collector.add(small.text(frame_id))
    for frame_id in range(99, 199):
        collector.add(big.text(frame_id))
    assert collector.finished() == [DAY]
    assert [p.needed - p.have for p in collector.progress()] == [0]


def test_typed_and_photographed_frames_of_one_cut_belong_together():
    typed = split(DAY, DotSize.NORMAL, for_typing=True)
    collector = Collector()
    arrivals = [collector.add(typed.text(i).lower()) for i in range(46)]
    assert arrivals[-1] is Arrival.COMPLETE
    assert collector.finished() == [DAY]


STRAYS = {
    "nothing": "",
    "a web address": "HTTPS://EXAMPLE.ORG",
    "only the mark": "EX1",
    "Base45 without a check": "EX1BB8",
    "a foreign character": "EX1ü",
    "a mark of another version": "EX2" + frames_of(600).text(0)[3:],
    "no block": forged(b"t" * 6, 0, 1, 0, b""),
    "no frames": forged(b"t" * 6, 0, 0, 0, b"abc"),
    "more frames than there can be": forged(b"t" * 6, 600, 200, 0, b"abc"),
    "a length above the blocks": forged(b"t" * 6, 7, 2, 0, b"abc"),
    "a length that needs fewer": forged(b"t" * 6, 3, 2, 0, b"abc"),
    "far too long": "EX1" + "0" * 10_000,
}


@pytest.mark.parametrize("text", STRAYS.values(), ids=STRAYS)
def test_stray_codes_are_ignored(text):
    collector = Collector()
    assert collector.add(text) is Arrival.STRAY
    assert collector.progress() == ()
    with pytest.raises(NotAFrameError):
        read_frame(text)


def flipped_texts(text, step):
    for place in range(0, len(text), step):
        for character in ALPHABET:
            if character != text[place]:
                yield text[:place] + character + text[place + 1 :]


def accepted_of(texts):
    collector = Collector()
    return sum(collector.add(text) is not Arrival.STRAY for text in texts)


def test_frame_with_one_wrong_character_is_ignored():
    assert accepted_of(flipped_texts(frames_of(1_017).text(3), 17)) == 0


@pytest.mark.exhaustive
def test_frame_with_any_wrong_character_or_cut_anywhere_is_ignored():
    texts = [*flipped_texts(frames_of(1_017).text(3), 1)]
    whole = frames_of(1_017).text(3)
    texts += [whole[:length] for length in range(len(whole))]
    assert accepted_of(texts) == 0
    print(f"{len(texts)} changed or cut frames, 0 accepted")


@pytest.mark.parametrize(
    ("length", "count", "block"),
    [(12_975, 43, 302), (12_976, 128, 102), (12_976, 1, 12_976)],
)
def test_false_head_with_a_true_tag_spoils_nothing(length, count, block):
    good = split(DAY, DotSize.NORMAL)
    collector = Collector()
    if block < 3_000:
        collector.add(forged(good.tag, length, count, 0, bytes(block)))
    else:
        text = forged(good.tag, length, count, 0, bytes(block))
        assert collector.add(text) is Arrival.STRAY
    for frame_id in range(43):
        collector.add(good.text(frame_id))
    assert collector.finished() == [DAY]
    assert len(collector.progress()) == 1


@pytest.mark.slow
def test_flood_of_strays_costs_bounded_memory_and_pushes_out_no_real_bundle():
    good = split(DAY, DotSize.NORMAL)
    collector = Collector()
    for frame_id in range(42):
        collector.add(good.text(frame_id))
    rng = random.Random(4)
    strays = [
        forged(rng.randbytes(6), 60_000, 60, rng.randrange(256), bytes(1_000))
        for _ in range(100)
    ]
    tracemalloc.start()
    for stray in strays:
        collector.add(stray)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert len(collector.progress()) == MOST_PENDING
    assert peak < MOST_PENDING * 1_000 + 200_000
    assert collector.add(good.text(200)) is Arrival.COMPLETE
    assert collector.finished() == [DAY]


def test_bundles_that_nobody_fetches_are_not_counted_as_seen():
    bundles = [bytes([number]) for number in range(MOST_FINISHED + 1)]
    texts = [split(bundle, DotSize.NORMAL).text(0) for bundle in bundles]
    collector = Collector()
    arrivals = [collector.add(text) for text in texts]
    assert arrivals == [Arrival.COMPLETE] * MOST_FINISHED + [Arrival.STRAY]
    assert collector.finished() == bundles[:-1]
    assert collector.add(texts[-1]) is Arrival.COMPLETE
    assert collector.finished() == bundles[-1:]


FORMAT = Path(__file__).resolve().parents[2] / "sync" / "FORMAT.md"


@pytest.mark.vector
def test_examples_written_down_are_what_is_written_and_read():
    rows = dict(re.findall(r"^\| `(EX\S+)` \| (.+) \|$", FORMAT.read_text(), re.M))
    content = bytes(range(20))
    coded = split(content, DotSize.NORMAL)
    typed = split(content, DotSize.NORMAL, for_typing=True)
    assert {what: text for text, what in rows.items()} == {
        "frame 0": coded.text(0),
        "frame 200": coded.text(200),
        "frame 0, typed": typed.text(0),
        "the content `receipt`, typed": to_keys(b"receipt"),
    }
    for text in rows:
        collector = Collector()
        collector.add(text)
        assert collector.finished() == ([] if "C" in text[:3] else [content])


@pytest.mark.vector
@pytest.mark.parametrize("dots", list(DotSize))
def test_limits_written_down_are_those_kept(dots):
    page = FORMAT.read_text().replace("\u202f", " ")
    rows = re.findall(rf"^\| {dots} \| (.+) \|$", page, re.M)
    numbers = [[int(n.replace(" ", "")) for n in row.split(" | ")[-2:]] for row in rows]
    assert numbers == [
        [_longest_block(dots, for_typing=False), largest_bundle(dots)],
        [
            _longest_block(dots, for_typing=True),
            largest_bundle(dots, for_typing=True),
        ],
    ]
