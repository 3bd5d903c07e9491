"""The keyboard-safe form through the layouts of keyboards, with and without caps lock.

The layouts are those of xkeyboard-config 2.35.1 (symbols us, de, fr, es, be), read from
its files; that Windows lets caps lock act as a shift lock on French and Belgian
keyboards is from memory.
"""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sync.transport.collector import Arrival, Collector
from sync.transport.frames import DotSize, split
from sync.transport.keyboard import (
    LONGEST_TEXT,
    Kind,
    Typed,
    from_keys,
    longest_keyed,
    to_keys,
)

# The keys that a scanner presses, by what a keyboard of the United States has there,
# without Shift and with it.
US = {key: key.upper() for key in "qwertyuiopasdfghjklzxcvbnm"}
US |= dict(zip("234567", "@#$%^&", strict=True))
# What other layouts have on those keys, where it differs.
GERMAN = {"y": "zZ", "z": "yY", "2": '2"', "3": "3§", "6": "6&", "7": "7/"}
FRENCH = {
    "q": "aA",
    "w": "zZ",
    "a": "qQ",
    "z": "wW",
    "m": ",?",
    "2": "é2",
    "3": '"3',
    "4": "'4",
    "5": "(5",
    "6": "-6",
    "7": "è7",
}
SPANISH = {"2": '2"', "3": "3·", "6": "6&", "7": "7/"}
BELGIAN = FRENCH | {"6": "§6"}
LAYOUTS = {
    "US": {},
    "German": GERMAN,
    "French": FRENCH,
    "Spanish": SPANISH,
    "Belgian": BELGIAN,
}
CASES = [
    *((layout, caps) for layout in LAYOUTS for caps in ("off", "letters")),
    ("French", "shift lock"),
    ("Belgian", "shift lock"),
]


def typed_through(text, layout, caps):
    """Give what the computer reads when a scanner types the text."""
    read = []
    for character in text:
        key = character.lower()
        is_shifted = character.isupper()
        pair = layout.get(key, key + US[key])
        if caps == "letters" and pair[0].isalpha() and pair[1] == pair[0].upper():
            is_shifted = not is_shifted
        elif caps == "letters" and pair[0].isalpha() and not is_shifted:
            read.append(pair[0].upper())
            continue
        elif caps == "shift lock":
            is_shifted = not is_shifted
        read.append(pair[is_shifted])
    return "".join(read)


def test_layouts_garble_what_is_not_in_this_form():
    assert typed_through("QZ2", FRENCH, "off") == "AWé"
    assert typed_through("YZ", GERMAN, "letters") == "zy"
    assert typed_through("m7", BELGIAN, "shift lock") == "?7"


@pytest.mark.parametrize(("layout", "caps"), CASES)
def test_content_survives_every_layout_and_caps_lock(layout, caps):
    rng = random.Random(caps)
    for length in range(1, 51):
        content = rng.randbytes(length * 4)
        for kind in Kind:
            text = typed_through(to_keys(content, kind), LAYOUTS[layout], caps)
            assert from_keys(text) == Typed(kind, content)


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
def test_one_exam_typed_by_a_scanner_arrives(layout):
    sealed = random.Random(7).randbytes(1_017)
    frames = split(sealed, DotSize.NORMAL, for_typing=True)
    collector = Collector()
    arrivals = [
        collector.add(typed_through(frames.text(frame_id), layout, "off"))
        for frame_id in range(frames.count)
    ]
    assert arrivals[-1] is Arrival.COMPLETE
    assert collector.finished() == [sealed]


def test_pasted_text_may_be_wrapped_spaced_hyphened_and_in_small_letters():
    text = to_keys(b"what a card says")
    for changed in (
        text.lower(),
        f"  {text}\n",
        "\r\n".join(text[i : i + 7] for i in range(0, len(text), 7)),
        "-".join(text[i : i + 4] for i in range(0, len(text), 4)),
        " ".join(text),
    ):
        assert from_keys(changed).content == b"what a card says"


@given(st.binary(min_size=1, max_size=300), st.sampled_from(Kind))
def test_any_content_is_read_back_and_fits_where_it_is_said_to(content, kind):
    text = to_keys(content, kind)
    assert from_keys(text) == Typed(kind, content)
    assert set(text) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZ234567")
    assert longest_keyed(len(text)) == len(content)


def test_any_wrong_missing_or_swapped_character_is_noticed():
    text = to_keys(random.Random(2).randbytes(60))
    changed = [text[:i] + text[i + 1 :] for i in range(len(text))]
    for i, was in enumerate(text):
        new = "B" if was != "B" else "D"
        changed.append(text[:i] + new + text[i + 1 :])
        if i and text[i - 1] != was:
            changed.append(text[: i - 1] + was + text[i - 1] + text[i + 1 :])
    assert len(changed) > 300
    for wrong in changed:
        with pytest.raises(ValueError, match="check"):
            from_keys(wrong)


@pytest.mark.parametrize(
    "text",
    ["", "EX", "EXC", "EXCAAAAAAA", "EXZ" + to_keys(b"a")[3:], "Ex1" * 9],
)
def test_other_texts_are_refused(text):
    with pytest.raises(ValueError, match="check"):
        from_keys(text)


def test_endless_text_is_refused_unread():
    with pytest.raises(ValueError, match="check"):
        from_keys(to_keys(b"a") + " " * LONGEST_TEXT)
