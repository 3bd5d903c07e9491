"""A text as known phrases: the longest first, numbers as the app's own code reads them.

A number written out in words is read where it can mean one number; ``one twenty`` can
mean two, and so can numbers that touch each other: those are doubtful and never taken.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from exam_app.domain.errors import ReadingError
from exam_app.domain.measure.units import read_parts

MARKS = "-\u2013\u2212"
WORD = re.compile(
    r"(?<![\w.,])[.,]\d+|\d+(?:[.,]\d+)*|[^\W\d_]+(?:['\u2019][a-z]+)?|\S|\n"
)

_ONES = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_ROMAN = {"I": 1, "II": 2, "III": 3, "IV": 4, "V": 5, "VI": 6}


class Sense(StrEnum):
    """What kind of thing a phrase can mean."""

    VITAL = "vital"
    ORDER = "order"
    REGION = "region"
    PAIR = "pair"
    TERM = "term"
    CLAIM = "claim"
    QUALITY = "quality"
    PLACE = "place"
    GRADE = "grade"
    CHOICE = "choice"
    ANSWER = "answer"
    ALONE = "alone"
    SITE = "site"
    STATE = "state"
    SIDE = "side"
    UNIT = "unit"
    DOSE = "dose"
    ROUTE = "route"
    GIVING = "giving"
    LUMP = "lump"
    REASON = "reason"
    GONE = "gone"
    NUMBER = "number"
    NORMAL = "normal"
    PART = "part"
    NO = "no"
    JOINS_NO = "joins_no"
    LINK = "link"
    OUT_OF = "out_of"
    FILL = "fill"
    DOUBT = "doubt"
    DEGREE = "degree"
    ABOUT = "about"
    UNDER = "under"
    OVER = "over"
    UNDONE = "undone"
    PLAIN = "plain"


@dataclass(frozen=True, slots=True)
class Meaning:
    """One thing a phrase can mean.

    Attributes:
        place: The vital or part it belongs to, or of a word without one its value.
        item: The find or answer; of a pair the side.
        text: The quality or landmark as the protocol words it.
        number: Of a number in words.
        is_doubtful: Whether the number can be another one too.
    """

    sense: Sense
    place: str = ""
    item: str = ""
    text: str = ""
    number: Decimal | None = None
    is_doubtful: bool = False


@dataclass(eq=False, slots=True)
class Token:
    """One known phrase, number or mark of a text, or one word that is not known.

    Attributes:
        number: What it counts, where it is a number that can be read one way.
        is_doubtful: Whether it is a number that can be read another way.
    """

    raw: str
    start: int
    end: int
    meanings: tuple[Meaning, ...] = ()
    number: Decimal | None = None
    is_doubtful: bool = False

    def has(self, sense: Sense) -> bool:
        """Whether it can mean something of this kind."""
        return any(m.sense is sense for m in self.meanings)

    def all(self, sense: Sense) -> list[Meaning]:
        """Return what it can mean of this kind."""
        return [m for m in self.meanings if m.sense is sense]

    def first(self, sense: Sense) -> Meaning:
        """Return the first thing it can mean of this kind, which it must have."""
        return self.all(sense)[0]

    @property
    def is_number(self) -> bool:
        """Whether it is a number, even one that cannot be taken."""
        return self.number is not None or self.is_doubtful

    @property
    def digits(self) -> str:
        """The number in digits; as typed where it cannot be read."""
        return self.raw if self.number is None else str(self.number)


END = Token("\n", 10**9, 10**9)


def numbers_in_words() -> Iterator[tuple[str, Meaning]]:
    """Yield the numbers up to 999 in words, with those that can be two numbers."""
    low = {word: n for n, word in enumerate(_ONES)}
    low |= {word: n * 10 for n, word in enumerate(_TENS, 2)}
    low |= {
        f"{ten} {one}": low[ten] + n
        for ten in _TENS
        for n, one in enumerate(_ONES[:10])
        if n
    }
    for words, n in low.items():
        yield words, _number(n)
    for h, name in enumerate(_ONES[1:10], 1):
        for hundred in (f"{name} hundred", *(["a hundred"] if h == 1 else [])):
            yield hundred, _number(h * 100)
            for link in (" ", " and "):
                yield from (
                    (f"{hundred}{link}{words}", _number(h * 100 + n))
                    for words, n in low.items()
                    if n
                )
        for words, n in low.items():
            # "one twenty" can be two numbers, and so can "one oh one".
            way = f"{name} {words}" if n > 9 else f"{name} oh {words}"
            if n:
                yield way, _number(h * 100 + n, is_doubtful=True)


def _number(n: int, *, is_doubtful: bool = False) -> Meaning:
    return Meaning(Sense.NUMBER, number=Decimal(n), is_doubtful=is_doubtful)


def typed_number(word: str) -> Decimal | None:
    """Return a number in digits as a field would read it; None where it is refused."""
    try:
        (found, unit), *more = read_parts(word)
    except ReadingError:
        return None
    return None if unit or more else found


class Tokenizer:
    """Cuts a text into the phrases it knows."""

    def __init__(
        self, phrases: dict[tuple[str, ...], tuple[Meaning, ...]], same: dict[str, str]
    ) -> None:
        """Know phrases by their words, as ``phrase_key`` writes them."""
        self.phrases = phrases
        self._same = same
        self._beginnings = {key[:n] for key in phrases for n in range(1, len(key))}
        self.spelled = sorted(
            {w for key in phrases for w in key if len(w) > 3 and w.isalpha()}
        )

    def plain(self, word: str) -> str:
        """Return one word as phrases are compared."""
        return plain_word(word, self._same)

    def cut(self, text: str) -> list[Token]:
        """Return the text as tokens, in order; blanks are left out."""
        words = [(m[0], m.start(), m.end()) for m in WORD.finditer(text)]
        found: list[Token] = []
        i = 0
        while i < len(words):
            after, meanings = self._longest_at(words, i)
            start, end = words[i][1], words[after - 1][2]
            token = Token(text[start:end], start, end, meanings)
            _read_number(token, words, i, after)
            _join(found, token, text)
            i = after
        return found

    def _longest_at(
        self, words: list[tuple[str, int, int]], i: int
    ) -> tuple[int, tuple[Meaning, ...]]:
        """Return where the longest phrase that begins here ends, and its meanings."""
        best: tuple[int, tuple[Meaning, ...]] = (i + 1, ())
        ways: list[tuple[str, ...]] = [()]
        for j in range(i, len(words)):
            word = words[j][0]
            if word in ";\n" or (word in ",." and j == i) or word == ".":
                break
            if j > i and (word in MARKS or word == ":" or word in ARTICLES):
                continue
            steps = {f"={word}", self.plain(word)}
            longer = [(*way, step) for way in ways for step in steps]
            known = [way for way in longer if way in self.phrases]
            if known:
                means = dict.fromkeys(m for way in known for m in self.phrases[way])
                best = (j + 1, tuple(means))
            ways = [way for way in longer if way in self._beginnings]
            if not ways:
                break
        return best


ARTICLES = frozenset({"the", "a", "an"})


def plain_word(word: str, same: dict[str, str]) -> str:
    """Return one word without case, plural and possessive, as another one it equals."""
    word = word.lower().replace("\u2019", "'").removesuffix("'s")
    word = same.get(word, word)
    if len(word) > 3 and word[-1] == "s" and word[-2] not in "sui":
        word = word[:-1]
    return same.get(word, word)


def phrase_key(way: str, same: dict[str, str]) -> tuple[str, ...]:
    """Return the words of a phrase as they are looked up.

    Up to four capital letters are understood only as written: AS is not ``as``.
    """
    is_marked = way.isalpha() and way.upper() == way and len(way) < 5
    words = [w for w in WORD.findall(way) if w not in f".:{MARKS}"]
    kept = [w for n, w in enumerate(words) if n == 0 or w not in ARTICLES]
    return tuple(
        f"={w}" if is_marked or w in "CF" else plain_word(w, same) for w in kept
    )


def _read_number(
    token: Token, words: list[tuple[str, int, int]], i: int, after: int
) -> None:
    word = words[i][0]
    spelled = token.all(Sense.NUMBER)
    if spelled:
        token.is_doubtful = spelled[0].is_doubtful
        token.number = None if token.is_doubtful else spelled[0].number
    if word[-1].isdigit() and after == i + 1:
        token.number = typed_number(word)
        before = words[i - 1][0] if i else ""
        is_after_word = i > 1 and words[i - 2][0].isalpha()
        is_below_zero = before in tuple(MARKS) and not is_after_word
        token.is_doubtful = token.number is None or is_below_zero
    elif word in _ROMAN and "/" in [w[0] for w in words[max(0, i - 1) : i + 2]]:
        token.number, token.meanings = Decimal(_ROMAN[word]), ()


def _join(found: list[Token], token: Token, text: str) -> None:
    """Add a token: after "point" it is a decimal, beside a number both are doubtful."""
    last = found[-1] if found else END
    digit = _one_digit(token)
    if len(found) > 1 and last.raw.lower() == "point" and digit:
        whole = found[-2]
        if whole.is_number:
            raw = text[whole.start : token.end]
            is_whole = whole.number is not None and whole.number % 1 == 0
            value = Decimal(f"{whole.number}.{digit}") if is_whole else None
            found[-2:] = [Token(raw, whole.start, token.end, (), value, value is None)]
            return
    goes_on = token.has(Sense.NUMBER) and digit == str(token.number)
    if "point" in last.raw.lower() and last.number is not None and goes_on:
        raw = text[last.start : token.end]
        value = Decimal(f"{last.number}{digit}")
        found[-1] = Token(raw, last.start, token.end, (), value)
        return
    beside = last
    if last.raw in MARKS and len(found) > 1 and not last.has(Sense.NUMBER):
        beside = found[-2]
    if token.is_number and beside.is_number:
        beside.is_doubtful = token.is_doubtful = True
    found.append(token)


def _one_digit(token: Token) -> str:
    if token.number is None:
        return ""
    if token.raw.isascii() and token.raw.isdigit():
        return token.raw
    return str(token.number) if token.number < 10 else ""
