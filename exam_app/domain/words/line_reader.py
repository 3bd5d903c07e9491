"""Read one line: phrase by phrase from left to right, then the rules of doubt.

Nothing is stored and nothing guessed. Three rules carry it: a word that is not
understood makes its neighbours questions; words of time, hearsay, condition or
correction make the sentence questions; two values for one thing are both questions.
"""

import re
import unicodedata
from difflib import get_close_matches

from exam_app.domain.words.doubts import settle
from exam_app.domain.words.find_reading import (
    after_comma,
    deny,
    read_find,
    take_detail,
    take_grade,
    take_grade_in_words,
)
from exam_app.domain.words.given_reading import begins_given, read_given
from exam_app.domain.words.items import Doubt, ItemKind, Line, NotRead
from exam_app.domain.words.lump_reading import read_size, take_feel
from exam_app.domain.words.part_reading import (
    read_claim,
    read_normal,
    read_part,
    read_side,
    read_undone,
)
from exam_app.domain.words.protocol_words import ProtocolWords
from exam_app.domain.words.short_forms import write_out
from exam_app.domain.words.tokens import END, Sense, Token
from exam_app.domain.words.vital_reading import read_order, read_vital
from exam_app.domain.words.walk import Ahead, Draft, Walk

LONGEST = 2_000
_MARKS = ',;\n.!:=-\u2013/()"&+'
_GRADE = re.compile(r"grade\s*$", re.IGNORECASE)


def read_line(words: ProtocolWords, text: str) -> Line:
    """Return what a text says, at most its first 2 000 characters.

    Args:
        words: Of the exam's protocol and scope.
        text: As typed or dictated, in any form of Unicode.
    """
    plain = unicodedata.normalize("NFC", text)[:LONGEST]
    written, expanded = write_out(plain, words.trade.phrases)
    walk = Walk(words, written)
    i = 0
    while i < len(walk.tokens):
        token = walk.tokens[i]
        if token.start in walk.hard:
            walk.leave_parts()
            walk.opened = len(walk.items)
            walk.side, walk.denial, walk.vitals = "", "", ()
        if token.raw == ",":
            after_comma(walk, token)
        i = _step(walk, i, token)
    return settle(walk, expanded)


def near_words(words: ProtocolWords, not_read: NotRead) -> tuple[str, ...]:
    """Return known words like one that was not understood, at most two.

    They are offered, never applied; for a number, a unit or a side there are none.
    """
    said = not_read.words
    if len(said) < 4 or not said.isalpha() or not_read.is_known:
        return ()
    plain = words.tokens.plain(said)
    return tuple(get_close_matches(plain, words.tokens.spelled, 2, 0.8))


def _step(walk: Walk, i: int, token: Token) -> int:
    """Read from one token on; return where to go on."""
    after = walk.at(walk.skip(i + 1))
    vital_ids = tuple(dict.fromkeys(m.place for m in token.all(Sense.VITAL)))
    if begins_given(walk, i, token):
        return read_given(walk, i)
    if token.has(Sense.DOUBT) or token.raw == "?":
        walk.not_understood(token, is_flag=True)
        return i + 1
    if token.has(Sense.ORDER) and after.is_number:
        order = tuple(token.first(Sense.ORDER).text.split())
        return read_order(walk, i + 1, order)
    if vital_ids and _is_vital_here(token, after, vital_ids):
        return _vital(walk, i, token, vital_ids)
    site = _site_of(token, tuple(m.place for m in after.all(Sense.VITAL)))
    if site:
        walk.ahead.append(Ahead("site", token, text=site))
        return i + 1
    return _part_or_find(walk, i, token, after)


def _is_vital_here(token: Token, after: Token, vital_ids: tuple[str, ...]) -> bool:
    """Whether a word that can be a vital is one here, and not a part or a find."""
    if after.is_number or (after.raw in "<>~" and after is not END):
        return True
    if any(
        after.has(sense)
        for sense in (Sense.REASON, Sense.UNDONE, Sense.ABOUT, Sense.UNDER, Sense.OVER)
    ):
        return True
    if any(m.place in vital_ids for m in after.all(Sense.CHOICE)):
        return True
    return not any(
        token.has(sense)
        for sense in (
            Sense.REGION,
            Sense.SIDE,
            Sense.TERM,
            Sense.PAIR,
            Sense.QUALITY,
        )
    )


def _vital(walk: Walk, i: int, token: Token, vital_ids: tuple[str, ...]) -> int:
    # "R 5": breaths, or five on the right?
    follows = walk.at(walk.skip(i + 1) + 1)
    in_pairs = any(walk.words.is_paired(r) for p in walk.parts for r in p.region_ids)
    is_unsure = token.has(Sense.SIDE) and (
        in_pairs or follows.has(Sense.TERM) or follows.has(Sense.QUALITY)
    )
    walk.leave_parts()
    walk.denial, walk.vitals = "", vital_ids
    known = len(walk.items)
    i = read_vital(walk, i + 1, vital_ids, token)
    walk.opened = len(walk.items)
    for draft in walk.items[known:]:
        if is_unsure:
            draft.doubt(Doubt.WHICH)
        for ahead in [one for one in walk.ahead if one.what == "site"]:
            draft.site = ahead.text
            walk.ahead.remove(ahead)
    return i


def _site_of(token: Token, vital_ids: tuple[str, ...]) -> str:
    """Return where one of these vitals is measured, as the token says it."""
    sites = [m.text for m in token.all(Sense.SITE) if m.place in vital_ids]
    return sites[0] if sites else ""


