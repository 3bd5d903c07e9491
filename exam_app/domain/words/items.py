"""What a line says: items, each with what has to be asked before it may stand.

An item without a doubt may be confirmed by one tap. Any other is a question: it cannot
be confirmed before it was answered, and no doubt is ever answered by a guess.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class ItemKind(StrEnum):
    """What an item would record."""

    VALUE = "value"
    COUNT = "count"
    GRADE = "grade"
    CHOICE = "choice"
    NORMAL = "normal"
    FINDING = "finding"
    DENIED = "denied"
    NOT_DONE = "not_done"
    NOT_PRESENT = "not_present"
    GIVEN = "given"


# Two of these for one vital say two things.
OF_A_VITAL = frozenset(
    {
        ItemKind.VALUE,
        ItemKind.COUNT,
        ItemKind.GRADE,
        ItemKind.CHOICE,
        ItemKind.NOT_DONE,
    }
)


class Doubt(StrEnum):
    """Why an item is a question."""

    NUMBER = "number"
    UNIT = "unit"
    WINDOW = "window"
    SCALE = "scale"
    LIMIT = "limit"
    ESTIMATE = "estimate"
    WHICH = "which"
    SIDE = "side"
    REGION = "region"
    TERM = "term"
    REASON = "reason"
    SENTENCE = "sentence"
    NEGATED = "negated"
    TWICE = "twice"
    PLAUSIBLE = "plausible"
    WORDS = "words"
    DOSE = "dose"


@dataclass(frozen=True, slots=True)
class Item:
    """One thing a line says.

    Attributes:
        places: The vitals or region keys it may be about, one where that is settled.
            A part in two sides whose side was not said stands without a side.
        value: A number as typed or written out in digits, a grade, a choice, a reason,
            or of something given the product.
        unit: The unit said, by its id; empty where none was.
        seconds: The length of a count; 0 where it was not said.
        term_id: Of a find, or of what was looked for and not found.
        claims: Ids of the claims of the part's sentence that were said.
        qualities, landmarks: As the term offers them.
        degree: How marked, as said; empty where it was not.
        side: Of a lump in a part without sides.
        sizes: Lengths of a find, as typed.
        site, state: Where a value was measured, and what the animal was doing.
        route, dose: Of something given, as said.
        doubts: What has to be asked; empty: it may be confirmed at once.
        start, end: The part of the text it was read from.
    """

    kind: ItemKind
    places: tuple[str, ...]
    value: str = ""
    unit: str = ""
    seconds: int = 0
    term_id: str = ""
    claims: tuple[str, ...] = ()
    qualities: tuple[str, ...] = ()
    landmarks: tuple[str, ...] = ()
    degree: str = ""
    side: str = ""
    sizes: tuple[str, ...] = ()
    site: str = ""
    state: str = ""
    route: str = ""
    dose: str = ""
    doubts: frozenset[Doubt] = frozenset()
    start: int = 0
    end: int = 0

    @property
    def is_sure(self) -> bool:
        """Whether one tap may confirm it."""
        return not self.doubts

    @property
    def key(self) -> str:
        """The vital or region key it is about; several are joined by a bar."""
        return "|".join(self.places)


@dataclass(frozen=True, slots=True)
class NotRead:
    """Words of the line that were not understood.

    Attributes:
        words: Exactly as they stand in the text.
        is_known: Whether the words mean something, but not where they stand.
    """

    words: str
    start: int
    end: int
    is_known: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """A text as it was read.

    Attributes:
        text: The text, in Unicode's composed form, short forms written out.
        items: In the order of the text.
        expanded: Short forms of the practice that were written out, by their words.
    """

    text: str
    items: tuple[Item, ...]
    not_read: tuple[NotRead, ...]
    expanded: Mapping[str, str]
