"""Lines read for the tests, and what was read written as the expectations write it."""

import re
import tomllib
from collections import Counter
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol
from exam_app.domain.words.items import Item, ItemKind, Line
from exam_app.domain.words.line_reader import read_line
from exam_app.domain.words.protocol_words import ProtocolWords
from exam_app.domain.words.trade_words import TradeWords
from exam_app.protocols.loader import load_protocol
from exam_app.protocols.trade_words import trade_words

FOLDER = Path(__file__).parent / "domain" / "words"


def words_for(species: str, scope: str = "technician") -> ProtocolWords:
    """Return the words of one species' protocol in one scope."""
    return _words(species, scope)


def words_of_scope(
    protocol: SpeciesProtocol, scope: Scope, trade: TradeWords
) -> ProtocolWords:
    """Gather every phrase of a whole scope."""
    regions = tuple(r for r in protocol.regions if scope in r.scopes)
    return ProtocolWords(protocol, scope, regions, protocol.vitals_of[scope], trade)


@cache
def _words(species: str, scope: str) -> ProtocolWords:
    protocol = load_protocol(species).protocol
    return words_of_scope(protocol, Scope(scope), trade_words())


def read(text: str, species: str = "dog", scope: str = "technician") -> Line:
    """Read a line against a species' protocol."""
    return read_line(words_for(species, scope), text)


def shown(item: Item) -> str:
    """Write an item as the files of lines do."""
    size = ""
    if item.sizes:
        unit = item.sizes[0].partition(" ")[2]
        size = " x ".join(one.partition(" ")[0] for one in item.sizes)
        size = f"{size} {unit}".strip()
    told = (
        *item.qualities,
        *item.landmarks,
        *(w for w in (size, item.side, item.degree, item.site, item.state) if w),
    )
    details = f" [{'; '.join(sorted(told))}]" if told else ""
    unit = item.unit or ("+" if " " in item.value else "")
    by_kind = {
        ItemKind.VALUE: f"{item.key}={item.value} {unit}".strip() + details,
        ItemKind.COUNT: f"{item.key}={item.value} in {item.seconds}{details}",
        ItemKind.GRADE: f"{item.key}={item.value}{details}",
        ItemKind.CHOICE: f"{item.key}={item.value}{details}",
        ItemKind.NORMAL: f"{item.key} normal",
        ItemKind.DENIED: f"{item.key} no {item.term_id}",
        ItemKind.NOT_DONE: f"{item.key} not done: {item.value}",
        ItemKind.NOT_PRESENT: f"{item.key} gone",
        ItemKind.GIVEN: f"given {item.value} {item.dose} {item.route}".strip(),
    }
    graded = f" {item.value}" if item.value else ""
    return by_kind.get(item.kind, f"{item.key} {item.term_id}{graded}{details}")


def sorted_details(wanted: str) -> str:
    """Return an expectation with its details in order."""

    def ordered(found: re.Match[str]) -> str:
        return f"[{'; '.join(sorted(found[1].split('; ')))}]"

    return re.sub(r"\[(.*)\]", ordered, wanted)


@dataclass(frozen=True)
class Wanted:
    """One line of a file with what it must give."""

    text: str
    species: str
    scope: str
    sure: frozenset[str]
    asked: frozenset[str]


def wanted_lines(name: str) -> list[Wanted]:
    """Return the lines of a file of this folder."""
    rows = tomllib.loads((FOLDER / name).read_text("utf-8"))["phrase"]
    return [
        Wanted(
            row["t"],
            row.get("species", row.get("s", "dog")),
            row.get("scope", "technician"),
            frozenset(map(sorted_details, row.get("sure", ()))),
            frozenset(map(sorted_details, row.get("asked", ()))),
        )
        for row in rows
    ]


@dataclass
class Score:
    """What a set of lines gave.

    Attributes:
        wrong: What was taken as sure and was not wanted, with its line and kind.
        missed: What was wanted as sure and not taken, with its line.
        unasked: What had to be asked and was not among the questions.
    """

    counts: Counter[str]
    wrong: list[tuple[str, str, str]]
    missed: list[tuple[str, str]]
    unasked: list[tuple[str, str]]

    @property
    def precision(self) -> float:
        """Of what was taken as sure, the share that was right."""
        return self.counts["right"] / max(1, self.counts["taken"])

    @property
    def recall(self) -> float:
        """Of what was wanted as sure, the share that was taken."""
        return self.counts["right"] / max(1, self.counts["wanted"])

    def wrong_of(self, *kinds: str) -> list[tuple[str, str, str]]:
        """Return what was wrong of some kinds: number, side, part, other."""
        return [one for one in self.wrong if one[0] in kinds]


def score(lines: list[Wanted]) -> Score:
    """Read lines and compare."""
    found = Score(Counter(), [], [], [])
    for line in lines:
        items = read(line.text, line.species, line.scope).items
        sure = {shown(item) for item in items if item.is_sure}
        asked = {shown(item) for item in items if not item.is_sure}
        found.counts["lines"] += 1
        found.counts["wanted"] += len(line.sure)
        found.counts["taken"] += len(sure)
        found.counts["right"] += len(sure & line.sure)
        found.counts["as wanted"] += sure == line.sure and line.asked <= asked
        found.wrong += [
            (kind_of_wrong(one, line.sure), line.text, one) for one in sure - line.sure
        ]
        found.missed += [(line.text, one) for one in line.sure - sure]
        found.unasked += [(line.text, one) for one in line.asked - asked]
    return found


def kind_of_wrong(taken: str, wanted: frozenset[str]) -> str:
    """Say whether a number or unit, a side or a part is wrong, or only a detail.

    A find of the right part, on the right side and with the right grade, whose words
    beside it differ, is ``other``.
    """
    bare = re.sub(r" \[.*\]$", "", taken)
    if bare in {re.sub(r" \[.*\]$", "", one) for one in wanted}:
        return "other"
    if re.match(r"\w+=[\d.,]", taken):
        return "number"
    if re.match(r"\w+\.(left|right)", taken):
        swapped = taken.replace(".left", ".?").replace(".right", ".?")
        others = {w.replace(".left", ".?").replace(".right", ".?") for w in wanted}
        return "side" if swapped in others else "part"
    return "part" if " " in taken else "other"