def _site_behind(walk: Walk, i: int, token: Token) -> bool:
    """Take "ear" behind a temperature, where no part begins with it."""
    last, following = walk.last, walk.at(i + 1)
    if last is None or last.places[0] not in walk.vitals or last.site:
        return False
    site = _site_of(token, last.places)
    is_last_word = following is END or following.raw in ",;.\n"
    if not site or not is_last_word or walk.crossed(last.end, token.start):
        return False
    last.site, last.end = site, token.end
    return True


def _is_detail(walk: Walk, i: int, token: Token, after: Token) -> bool:
    """Whether a token was taken as saying more of what was just said."""
    return (
        _site_behind(walk, i, token)
        or take_feel(walk, token)
        or take_grade_in_words(walk, token)
        or (
            not walk.denial
            and not _begins_a_part(walk, token, after)
            and take_detail(walk, token, Sense.PLACE)
        )
    )


def _begins_a_part(walk: Walk, token: Token, after: Token) -> bool:
    """Whether a place is the part that a find behind it is of: "... neck lump"."""
    regions = {m.place for m in (*token.all(Sense.REGION), *token.all(Sense.PAIR))}
    is_of_it = any(m.place in regions for m in after.all(Sense.TERM))
    return is_of_it and not walk.crossed(token.start, after.start)


def _part_or_find(walk: Walk, i: int, token: Token, after: Token) -> int:
    if _is_detail(walk, i, token, after):
        return i + 1
    if token.has(Sense.PAIR) or token.has(Sense.REGION):
        return read_part(walk, i, token)
    if token.has(Sense.SIDE):
        return read_side(walk, i, token, after)
    if token.is_number:
        return _loose_number(walk, i, token)
    return _what_is_said(walk, i, token, after)


def _what_is_said(walk: Walk, i: int, token: Token, after: Token) -> int:
    """Read what is said of the open part, or of the animal."""
    if any(map(token.has, (Sense.UNDONE, Sense.REASON, Sense.GONE))):
        read_undone(walk, token)
    elif token.has(Sense.NORMAL) or token.has(Sense.PART):
        read_normal(walk, token, after)
    elif any(map(token.has, (Sense.TERM, Sense.QUALITY, Sense.PLACE))):
        return read_find(walk, i, token, after)
    elif token.has(Sense.CLAIM) and not walk.denial:
        return read_claim(walk, i, token)
    elif token.has(Sense.ALONE):
        _answer_alone(walk, token)
    else:
        _small_word(walk, token, after)
    return i + 1


def _answer_alone(walk: Walk, token: Token) -> None:
    """Take an answer that is understood without its vital's name, as BAR."""
    meaning = token.first(Sense.ALONE)
    draft = walk.add(ItemKind.CHOICE, (meaning.place,), token)
    draft.value = meaning.item
    if walk.denial:
        draft.doubt(Doubt.NEGATED)


def _small_word(walk: Walk, token: Token, after: Token) -> None:
    last = walk.last
    is_of_last = (
        last is not None
        and last.places[0] in walk.vitals
        and not walk.crossed(last.end, token.start)
    )
    if token.has(Sense.NO):
        deny(walk, token)
    elif token.has(Sense.DEGREE) and (
        after.has(Sense.TERM) or after.has(Sense.QUALITY)
    ):
        walk.ahead.append(Ahead("degree", token, text=token.raw.lower()))
    elif last and is_of_last and token.has(Sense.STATE):
        last.state, last.end = token.first(Sense.STATE).place, token.end
    elif last and is_of_last and token.has(Sense.SITE):
        last.site, last.end = token.first(Sense.SITE).text, token.end
    elif token.has(Sense.LINK) and _leads_to_a_place(token, last, after):
        pass
    elif token.has(Sense.JOINS_NO) and walk.denial:
        # "no crackles or wheezes"; elsewhere it leaves open which it is.
        pass
    elif token.has(Sense.FILL) or token.raw in _MARKS:
        pass
    else:
        walk.not_understood(token)


def _leads_to_a_place(token: Token, last: Draft | None, after: Token) -> bool:
    """Whether it is the "in" of "lice in the mane"."""
    if token.raw.lower() != "in" or last is None or last.kind is not ItemKind.FINDING:
        return False
    return after.has(Sense.PLACE) or after.has(Sense.REGION)


def _loose_number(walk: Walk, i: int, token: Token) -> int:
    """Read a number without a name: a size, a grade, a unit that fits one vital."""
    after_size = read_size(walk, i)
    if after_size:
        return after_size
    slash = walk.at(i + 1)
    top = walk.at(i + 2) if slash.raw == "/" or slash.has(Sense.OUT_OF) else END
    if top.is_number or _GRADE.search(walk.text[: token.start]):
        said = top.digits if top.is_number else ""
        doubtful = token.is_doubtful or (top.is_number and top.is_doubtful)
        grade = Ahead("grade", token, text=token.digits, top=said, is_doubtful=doubtful)
        if walk.last is None or not take_grade(walk, walk.last, grade):
            walk.ahead.append(grade)
        return i + (3 if top.is_number else 1)
    said_units = {m.place for m in walk.at(i + 1).all(Sense.UNIT)}
    fits = tuple(v for v in walk.words.vitals if said_units & {*walk.words.units(v)})
    if fits:
        known = len(walk.items)
        end = read_vital(walk, i, fits, token)
        for draft in walk.items[known:]:
            draft.doubt(Doubt.WHICH)
        return end
    walk.not_understood(token, is_flag=True)
    return i + 1
