"""The one spelling of CBOR, against Appendix A of RFC 8949 and hostile input.

Appendix A as read in the machine-readable table of github.com/cbor/test-vectors
(appendix_a.json), which restates the RFC's examples.
"""

from datetime import UTC

import cbor2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exam_app.record import cbor_form
from exam_app.record.cbor_form import (
    check_form,
    decode,
    encode,
    is_surely_in_form,
)
from exam_app.record.errors import (
    CannotBeWrittenError,
    NotARecordError,
    RecordTooLargeError,
)
from tests.samples import examples

APPENDIX_A_TAKEN = [
    ("00", 0),
    ("01", 1),
    ("0a", 10),
    ("17", 23),
    ("1818", 24),
    ("1819", 25),
    ("1864", 100),
    ("1903e8", 1000),
    ("1a000f4240", 1_000_000),
    ("1b000000e8d4a51000", 1_000_000_000_000),
    ("20", -1),
    ("29", -10),
    ("3863", -100),
    ("3903e7", -1000),
    ("f4", False),
    ("f5", True),
    ("40", b""),
    ("4401020304", bytes([1, 2, 3, 4])),
    ("60", ""),
    ("6161", "a"),
    ("6449455446", "IETF"),
    ("62225c", '"\\'),
    ("62c3bc", "\u00fc"),
    ("63e6b0b4", "\u6c34"),
    ("64f0908591", "\U00010151"),
    ("80", []),
    ("83010203", [1, 2, 3]),
    ("8301820203820405", [1, [2, 3], [4, 5]]),
    (
        "98190102030405060708090a0b0c0d0e0f101112131415161718181819",
        list(range(1, 26)),
    ),
    ("a0", {}),
    ("a201020304", {1: 2, 3: 4}),
    ("a26161016162820203", {"a": 1, "b": [2, 3]}),
    ("826161a161626163", ["a", {"b": "c"}]),
    (
        "a56161614161626142616361436164614461656145",
        {"a": "A", "b": "B", "c": "C", "d": "D", "e": "E"},
    ),
]
APPENDIX_A_REFUSED = [
    "1bffffffffffffffff",
    "c249010000000000000000",
    "3bffffffffffffffff",
    "c349010000000000000000",
    "f90000",
    "f98000",
    "f93c00",
    "fb3ff199999999999a",
    "f93e00",
    "f97bff",
    "fa47c35000",
    "fa7f7fffff",
    "fb7e37e43c8800759c",
    "f90001",
    "f90400",
    "f9c400",
    "fbc010666666666666",
    "f97c00",
    "f97e00",
    "f9fc00",
    "fa7f800000",
    "fa7fc00000",
    "faff800000",
    "fb7ff0000000000000",
    "fb7ff8000000000000",
    "fbfff0000000000000",
    "f6",
    "f7",
    "f0",
    "f818",
    "f8ff",
    "c074323031332d30332d32315432303a30343a30305a",
    "c11a514b67b0",
    "c1fb41d452d9ec200000",
    "d74401020304",
    "d818456449455446",
    "d82076687474703a2f2f7777772e6578616d706c652e636f6d",
    "5f42010243030405ff",
    "7f657374726561646d696e67ff",
    "9fff",
    "9f018202039f0405ffff",
    "9f01820203820405ff",
    "83018202039f0405ff",
    "83019f0203ff820405",
    "9f0102030405060708090a0b0c0d0e0f101112131415161718181819ff",
    "bf61610161629f0203ffff",
    "826161bf61626163ff",
    "bf6346756ef563416d7421ff",
]


@pytest.mark.reference
@pytest.mark.parametrize(("spelled", "value"), APPENDIX_A_TAKEN)
def test_appendix_a_example_is_written_and_read(spelled, value):
    assert encode(value) == bytes.fromhex(spelled)
    read = decode(bytes.fromhex(spelled))
    assert (read, type(read)) == (value, type(value))


@pytest.mark.reference
@pytest.mark.parametrize("spelled", APPENDIX_A_REFUSED)
def test_appendix_a_example_outside_our_form_is_refused(spelled):
    with pytest.raises(NotARecordError):
        decode(bytes.fromhex(spelled))


