"""What is said of a vital: after its name, a pattern over the kinds of the next words.

Numbers and units are read by the code that reads typed fields. A unit is taken where it
was said, or where the vital has only one; the length of a count only where it was said
with its own unit; a grade only with the top of its scale.
"""

import re
from decimal import Decimal

from exam_app.domain.errors import ExamError
from exam_app.domain.measure.counting import WINDOWS
from exam_app.domain.measure.units import Measure, is_plausible, parse_reading
from exam_app.domain.protocol.protocol import Vital, VitalKind
from exam_app.domain.words.items import Doubt, ItemKind
from exam_app.domain.words.tokens import END, Sense, Token
from exam_app.domain.words.walk import Draft, Walk

_AHEAD = 14
_CHOSEN = re.compile(r"f*c")
_NOT_DONE = re.compile(r"f*(?:d?[f,]*(?P<reason>r)|d)")
_LEAD = r"[tf]*\?{0,2}[tf]*(?P<limit>[~<]?)f*(?P<number>N)"
_SHAPES = {
    VitalKind.GRADE: re.compile(_LEAD + r"(?:/(?P<top>N))?"),
    VitalKind.CHOICE: re.compile(r"[f?]{0,3}(?P<limit>[~<]?)(?P<number>N)"),
    VitalKind.RATE: re.compile(
        _LEAD + r"(?P<unit>U?)(?:(?P<by>[/i])(?P<length>N)(?P<span>[SM]?))?U?"
    ),
    VitalKind.MEASURE: re.compile(
        _LEAD + r"f*(?P<unit>[UuSM]?)(?:(?P<rest>N)(?P<smaller>[Uu]))?"
    ),
}
_TIMES = ("x", "X", "\u00d7")
_PLAIN_NUMBER = re.compile(r"\d*\.?\d+")
RATE_UNIT = "rate"


def read_vital(walk: Walk, i: int, vital_ids: tuple[str, ...], name: Token) -> int:
    """Read what follows the name of a vital; return where to go on.

    Args:
        walk: The walk; what was understood is added to it.
        i: The place after the name.
        vital_ids: The vitals that share the name; at least one.
        name: The name, where the item begins.
    """
    near = walk.tokens[i : i + _AHEAD]
    kinds = "".join(_kind_of(walk, token, vital_ids) for token in near)
    found = _CHOSEN.match(kinds)
    if found:
        return _chosen(walk, i + found.end(), vital_ids, name)
    found = _NOT_DONE.match(kinds)
    if found:
        return _not_done(walk, i + found.end(), vital_ids, name)
    first = walk.words.vitals[vital_ids[0]]
    found = _SHAPES[first.kind].match(kinds)
    if not found:
        walk.not_understood(name)
        return i
    return _number(walk, i, found, vital_ids, name)


def read_order(walk: Walk, i: int, order: tuple[str, ...]) -> int:
    """Read numbers that belong to several vitals in turn, as those after TPR."""
    for vital_id in order:
        while walk.at(i).raw in ",/:-" or walk.at(i).has(Sense.FILL):
            i += 1
        token = walk.at(i)
        if not token.is_number or token.start in walk.hard:
            break
        if walk.at(i + 1).raw == "/":
            # Between two vitals it ends the first; within one it would be a count.
            walk.tokens[i + 1] = Token(",", token.end, token.end)
        i = read_vital(walk, i, (vital_id,), token)
    return i


def _kind_of(walk: Walk, token: Token, vital_ids: tuple[str, ...]) -> str:
    if token.is_number:
        return "N"
    if token.has(Sense.UNIT) and not token.has(Sense.LINK):
        return _kind_of_unit(walk, token, vital_ids)
    if any(m.place in vital_ids for m in token.all(Sense.CHOICE)):
        return "c"
    is_own_site = any(m.place in vital_ids for m in token.all(Sense.SITE))
    if is_own_site or token.has(Sense.STATE):
        return "t"
    for sense, kind in (
        (Sense.REASON, "r"),
        (Sense.UNDONE, "d"),
        (Sense.ABOUT, "~"),
        (Sense.UNDER, "<"),
        (Sense.OVER, "<"),
        (Sense.LINK, "i"),
        (Sense.OUT_OF, "/"),
        (Sense.FILL, "f"),
    ):
        if token.has(sense):
            return kind
    marks = {"<": "<", ">": "<", "~": "~", "/": "/", ":": "f", "=": "f", ",": ","}
    return marks.get(token.raw, "?")


def _kind_of_unit(walk: Walk, token: Token, vital_ids: tuple[str, ...]) -> str:
    said = {m.place for m in token.all(Sense.UNIT)}
    if any(_unit_of(walk, said, vital_id) for vital_id in vital_ids):
        return "U"
    return "S" if "s" in said else "M" if "min" in said else "u"


