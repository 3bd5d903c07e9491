"""Words that are typed and dictated, beside those a protocol brings; a practice's too.

A word means one thing among vitals, among parts, among finds of one part, and so on:
of two meanings nobody could tell which was meant, so they are refused when the words
are read. A word may mean things of different kinds (R is the right side and breathing)
only where ``two_kinds`` lists it: what stands beside it decides, or it is asked.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields

Ways = Mapping[str, tuple[str, ...]]

# Tables whose words are the ways to say one id. Words that serve a sentence are in
# ``words``, what another word is written as in ``same``.
_BY_ID = (
    "vitals",
    "orders",
    "regions",
    "terms",
    "values",
    "details",
    "sides",
    "reasons",
    "gone",
    "states",
    "units",
    "doses",
    "routes",
    "giving",
    "lump",
    "degrees",
)
# Words of these kinds meet in one place of a sentence.
_MEET = ("vitals", "regions", "pairs", "sides", "units")
USES = (
    "normal",
    "part",
    "no",
    "joins_no",
    "link",
    "out_of",
    "fill",
    "doubt",
    "degree",
    "about",
    "under",
    "over",
    "undone",
    "plain",
)


@dataclass(frozen=True, slots=True)
class TradeWords:
    """Words by what they mean; each table maps an id to the ways to say it.

    Attributes:
        vitals, regions, sides, units, states, reasons, gone: By their ids and values.
        terms: By part and find, as ``ears.discharge``.
        values: By vital and answer, as ``mentation.0``; understood without its name.
        details: By the words of a kind or place, as ``pus-like``.
        pairs: Of a word, the part and the side it names, as OS the left eye.
        orders: Of a word, the vitals whose numbers follow it, as TPR.
        either: Of a vital, the one that shares its words; unit or scale decides.
        words: What serves a sentence, by its use; the uses are ``USES``.
        degrees: How marked a find is, by the word of the record.
        doses, routes, giving: Of what is given.
        lump: How a lump feels, by the value of the record.
        same: Of a word, others that are read as if it stood there.
        two_kinds: Words that may mean things of different kinds.
        phrases: A practice's short forms, each with what is written in its place.
    """

    vitals: Ways = field(default_factory=dict)
    regions: Ways = field(default_factory=dict)
    pairs: Ways = field(default_factory=dict)
    orders: Ways = field(default_factory=dict)
    sides: Ways = field(default_factory=dict)
    terms: Ways = field(default_factory=dict)
    values: Ways = field(default_factory=dict)
    details: Ways = field(default_factory=dict)
    words: Ways = field(default_factory=dict)
    degrees: Ways = field(default_factory=dict)
    reasons: Ways = field(default_factory=dict)
    gone: Ways = field(default_factory=dict)
    states: Ways = field(default_factory=dict)
    units: Ways = field(default_factory=dict)
    doses: Ways = field(default_factory=dict)
    routes: Ways = field(default_factory=dict)
    giving: Ways = field(default_factory=dict)
    lump: Ways = field(default_factory=dict)
    same: Ways = field(default_factory=dict)
    either: Mapping[str, str] = field(default_factory=dict)
    two_kinds: tuple[str, ...] = ()
    phrases: Mapping[str, str] = field(default_factory=dict)

    def joined(self, own: "TradeWords") -> "TradeWords":
        """Return these words and a practice's own beside them."""
        both: dict[str, object] = {}
        for one in fields(self):
            mine, theirs = getattr(self, one.name), getattr(own, one.name)
            if isinstance(mine, tuple):
                both[one.name] = (*mine, *theirs)
            elif one.name in ("either", "phrases", "pairs", "orders"):
                both[one.name] = {**mine, **theirs}
            else:
                every = dict.fromkeys((*mine, *theirs))
                both[one.name] = {
                    key: tuple(
                        dict.fromkeys((*mine.get(key, ()), *theirs.get(key, ())))
                    )
                    for key in every
                }
        return TradeWords(**both)  # type: ignore[arg-type]

    def faults(self) -> tuple[tuple[str, str], ...]:
        """Return what cannot be read one way: where it stands, and why."""
        return (*self._unknown_uses(), *self._two_meanings(), *self._two_kinds())

    def _unknown_uses(self) -> Iterator[tuple[str, str]]:
        for use in self.words:
            if use not in USES:
                yield f"words.{use}", f"no use; there are: {', '.join(USES)}"
        for word, parts in self.pairs.items():
            if len(parts) != 2 or parts[1] not in ("left", "right", "both"):
                yield f"pairs.{word}", "a part and left, right or both are needed"

    def _two_meanings(self) -> Iterator[tuple[str, str]]:
        for table in _BY_ID:
            if table == "orders":
                continue
            seen: dict[tuple[str, str], str] = {}
            for key, ways in getattr(self, table).items():
                # Finds are told apart by their part, answers by their vital.
                owner = key.partition(".")[0] if table in ("terms", "values") else ""
                for way in ways:
                    other = seen.setdefault((owner, plain(way)), key)
                    if other != key and not self._may_share(table, key, other):
                        yield f"{table}.{key}", f"“{way}” means {other} already"

    def _may_share(self, table: str, key: str, other: str) -> bool:
        if table == "vitals":
            return self.either.get(key, key) == self.either.get(other, other)
        # A part that is gone is told by the part it stands beside.
        return False

    def _two_kinds(self) -> Iterator[tuple[str, str]]:
        allowed = {plain(word) for word in self.two_kinds}
        seen: dict[str, str] = {}
        for table in _MEET:
            rows = getattr(self, table)
            ways = rows if table == "pairs" else (w for ws in rows.values() for w in ws)
            for way in ways:
                other = seen.setdefault(plain(way), table)
                if other != table and plain(way) not in allowed:
                    told = f"“{way}” is one of {other} too; name it in two_kinds"
                    yield table, told


def plain(way: str) -> str:
    """Return a way to say something as two of them are compared."""
    is_marked = way.isalpha() and way.isupper() and len(way) < 5
    return way if is_marked else " ".join(way.lower().split())