def test_every_appendix_a_example_is_either_taken_or_refused():
    assert len(APPENDIX_A_TAKEN) + len(APPENDIX_A_REFUSED) == 82


@pytest.mark.parametrize(
    ("spelled", "why"),
    [
        ("", "nothing"),
        ("18", "a head without its argument"),
        ("1801", "one in two bytes"),
        ("190001", "one in three bytes"),
        ("1a0000ffff", "65535 in five bytes"),
        ("1b00000000ffffffff", "2^32 - 1 in nine bytes"),
        ("5801", "a byte string without its byte"),
        ("61", "a text without its byte"),
        ("6180", "a text that is not UTF-8"),
        ("63eda080", "a lone surrogate in UTF-8"),
        ("82f5", "an array without its second part"),
        ("a101", "a key without its value"),
        ("a201f501f5", "a key twice"),
        ("a202f501f5", "keys that fall"),
        ("a26162f56161f5", "texts as keys that fall"),
        ("a140f5", "bytes as a key"),
        ("a1f5f5", "true as a key"),
        ("a180f5", "an array as a key"),
        ("f500", "something after the end"),
        ("9b7fffffffffffffff", "an array of more parts than bytes"),
        ("bb7fffffffffffffff", "a map of more parts than bytes"),
        ("5bffffffffffffffff", "a byte string of more bytes than there are"),
        ("1c", "a reserved length"),
        ("ff", "a break without a start"),
    ],
    ids=lambda value: value.replace(" ", "-") if " " in value else None,
)
def test_other_spelling_is_refused(spelled, why):
    with pytest.raises((NotARecordError, RecordTooLargeError)):
        decode(bytes.fromhex(spelled))


@pytest.mark.parametrize(
    "content",
    [
        b"\x81" * 17 + b"\x00",
        b"\x81" * 200_000 + b"\x00",
        b"\xa1\x01" * 17 + b"\x00",
        b"\x9a\x00\x01\x00\x00" + b"\x00" * 65_536,
        b"\x5a\x00\x01\x00\x00" + bytes(65_536),
        bytes(cbor_form.LARGEST + 1),
    ],
    ids=["arrays", "many arrays", "maps", "items", "a long text", "bytes"],
)
def test_limit_is_held_before_anything_is_built(content):
    with pytest.raises(RecordTooLargeError):
        decode(content)


@pytest.mark.parametrize(
    "value", [1.5, None, 2**63, -(2**63) - 1, "\ud800", {b"": 1}, object()]
)
def test_value_without_a_spelling_is_not_written(value):
    with pytest.raises(CannotBeWrittenError):
        encode([value])


VALUES = st.recursive(
    st.booleans()
    | st.integers(-(2**63), 2**63 - 1)
    | st.text(max_size=30)
    | st.binary(max_size=30),
    lambda parts: (
        st.lists(parts, max_size=4)
        | st.dictionaries(st.integers(0, 999) | st.text(max_size=3), parts, max_size=4)
    ),
    max_leaves=12,
)


@given(VALUES)
def test_what_is_written_is_read_back_and_has_one_spelling(value):
    content = encode(value)
    assert decode(content) == value == cbor2.loads(content)
    assert encode(decode(content)) == content


@given(st.binary(max_size=60))
def test_any_bytes_are_read_in_their_one_spelling_or_refused(content):
    try:
        value = decode(content)
    except (NotARecordError, RecordTooLargeError):
        return
    assert encode(value) == content


@given(VALUES, st.data())
def test_every_cut_of_a_value_is_refused(value, data):
    content = encode(value)
    cut = data.draw(st.integers(0, len(content) - 1))
    with pytest.raises(NotARecordError):
        decode(content[:cut])


FLAGS = st.booleans()
# The same kinds of value as others may spell them: keys in any order, floats, tags.
LOOSE = st.recursive(
    VALUES
    | st.none()
    | st.floats()
    | st.datetimes(timezones=st.just(UTC))
    | st.integers(2**63, 2**70)
    | st.builds(cbor2.CBORTag, st.integers(100, 300), st.integers()),
    lambda parts: (
        st.lists(parts, max_size=3)
        | st.dictionaries(
            st.integers(-30, 300) | st.text(max_size=2) | st.binary(max_size=2) | FLAGS,
            parts,
            max_size=4,
        )
    ),
    max_leaves=8,
)
HEADS = st.sampled_from(
    [bytes([head]) for head in range(256)]
    + [bytes.fromhex(one) for one in ("1800", "190018", "1a0000ffff", "5817", "7818")]
    + [bytes.fromhex(one) for one in ("9900ff", "990fff", "b90001", "bf", "9f", "ff")]
)


