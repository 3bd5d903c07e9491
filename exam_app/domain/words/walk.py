"""One walk over the tokens of a line: what was said so far, and what is still open."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace

from exam_app.domain.protocol.protocol import Term, split_key
from exam_app.domain.words.items import Doubt, Item, ItemKind
from exam_app.domain.words.protocol_words import ProtocolWords
from exam_app.domain.words.tokens import END, Meaning, Sense, Token

LEFT_RIGHT = ("left", "right")
BOTH = "both"
UNKNOWN_SIDE = "?"
# How a denial reaches on: over an "or", and past a comma only as a question.
NOT = "not"
MAYBE_NOT = "maybe not"


@dataclass(eq=False, slots=True)
class Draft:
    """An item while it is put together; ``Item`` tells what its fields are."""

    kind: ItemKind
    places: tuple[str, ...]
    start: int
    end: int
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
    doubts: set[Doubt] = field(default_factory=set)

    @property
    def region_id(self) -> str:
        """The part it is about, or the first of those it may be about."""
        return split_key(self.places[0])[0]

    def doubt(self, *doubts: Doubt) -> None:
        """Ask about it."""
        self.doubts.update(doubts)

    def copy_for(self, key: str) -> "Draft":
        """Return the same said of another part."""
        return replace(self, places=(key,), doubts=set(self.doubts))

    def item(self) -> Item:
        """Return it as it is handed out."""
        said = {f.name: getattr(self, f.name) for f in fields(self)}
        return Item(**{**said, "doubts": frozenset(self.doubts)})


@dataclass(slots=True)
class OpenPart:
    """A part of which something is about to be said.

    Attributes:
        region_ids: One, or several that share the word.
        side: ``left``, ``right``, ``both``, ``?`` or empty.
    """

    region_ids: tuple[str, ...]
    side: str
    token: Token


@dataclass(slots=True)
class Ahead:
    """Something said before the find it is about.

    Attributes:
        what: ``normal``, ``grade``, ``quality``, ``degree``, ``size`` or ``site``.
        text: The degree, size or site as said.
        meanings: What a quality can mean.
        grade: Value and top of the scale, as digits; ``is_doubtful`` of either.
    """

    what: str
    token: Token
    text: str = ""
    meanings: tuple[Meaning, ...] = ()
    top: str = ""
    is_doubtful: bool = False


class Walk:
    """The state of one walk from left to right.

    Attributes:
        items: What was said, in the order it was understood.
        unread: Tokens that were not understood.
        flags: Those of them that make the whole sentence a question.
        parts: The parts that are open, the last one spoken of at the end.
        opened: How many items there were when the last part was opened.
        denial: Empty, ``NOT`` or ``MAYBE_NOT``.
        denied_from: Where the word stands that denies.
        vitals: The vitals last spoken of.
    """

    def __init__(self, words: ProtocolWords, text: str) -> None:
        """Begin at the start of a text."""
        self.words = words
        self.text = text
        self.tokens = words.tokens.cut(text)
        self.items: list[Draft] = []
        self.unread: list[Token] = []
        self.flags: list[Token] = []
        self.parts: list[OpenPart] = []
        self.side = ""
        self.opened = 0
        self.ahead: list[Ahead] = []
        self.denial = ""
        self.denied_from = 0
        self.vitals: tuple[str, ...] = ()
        self.hard = frozenset(
            token.start for i, token in enumerate(self.tokens) if self._ends(i, token)
        )
        self.soft = frozenset(t.start for t in self.tokens if t.raw == ",")

    def _ends(self, i: int, token: Token) -> bool:
        """Whether a sentence ends here; the point of ``temp.`` ends none."""
        if token.raw == ".":
            return not self.at(i - 1).has(Sense.VITAL)
        return token.raw in ";\n!"

    def at(self, i: int) -> Token:
        """Return a token; an end mark outside the line."""
        return self.tokens[i] if 0 <= i < len(self.tokens) else END

    def index(self, token: Token) -> int:
        """Return where a token stands."""
        return next(i for i, one in enumerate(self.tokens) if one is token)

    def skip(self, i: int) -> int:
        """Return the next place that holds more than a word that fills."""
        while i < len(self.tokens) and self._is_filling(self.tokens[i]):
            i += 1
        return i

    def _is_filling(self, token: Token) -> bool:
        return token.has(Sense.FILL) or token.raw in (":", "=")

    def crossed(self, start: int, end: int, *, hard_only: bool = False) -> bool:
        """Whether a sentence, or a part of one, ends between two places."""
        marks: Sequence[frozenset[int]] = (self.hard,)
        if not hard_only:
            marks = (self.hard, self.soft)
        return any(start <= mark < end for ends in marks for mark in ends)

    def between(self, a: Token, b: Token) -> str:
        """Return the text between two tokens."""
        return self.text[a.end : b.start]

    def add(
        self, kind: ItemKind, places: tuple[str, ...], token: Token, end: int = 0
    ) -> Draft:
        """Note one thing said, from a token on."""
        draft = Draft(kind, places, token.start, end or token.end)
        self.items.append(draft)
        return draft

    @property
    def last(self) -> Draft | None:
        """The thing said last."""
        return self.items[-1] if self.items else None

    def leave_parts(self) -> None:
        """Leave the open parts; one of which nothing was said counts as not read."""
        if len(self.items) == self.opened:
            self.unread += [part.token for part in self.parts]
        self.parts = []

    def not_understood(self, token: Token, *, is_flag: bool = False) -> None:
        """Keep a token that was not understood."""
        self.unread.append(token)
        if is_flag:
            self.flags.append(token)

    def term_of(self, draft: Draft) -> Term | None:
        """Return the find that a draft is of."""
        return self.words.term(draft.region_id, draft.term_id)

    def give_side(self, draft: Draft, side: str, end: int) -> None:
        """Put a find on a side, or on both."""
        draft.end = max(draft.end, end)
        draft.doubts.discard(Doubt.SIDE)
        region_id = draft.region_id
        first, *more = LEFT_RIGHT if side == BOTH else (side,)
        draft.places = (f"{region_id}.{first}",)
        self.items += [draft.copy_for(f"{region_id}.{other}") for other in more]


def is_many(raw: str) -> bool:
    """Whether a word names several, as ``eyes``."""
    first = raw.partition(" and ")[0]
    return bool(re.search(r"[^s]s$", first)) or first.endswith("feet")