def _unit_of(walk: Walk, said: set[str], vital_id: str) -> str:
    """Return the unit of a vital among those a word can mean, or empty."""
    offered = walk.words.units(vital_id)
    if RATE_UNIT in said and walk.words.vitals[vital_id].kind is VitalKind.RATE:
        return offered[0]
    return next((unit for unit in offered if unit in said), "")


def _chosen(walk: Walk, end: int, vital_ids: tuple[str, ...], name: Token) -> int:
    token = walk.at(end - 1)
    own = [m for m in token.all(Sense.CHOICE) if m.place in vital_ids]
    values = {(m.place, m.item) for m in own}
    vital_id, value = min(values)
    draft = walk.add(ItemKind.CHOICE, (vital_id,), name, token.end)
    draft.value = value
    if len(values) > 1 or all(m.is_doubtful for m in own):
        draft.doubt(Doubt.WHICH)
    return end


def _not_done(walk: Walk, end: int, vital_ids: tuple[str, ...], name: Token) -> int:
    token = walk.at(end - 1)
    said = {m.place for m in token.all(Sense.REASON)}
    known = sorted(said & set(walk.words.vitals[vital_ids[0]].not_done_reasons))
    draft = walk.add(ItemKind.NOT_DONE, vital_ids, name, token.end)
    draft.value = (known or sorted(said) or [""])[0]
    if not known:
        draft.doubt(Doubt.REASON)
    if len(vital_ids) > 1:
        draft.doubt(Doubt.WHICH)
    return end


def _number(
    walk: Walk, i: int, found: re.Match[str], vital_ids: tuple[str, ...], name: Token
) -> int:
    """Read a number in the shape of its vital."""
    near, end = walk.tokens[i : i + _AHEAD], i + found.end()
    number = near[found.start("number")]
    draft = walk.add(ItemKind.VALUE, vital_ids, name, walk.at(end - 1).end)
    draft.value = number.digits
    _doubt_before(walk, near, found, draft)
    if number.is_doubtful:
        draft.doubt(Doubt.NUMBER)
    if found["limit"]:
        draft.doubt(Doubt.ESTIMATE if found["limit"] == "~" else Doubt.LIMIT)
    for token in near[: found.end()]:
        _place_of(token, vital_ids, draft)
    vital = walk.words.vitals[vital_ids[0]]
    if vital.kind is VitalKind.GRADE:
        top = near[found.start("top")] if found["top"] else END
        _grade(walk, draft, vital_ids, top)
        return end
    if vital.kind is VitalKind.CHOICE:
        draft.kind = ItemKind.CHOICE
        draft.doubt(Doubt.NUMBER)
        return end
    unit = near[found.start("unit")] if found["unit"] else END
    follows = walk.at(walk.skip(i + found.end("unit")))
    end -= _settle_unit(walk, draft, vital_ids, unit, follows)
    vital = walk.words.vitals[draft.places[0]]
    if vital.kind is VitalKind.MEASURE:
        _smaller_part(near, found, draft)
    elif found["by"]:
        _count(near, found, draft)
    else:
        end = _count_of_a_minute(walk, end, draft)
    _hold_to_expected(draft, vital)
    return end


def _doubt_before(
    walk: Walk, near: list[Token], found: re.Match[str], draft: Draft
) -> None:
    """Keep words between name and number that were not understood."""
    kinds = found.string
    for token, kind in zip(near, kinds[: found.start("number")], strict=False):
        if kind == "?":
            walk.not_understood(token, is_flag=token.has(Sense.DOUBT))
            draft.doubt(Doubt.WORDS)


def _place_of(token: Token, vital_ids: tuple[str, ...], draft: Draft) -> None:
    """Note where it was measured, or what the animal was doing."""
    sites = [m for m in token.all(Sense.SITE) if m.place in vital_ids]
    if sites:
        draft.site = sites[0].text
    elif token.has(Sense.STATE):
        draft.state = token.first(Sense.STATE).place


def _grade(walk: Walk, draft: Draft, vital_ids: tuple[str, ...], top: Token) -> None:
    """Take a grade with the top of its scale; without it, it is asked."""
    draft.kind = ItemKind.GRADE
    said = top.digits if top.number is not None and not top.is_doubtful else ""
    scales = {
        vital_id: [
            g.value for g in walk.words.grades(walk.words.vitals[vital_id].scale_id)
        ]
        for vital_id in vital_ids
    }
    fits = [v for v, grades in scales.items() if said and said == top_of(grades)]
    draft.places = tuple(fits) or vital_ids
    if not fits:
        draft.doubt(Doubt.SCALE)
    if len(draft.places) > 1:
        draft.doubt(Doubt.WHICH)
    if draft.value not in scales[draft.places[0]]:
        draft.doubt(Doubt.NUMBER)


