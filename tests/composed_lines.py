"""Lines put together from pieces whose meaning is known, over every species.

The pieces are the protocols' own labels, numbers in digits and in words, and talk that
means nothing for the record; drawn from a fixed start, so that a failure comes again.
"""

from random import Random

from exam_app.domain.protocol.protocol import Region
from exam_app.domain.words.protocol_words import ProtocolWords

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
_TALK = (
    "good girl",
    "hold him still please",
    "owner says he was fine yesterday",
    "can you pass me the towel",
    "she hates this",
    "he weighed 12 kg last time",
    "let me see the other one",
    "right then",
    "what a lovely coat",
    "two more minutes",
)
_KINDS = [
    "rate",
    "count",
    "temperature",
    "weight",
    "condition",
    "gums",
    "normal",
    "normal",
    "find",
    "find",
    "find",
    "deny",
    "not_done",
    "talk",
    "refill",
]
_SIDES = (("left", ("left", "L", "lt")), ("right", ("right", "R", "rt")))

Piece = tuple[str, set[str]]


def compose(rng: Random, words: ProtocolWords) -> Piece:
    """Return one line, and what of it may be taken as sure."""
    pieces = [_piece(rng, words) for _ in range(rng.randint(1, 5))]
    text = pieces[0][0]
    for piece, _ in pieces[1:]:
        text += rng.choice([", ", "; ", ". ", "\n", " ", " and ", ", "]) + piece
    return text, set().union(*(truth for _, truth in pieces))


def _piece(rng: Random, words: ProtocolWords) -> Piece:
    kind = rng.choice(_KINDS)
    if kind in ("normal", "find", "deny"):
        return _of_part(rng, words, kind)
    if kind == "talk":
        return rng.choice(_TALK), set()
    return _of_vital(rng, words, kind)


def _of_vital(rng: Random, words: ProtocolWords, kind: str) -> Piece:
    if kind == "not_done":
        vital = rng.choice(["temperature", "weight"])
        return f"{vital} refused", {f"{vital} not done: refused"}
    if kind in ("rate", "count"):
        name, said = rng.choice(
            [
                ("heart_rate", "HR"),
                ("heart_rate", "heart rate"),
                ("respiratory_rate", "RR"),
                ("respiratory_rate", "resp"),
            ]
        )
        if kind == "rate":
            n, unit = rng.randrange(20, 190), "beat" if name[0] == "h" else "breath"
            link = rng.choice([" ", ": ", " is "])
            return f"{said}{link}{_said(rng, n)}", {f"{name}={n} {unit}/min"}
        n, s = rng.randrange(5, 45), rng.choice([10, 15, 20, 30])
        length = rng.choice([f" in {_said(rng, s)} seconds", f" in {s} s", f"/{s}s"])
        return f"{said} {_said(rng, n)}{length}", {f"{name}={n} in {s}"}
    if kind == "temperature":
        low, high, unit, ways = rng.choice(
            [
                (36, 42, "degC", ("C", "celsius", "degrees celsius")),
                (97, 107, "degF", ("F", "fahrenheit")),
            ]
        )
        n, d = rng.randrange(low, high), rng.randrange(10)
        name = rng.choice(["T", "temp", "temperature"])
        text = f"{name} {_decimal(rng, n, d)} {rng.choice(ways)}"
        return text, {f"temperature={n}.{d} {unit}"}
    if kind == "weight":
        n, d = rng.randrange(3, 60), rng.randrange(10)
        unit, way = rng.choice(
            [("kg", "kg"), ("kg", "kilos"), ("lb", "pounds"), ("lb", "lbs")]
        )
        text = f"{rng.choice(['wt', 'weight'])} {_decimal(rng, n, d)} {way}"
        return text, {f"weight={n}.{d} {unit}"}
    return _graded(rng, words, kind)


def _graded(rng: Random, words: ProtocolWords, kind: str) -> Piece:
    condition = words.vitals.get("body_condition")
    grades = words.grades(condition.scale_id) if condition else ()
    if kind == "condition" and grades:
        value, top = rng.choice(grades).value, grades[-1].value
        return f"BCS {value}/{top}", {f"body_condition={value}"}
    if kind == "gums" and "mucous_membrane_colour" in words.vitals:
        colour = rng.choice(["pink", "pale", "white", "yellow"])
        return f"MM {colour}", {f"mucous_membrane_colour={colour}"}
    if "capillary_refill_time" not in words.vitals:
        return rng.choice(_TALK), set()
    n, d = rng.randrange(1, 4), rng.randrange(10)
    text = f"CRT {_decimal(rng, n, d)} {rng.choice(['s', 'sec', 'seconds'])}"
    return text, {f"capillary_refill_time={n}.{d} s"}


def _of_part(rng: Random, words: ProtocolWords, kind: str) -> Piece:
    region = rng.choice(list(words.regions.values()))
    side, ways = rng.choice(_SIDES) if region.sides else ("", ("",))
    key = f"{region.region_id}.{side}" if side else region.region_id
    named = f"{rng.choice(ways)} {_name(region)}".strip()
    if kind == "normal":
        word = rng.choice(["normal", "NAD", "unremarkable"])
        return f"{named} {word}", {f"{key} normal"}
    short = [t for t in region.terms if len(t.label.split()) < 3 and "(" not in t.label]
    if not short:
        return rng.choice(_TALK), set()
    term = rng.choice(short)
    no = "no " if kind == "deny" else ""
    return f"{named} {no}{term.label.lower()}", {f"{key} {no}{term.term_id}"}


def _name(region: Region) -> str:
    name = region.label.split(",")[0].split(" and ")[0].lower()
    return name.removesuffix("s") if region.sides else name


def _said(rng: Random, n: int) -> str:
    return str(n) if rng.random() < 0.6 else in_words(rng, n)


def _decimal(rng: Random, n: int, d: int) -> str:
    if rng.random() < 0.6:
        return f"{n}.{d}"
    return f"{in_words(rng, n)} point {_ONES[d]}"


def in_words(rng: Random, n: int) -> str:
    """Return a number below 1 000 as it is said."""
    if n < 20:
        return _ONES[n]
    if n < 100:
        rest = "" if n % 10 == 0 else rng.choice(["-", " "]) + _ONES[n % 10]
        return _TENS[n // 10 - 2] + rest
    first = rng.choice(["one", "a"]) if n < 200 else _ONES[n // 100]
    rest = "" if n % 100 == 0 else rng.choice([" ", " and "]) + in_words(rng, n % 100)
    return f"{first} hundred{rest}"
