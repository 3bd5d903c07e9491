"""How large a find is, and how a lump feels: lengths with their unit, words of feel."""

from exam_app.domain.words.items import Doubt, ItemKind
from exam_app.domain.words.tokens import Sense, Token
from exam_app.domain.words.walk import Ahead, Draft, Walk

LENGTHS = frozenset({"mm", "cm", "inch"})
_BY = ("x", "X", "\u00d7", "by")
_MOST = 3


def read_size(walk: Walk, i: int) -> int:
    """Read the size of a lump; return where to go on, 0 where it is none."""
    numbers, end = [walk.at(i)], i + 1
    while (
        len(numbers) < _MOST and walk.at(end).raw in _BY and walk.at(end + 1).is_number
    ):
        numbers.append(walk.at(end + 1))
        end += 2
    units = {m.place for m in walk.at(end).all(Sense.UNIT)} & LENGTHS
    if (not units and len(numbers) == 1) or any(n.is_doubtful for n in numbers):
        return 0
    unit = next(iter(units), "")
    sizes = tuple(f"{n.digits} {unit}".strip() for n in numbers)
    stop = walk.at(end if unit else end - 1)
    found = _finds_before(walk, numbers[0], is_said=bool(units))
    for draft in found:
        draft.sizes, draft.end = sizes, stop.end
        if not unit:
            draft.doubt(Doubt.UNIT)
    after = end + 1 if unit else end
    if found:
        return after
    follows = walk.at(walk.skip(after))
    if any(_is_lump(walk, m.place, m.item) for m in follows.all(Sense.TERM)):
        walk.ahead.append(Ahead("size", numbers[0], text=", ".join(sizes)))
        return after
    return 0


def _is_lump(walk: Walk, region_id: str, term_id: str) -> bool:
    term = walk.words.term(region_id, term_id)
    return bool(term and term.is_lump)


def _finds_before(walk: Walk, token: Token, *, is_said: bool) -> list[Draft]:
    """Return the find just named, on both sides where both were.

    A length without a unit is one of a lump only, and of that just before.
    """
    last = walk.last
    if last is None or last.kind is not ItemKind.FINDING or last.sizes:
        return []
    is_lump = _is_lump(walk, last.region_id, last.term_id)
    if not is_lump and not is_said:
        return []
    if walk.crossed(last.end, token.start, hard_only=is_said):
        return []
    return [
        d for d in walk.items if d.start == last.start and d.term_id == last.term_id
    ]


def take_feel(walk: Walk, token: Token) -> bool:
    """Take how a lump feels, where one was just named and no word of its own says."""
    last = walk.last
    if not token.has(Sense.LUMP) or last is None or last.kind is not ItemKind.FINDING:
        return False
    term = walk.term_of(last)
    if not term or not term.is_lump or walk.denial:
        return False
    if walk.crossed(last.end, token.start, hard_only=True):
        return False
    if any(m.item == last.term_id for m in token.all(Sense.QUALITY)):
        return False
    last.qualities = (*last.qualities, token.first(Sense.LUMP).place)
    last.end = token.end
    return True
