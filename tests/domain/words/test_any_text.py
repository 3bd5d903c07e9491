"""Any text at all: nothing raises, and a sure number, unit or side stands in it."""

import re
from random import Random

import pytest

from exam_app.domain.words.items import Item, ItemKind
from exam_app.domain.words.line_reader import LONGEST
from exam_app.domain.words.tokens import numbers_in_words
from exam_app.protocols.loader import available
from tests.line_reading import read, shown, wanted_lines, words_for

EVERYDAY = 800
WHOLE = pytest.param(20_000, marks=pytest.mark.exhaustive)
JUNK = (
    *("zzz", "the dog", "?", "...", "½", "٣", "\uff11\uff12", "\u202e", "e\u0301"),
    *("31/15/2", "<", ">", "1,234", "0x1f", "1e9", "-5", "+3", "°", "%%", "''", "’s"),
    *("\n", ";", ",", "()", "R", "L", "as", "AS", "no", "not", "and", "or", "point"),
    *("hundred", "oh", "mm", "in", "x", "s", "c", "f", "15", "0", "999999999999999"),
    *("1.", "..5", "5.5.5", "😀", "\x00", "\x7f", "a" * 50),
)
UNITS = {
    "degC": r"c\b|cels|centigr",
    "degF": r"f\b|fahr",
    "kg": "kg|kilo",
    "lb": "lb|pound",
    "g": r"g\b|gram",
    "mmol/L": "mmol|millimol",
    "mg/dL": "mg|milligr",
}
SIDES = {
    "left": r"\bleft|\bL\b|\blt\b|OS|AS|LF|LH",
    "right": r"\bright|\bR\b|\brt\b|OD|AD|RF|RH",
}
BOTH = r"both|bilat|each side|OU|AU"
ROMAN = ("", "i", "ii", "iii", "iv", "v", "vi")
ONES = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
SPOKEN: dict[int, list[str]] = {}
for _words, _meaning in numbers_in_words():
    SPOKEN.setdefault(int(_meaning.number or 0), []).append(_words)


def _stands_in(number: str, text: str) -> bool:
    """Whether a number stands in a text: in digits, in words or in Roman ones."""
    naked = number.removeprefix("0") if number.startswith("0.") else number
    if naked in text or naked.replace(".", ",") in text:
        return True
    whole, _, rest = number.partition(".")
    ways = [*SPOKEN.get(int(whole), []), whole]
    flat = " ".join(re.split(r"[-\s\u2013\u2212]+", text))
    # An article in the middle of a phrase is passed over.
    flat += re.sub(r" (?:the|a|an)(?= )", "", flat)
    if rest:
        said = (" ".join(ONES[int(d)] for d in rest), rest)
        return any(f"{way} point {end}" in flat for way in ways for end in said)
    roman = ROMAN[int(number)] if number.isdigit() and int(number) < 7 else ""
    is_roman = bool(roman and re.search(rf"\b{roman}\b", text))
    return is_roman or any(way in flat for way in ways)


def broken_promises(text: str, item: Item, species: str) -> list[str]:
    """Return what a sure item says that does not stand in its text.

    The only unit that a vital has need not be said, as it need not be typed.
    """
    low, broken = text.lower(), []
    if item.kind in (ItemKind.VALUE, ItemKind.COUNT, ItemKind.GRADE):
        numbers = re.findall(r"\d+(?:\.\d+)?", item.value)
        broken += [n for n in numbers if not _stands_in(n, low)]
    in_minutes = item.seconds % 60 == 0 and "min" in low
    is_said = _stands_in(str(item.seconds), low) or in_minutes
    if item.kind is ItemKind.COUNT and not is_said:
        broken.append("length")
    is_only = len(words_for(species).units(item.places[0])) == 1
    if item.unit in UNITS and not is_only and not re.search(UNITS[item.unit], low):
        broken.append(item.unit)
    side = item.key.partition(".")[2]
    named = SIDES.get(side, "")
    # A whole pair that is normal, or not there, is said by its name in plural.
    whole = (ItemKind.NORMAL, ItemKind.NOT_DONE, ItemKind.NOT_PRESENT)
    is_pair = item.kind in whole and re.search(r"s\b|feet", text)
    if side and not re.search(f"{named}|{BOTH}", text, re.IGNORECASE) and not is_pair:
        broken.append(side)
    return broken


def _any_text(rng: Random, vocabulary: list[str], texts: list[str]) -> str:
    draw = rng.random()
    if draw < 0.35:
        many = range(rng.randint(1, 25))
        return " ".join(
            rng.choice(vocabulary) if rng.random() < 0.8 else rng.choice(JUNK)
            for _ in many
        )
    if draw < 0.6:
        a, b = rng.choice(texts).split(" "), rng.choice(texts).split(" ")
        kept = a[: rng.randrange(len(a) + 1)] + b[rng.randrange(len(b) + 1) :]
        return " ".join([*kept, rng.choice(JUNK)])
    if draw < 0.8:
        text = list(rng.choice(texts))
        for _ in range(rng.randint(1, 6)):
            at = rng.randrange(len(text) + 1)
            piece = rng.choice(
                [rng.choice("abcLR ,.;0123456789/<>-"), rng.choice(JUNK)]
            )
            text[at : at + rng.randint(0, 2)] = piece
        return "".join(text)
    spans = ((32, 127), (0x20, 0x3000), (0x1F300, 0x1F600))
    return "".join(
        chr(rng.randrange(*rng.choice(spans))) for _ in range(rng.randint(0, 120))
    )


@pytest.mark.slow
@pytest.mark.parametrize("count", [EVERYDAY, WHOLE])
def test_any_text_is_read_and_nothing_sure_is_not_in_it(count: int) -> None:
    rng, species = Random(7), available()
    texts = [line.text for line in wanted_lines("lines.toml") if line.text]
    vocabulary = {
        one: sorted(
            {
                " ".join(word.lstrip("=") for word in key)
                for key in words_for(one).tokens.phrases
            }
        )
        for one in species
    }
    sure = 0
    for n in range(count):
        one = species[n % len(species)]
        text = _any_text(rng, vocabulary[one], texts)
        line = read(text, one)
        for item in line.items:
            assert 0 <= item.start <= item.end <= len(line.text)
            if item.is_sure:
                sure += 1
                assert broken_promises(line.text, item, one) == [], (text, shown(item))
        for part in line.not_read:
            assert line.text[part.start : part.end] == part.words
    print(f"any text: {count}, sure items held to their text {sure}")
    assert sure > 20


@pytest.mark.parametrize("text", ["", " ", "\n\n", ",", "1" * 5_000, "left " * 2_000])
def test_empty_and_endless_text_is_read(text: str) -> None:
    line = read(text)
    assert len(line.text) <= LONGEST
    assert not any(item.is_sure for item in line.items)


def test_every_word_is_either_understood_or_shown() -> None:
    """A part named with nothing said of it is shown, not dropped."""
    line = read("left ear; murmur 2/6")
    assert [one.words for one in line.not_read] == ["left ear"]