def top_of(grades: list[str]) -> str:
    """Return the highest number of a scale; a scale can end in a word."""
    numbers = [value for value in grades if _PLAIN_NUMBER.fullmatch(value)]
    return max(numbers, key=Decimal, default="")


def _settle_unit(
    walk: Walk,
    draft: Draft,
    vital_ids: tuple[str, ...],
    unit: Token,
    follows: Token,
) -> int:
    """Take the unit said, or the only one; return how many tokens are given back.

    A unit can be the next word too: in "38.5 mm pink" the gums begin there.
    """
    given_back = 0
    said = {m.place for m in unit.all(Sense.UNIT)}
    units = {v: _unit_of(walk, said, v) for v in vital_ids}
    fits = tuple(v for v in vital_ids if units[v]) if said else ()
    begins = {m.place for m in unit.all(Sense.VITAL)}
    is_next = any(m.place in begins for m in follows.all(Sense.CHOICE))
    if said and (not fits or is_next or unit.has(Sense.SIDE)):
        draft.doubt(Doubt.UNIT)
        given_back = 1 if begins else 0
    if len(vital_ids) > 1:
        draft.places = fits or vital_ids
        if len(fits) != 1:
            draft.doubt(Doubt.WHICH)
    draft.unit = units[fits[0]] if fits else ""
    offered = {u for v in draft.places for u in walk.words.units(v)}
    if not draft.unit and len(offered) > 1:
        draft.doubt(Doubt.UNIT)
    elif not draft.unit and offered:
        draft.unit = min(offered)
    return given_back


def _smaller_part(near: list[Token], found: re.Match[str], draft: Draft) -> None:
    """Read the second number of ``22 lb 9 oz``."""
    if not found["rest"]:
        return
    rest, smaller = near[found.start("rest")], near[found.start("smaller")]
    second = smaller.first(Sense.UNIT).place
    if (draft.unit, second) not in (("lb", "oz"), ("kg", "g")) or rest.is_doubtful:
        draft.doubt(Doubt.NUMBER)
    draft.value = f"{draft.value} {draft.unit} {rest.digits} {second}"
    draft.unit = ""


def _count(near: list[Token], found: re.Match[str], draft: Draft) -> None:
    """Take a count with the length of its window, where its unit was said."""
    length, by = near[found.start("length")], near[found.start("by")]
    seconds = (length.number or Decimal(0)) * (60 if found["span"] == "M" else 1)
    is_said = bool(found["span"]) and not length.is_doubtful and by.raw not in _TIMES
    draft.kind = ItemKind.COUNT
    if is_said and seconds in WINDOWS:
        draft.seconds = int(seconds)
    else:
        draft.doubt(Doubt.WINDOW)


def _count_of_a_minute(walk: Walk, end: int, draft: Draft) -> int:
    """Read "in a minute"; any other length without a number is asked."""
    link, span = walk.at(end), walk.at(end + 1)
    said = {m.place for m in span.all(Sense.UNIT)}
    if not link.has(Sense.LINK) or span.is_number or not said & {"s", "min"}:
        return end
    draft.kind, draft.end = ItemKind.COUNT, span.end
    if "min" in said and link.raw.lower() in ("in a", "in one"):
        draft.seconds = 60
    else:
        draft.doubt(Doubt.WINDOW)
    return end + 2


def _hold_to_expected(draft: Draft, vital: Vital) -> None:
    """Ask about a value that a typed field would refuse or ask about."""
    measure = vital.measure
    if measure is None or Doubt.NUMBER in draft.doubts:
        return
    if vital.kind is VitalKind.RATE and not draft.value.isdigit():
        draft.doubt(Doubt.NUMBER)
    if not draft.unit and not draft.value[-1:].isalpha():
        return
    if draft.kind is ItemKind.COUNT and not draft.seconds:
        return
    if not is_expected(draft, measure):
        draft.doubt(Doubt.PLAUSIBLE)


def is_expected(draft: Draft, measure: Measure) -> bool:
    """Whether a number lies where one is expected; one that is refused is asked."""
    try:
        reading = parse_reading(f"{draft.value} {draft.unit}", "", measure)
    except ExamError:
        draft.doubt(Doubt.NUMBER)
        return True
    if draft.seconds:
        low, high = measure.expected_at("")
        per_minute = reading.value * 60 / draft.seconds
        is_high = high is not None and per_minute > high
        return not is_high and (low is None or per_minute >= low)
    return is_plausible(reading, measure)