@st.composite
def nearly_right(draw):
    """Bytes of a value with up to three heads put in, taken out or changed."""
    content = bytearray(cbor2.dumps(draw(LOOSE)))
    for _ in range(draw(st.integers(0, 3))):
        start = draw(st.integers(0, len(content)))
        content[start : start + draw(st.integers(0, 2))] = draw(HEADS)
    return bytes(content)


SPELLED = (
    nearly_right()
    | st.lists(HEADS, max_size=12).map(b"".join)
    | st.builds(lambda n, end: b"\x81" * n + end, st.integers(13, 20), HEADS)
    | st.builds(lambda n, end: b"\xa1\x01" * n + end, st.integers(13, 20), HEADS)
)


def fault_of(action, content):
    try:
        action(content)
    except (NotARecordError, RecordTooLargeError) as error:
        return type(error), str(error)
    return None


@settings(max_examples=examples(1500))
@given(SPELLED)
def test_what_is_known_to_be_right_at_once_passes_the_whole_check(content):
    """The loop of the first version judges; the shorter way may only agree with it."""
    fault = fault_of(check_form, content)
    if is_surely_in_form(content):
        assert fault is None
        assert encode(cbor2.loads(content)) == content
    elif fault is not None:
        assert fault_of(decode, content) == fault


@given(VALUES)
def test_what_is_written_is_known_to_be_right_at_once(value):
    assert is_surely_in_form(encode(value))


@pytest.mark.parametrize(
    "value",
    ["x" * n for n in (23, 24, 255, 256, 65_535 - 20_000)]
    + [bytes(n) for n in (15, 16, 24, 32, 33, 64, 255, 256)]
    + [list(range(n)) for n in (23, 24, 255, 256, 4_095)],
    ids=lambda value: f"{type(value).__name__}-{len(value)}",
)
def test_length_of_every_width_is_known_to_be_right_at_once(value):
    content = encode([value, 1])
    assert is_surely_in_form(content)
    assert not is_surely_in_form(content[:-1])
    assert not is_surely_in_form(content + b"\0")


@pytest.mark.parametrize("around", [b"\x81", b"\xa1\x01"], ids=["arrays", "maps"])
def test_deep_values_are_known_to_be_right_at_once_and_none_too_deep(around):
    for inmost in (b"\x00", b"\x80", b"\xa0", b"\x60"):
        deepest = around * (cbor_form.DEEPEST - 1) + inmost
        check_form(deepest)
        decode(deepest)
        assert is_surely_in_form(deepest[len(around) :])
        assert not is_surely_in_form(around + deepest)
        with pytest.raises(RecordTooLargeError):
            decode(around + deepest)


def test_a_key_that_stands_twice_is_seen_though_a_map_holds_it_once():
    for content in ("a201000100", "a16161a2020002f5", "a26161006161f5"):
        assert not is_surely_in_form(bytes.fromhex(content))
        with pytest.raises(NotARecordError, match="stand twice"):
            decode(bytes.fromhex(content))


def test_a_key_that_is_true_among_numbers_is_refused():
    content = bytes.fromhex("a30001f5010201")
    assert not is_surely_in_form(content)
    with pytest.raises(NotARecordError, match="neither integer nor text"):
        decode(content)


@pytest.mark.parametrize(
    "head", ["f6", "f93c00", "c1", "c249", "d81c", "9f", "5f", "f7", "f820", "1c"]
)
def test_no_library_is_given_a_head_that_is_not_allowed(head, monkeypatch):
    """Tags make a library build dates, big numbers, references and patterns."""

    def never(content, **_options):
        raise AssertionError(content)

    monkeypatch.setattr(cbor_form.cbor2, "loads", never)
    with pytest.raises(NotARecordError):
        decode(b"\x82\x01" + bytes.fromhex(head) + b"\x00" * 9)
