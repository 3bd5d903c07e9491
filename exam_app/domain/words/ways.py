"""The ways to say a label of a protocol: without brackets, halved, in seconds."""

import re
from collections.abc import Iterator

from exam_app.domain.protocol.protocol import Clause

_IN_BRACKETS = re.compile(r"\(([^)]*)\)")
_HOW_KNOWN = re.compile(
    r"\s+(?:seen|felt|heard|shown|found|on touch|when touched|to the hand)$"
)
_DENIES = re.compile(r"\b(?:no|not|none|without|never|nothing)\b")


def variants(label: str) -> frozenset[str]:
    """Return the ways to say a label: without brackets, each half of an "or"."""
    if not label:
        return frozenset()
    ways = whole_ways(label)
    # "left (aortic)" is said as "left aortic" too.
    ways |= {label.replace(" (", mark).replace(")", "") for mark in (" ", ", ")}
    in_brackets = (w for found in _IN_BRACKETS.findall(label) for w in found.split(","))
    ways |= {word.strip() for word in in_brackets if len(word.strip()) > 3}
    listed = [word for part in label.split(" or ") for word in part.split(", ")]
    if " or " in label and all(word.isalpha() for word in listed):
        ways.update(listed)
    for way in list(ways):
        left, found, right = way.partition(" or ")
        a, b = left.split(), right.split()
        if found and (len(a) == len(b) == 1 or min(len(a), len(b)) > 1):
            ways |= {left, right}
        elif found and len(b) == 1:
            ways |= {left, " ".join([*a[:-1], right])}
        elif found:
            ways |= {right, " ".join([left, *b[1:]])}
    return frozenset(way for way in ways if re.search(r"\w", way))


def whole_ways(label: str) -> set[str]:
    """Return the ways to say all of a label."""
    ways = {label, re.sub(r"\s*\([^)]*\)", "", label)}
    return ways | {_HOW_KNOWN.sub("", way) for way in ways}


def halves_of(label: str) -> frozenset[str]:
    """Return what stands before and behind the comma of a label of two."""
    halves = [half.strip() for half in label.split(",")]
    is_two = len(halves) == 2 and "(" not in label
    first, _, rest = label.partition(" or ")
    if len(first.split()) == 1 and len(rest.split()) > 1:
        # "Rings or dished wall": whether it is rings alone, the label leaves open.
        return frozenset({first})
    return frozenset(half for half in halves if is_two and len(half) > 3)


def in_seconds(way: str) -> Iterator[str]:
    """Yield the other ways to say an answer such as ``> 2 s``."""
    if way.endswith(" s"):
        for unit in ("s", "sec", "secs", "second", "seconds"):
            said = f"{way[:-1]}{unit}"
            yield said
            yield said.replace("\u2013", " to ")
            for mark, words in (
                ("<", ("under", "less than")),
                (">", ("over", "more than")),
            ):
                yield from (said.replace(mark, word) for word in words)


def parts_of_claim(clause: Clause) -> Iterator[str]:
    """Yield what of a claim is said by itself: each part of it before a denial.

    What is denied is read as the find that was looked for.
    """
    for text in (clause.text, clause.plain, *clause.said):
        told = _DENIES.split(text.rpartition(":")[2])[0]
        for part in (*re.split(r",| and ", told), *clause.said):
            way = part.strip(" ,")
            if len(way.split()) > 1:
                yield way
