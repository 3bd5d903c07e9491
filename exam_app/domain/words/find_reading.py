"""What is found in a part, or was looked for and not found, with its details.

A word that could be of two parts, or two finds of one, is asked about, and so is one
that says less than the find it names. A denial reaches on over an "or"; past a comma it
is a question.
"""

from collections.abc import Iterable

from exam_app.domain.words.items import Doubt, ItemKind
from exam_app.domain.words.part_reading import read_part
from exam_app.domain.words.tokens import Sense, Token
from exam_app.domain.words.vital_reading import top_of
from exam_app.domain.words.walk import (
    MAYBE_NOT,
    NOT,
    UNKNOWN_SIDE,
    Ahead,
    Draft,
    OpenPart,
    Walk,
)


def take_detail(walk: Walk, token: Token, sense: Sense) -> bool:
    """Take a word that says more of the find just named."""
    last = walk.last
    if last is None or last.kind is not ItemKind.FINDING or len(last.places) > 1:
        return False
    if walk.crossed(last.end, token.start, hard_only=not token.has(Sense.SIDE)):
        return False
    region_id = last.region_id
    finds = [m for m in token.all(Sense.TERM) if m.place == region_id]
    if any(not m.is_doubtful for m in finds):
        return False
    own = [
        m for m in token.all(sense) if (m.place, m.item) == (region_id, last.term_id)
    ]
    if not own:
        return False
    name = "qualities" if sense is Sense.QUALITY else "landmarks"
    for draft in _told_together(walk, last):
        setattr(draft, name, (*getattr(draft, name), own[0].text))
        draft.end = token.end
    return True


def _told_together(walk: Walk, last: Draft) -> Iterable[Draft]:
    """Return a find and its other side, where one word said both."""
    return [
        draft
        for draft in walk.items
        if draft is last
        or (
            draft.kind is last.kind
            and draft.term_id == last.term_id
            and draft.region_id == last.region_id
            and draft.start == last.start
        )
    ]


def read_find(walk: Walk, i: int, token: Token, after: Token) -> int:
    """Read a find, or what was looked for and not found."""
    here = walk.parts[-1].region_ids if walk.parts else ()
    if not walk.denial and (
        take_detail(walk, token, Sense.QUALITY) or take_detail(walk, token, Sense.PLACE)
    ):
        return i + 1
    hits = [(m.place, m.item) for m in token.all(Sense.TERM)]
    is_find = any(m.place in here or not m.is_doubtful for m in token.all(Sense.TERM))
    if not is_find and not walk.denial and _is_ahead(walk, token, after):
        return i + 1
    if not any(place in here for place, _ in hits):
        hits = _told_by_kind(walk, token, here) or hits
    if not hits:
        walk.not_understood(token)
        return i + 1
    if not here:
        i, hits, region_id = _part_behind(walk, i, token, hits)
        if region_id and not walk.parts:
            walk.parts = [OpenPart((region_id,), "", token)]
            walk.side, walk.opened = "", len(walk.items)
        here = walk.parts[-1].region_ids if walk.parts else ()
    return _note_find(walk, i, token, hits, here)


def _is_ahead(walk: Walk, token: Token, after: Token) -> bool:
    """Keep a kind or place that stands before its find, as "watery discharge"."""
    finds = {(a.place, a.item) for a in after.all(Sense.TERM)}
    ahead = tuple(
        m
        for m in token.meanings
        if m.sense in (Sense.QUALITY, Sense.PLACE) and (m.place, m.item) in finds
    )
    if ahead:
        walk.ahead.append(Ahead("detail", token, meanings=ahead))
    return bool(ahead)


def _told_by_kind(
    walk: Walk, token: Token, here: tuple[str, ...]
) -> list[tuple[str, str]]:
    """Return the find of the open part that a kind tells: brown wax of the ear."""
    alone = {m for m in token.all(Sense.QUALITY) if m.place in here}
    if len(alone) != 1:
        return []
    (one,) = alone
    walk.ahead.append(Ahead("detail", token, meanings=(one,)))
    # "Bite marks" of a wound are near to a bite, which is another find.
    words = (walk.words.tokens.plain(word) for word in token.raw.split())
    meanings = (m for word in words for m in walk.words.tokens.phrases.get((word,), ()))
    near = {
        (m.place, m.item)
        for m in meanings
        if m.sense is Sense.TERM and m.place == one.place
    }
    return [(one.place, one.item), *sorted(near - {(one.place, one.item)})]


def _part_behind(
    walk: Walk, i: int, token: Token, hits: list[tuple[str, str]]
) -> tuple[int, list[tuple[str, str]], str]:
    """Settle the part by what follows its find: "discharge left eye", "lump flank".

    Returns:
        Where to go on, the finds that are left, and the part that is named or that
        alone offers the place; empty where two could be meant, or none is told.
    """
    side, j = "", walk.skip(i + 1)
    while j < len(walk.tokens) and _says_where_only(walk.at(j)):
        side = (
            walk.at(j).first(Sense.SIDE).place if walk.at(j).has(Sense.SIDE) else side
        )
        j = walk.skip(j + 1)
    behind = walk.at(j)
    if walk.crossed(token.start, behind.start):
        return i, hits, ""
    places = {m.place for m in behind.all(Sense.PLACE) if (m.place, m.item) in hits}
    if behind.has(Sense.SIDE):
        # "lump right": a side is no place of one part.
        places = set()
    named = {
        m.place
        for m in (*behind.all(Sense.PAIR), *behind.all(Sense.REGION))
        if m.place in [place for place, _ in hits]
    }
    if len(places | named) != 1:
        return i, hits, ""
    (region_id,) = places | named
    left = [hit for hit in hits if hit[0] == region_id]
    if not named and len({place for place, _ in hits}) > 1:
        # A place that one part offers may lie in another too: it is asked.
        return i, left, ""
    if named and not places:
        ahead, denial, walk.ahead = walk.ahead, walk.denial, []
        i = read_part(walk, j, behind, side) - 1
        walk.ahead, walk.denial = ahead, denial
    return i, left, region_id


def _says_where_only(token: Token) -> bool:
    """Whether a token says a side, and the part may follow it."""
    return token.has(Sense.SIDE) and not token.has(Sense.VITAL)


def _note_find(
    walk: Walk,
    i: int,
    token: Token,
    hits: list[tuple[str, str]],
    here: tuple[str, ...],
) -> int:
    mine = [hit for hit in hits if hit[0] in here]
    region_ids = tuple(dict.fromkeys(place for place, _ in mine or hits))
    term_ids = {term_id for place, term_id in mine or hits if place == region_ids[0]}
    doubts = _doubts_of(walk, token, region_ids, term_ids, is_here=bool(mine))
    if not mine and not doubts:
        walk.leave_parts()
        walk.parts = [OpenPart(region_ids, "", token)]
        walk.side, walk.opened = "", len(walk.items)
    kind = ItemKind.DENIED if walk.denial else ItemKind.FINDING
    draft = walk.add(kind, region_ids, token)
    draft.term_id, draft.doubts = min(term_ids), doubts
    if len(region_ids) == 1:
        _take_own_words(walk, draft, token)
    for ahead in walk.ahead:
        _take_ahead(walk, draft, ahead, token)
    walk.ahead = []
    _take_denial(walk, draft)
    if len(region_ids) == 1 and walk.words.is_paired(region_ids[0]):
        if walk.side in ("", UNKNOWN_SIDE) or not mine:
            draft.doubt(Doubt.SIDE)
        else:
            walk.give_side(draft, walk.side, token.end)
    if walk.denial and not walk.at(i + 1).has(Sense.JOINS_NO):
        walk.denial = MAYBE_NOT
    return i + 1


def _take_denial(walk: Walk, draft: Draft) -> None:
    """Let a denial begin at its word, and ask where it may not reach any more."""
    if walk.denial == NOT:
        draft.start = min(draft.start, walk.denied_from)
    elif walk.denial == MAYBE_NOT:
        draft.kind = ItemKind.FINDING
        draft.doubt(Doubt.NEGATED)


def _take_own_words(walk: Walk, draft: Draft, token: Token) -> None:
    """Take the kind, place and grade that the words of the find say themselves."""
    find = (draft.places[0], draft.term_id)
    own = [m for m in token.meanings if (m.place, m.item) == find]
    kinds = [m.text for m in own if m.sense is Sense.QUALITY]
    more, places = walk.words.details_said(*find, token.raw)
    draft.qualities = tuple(dict.fromkeys((*kinds, *more)))
    draft.landmarks = places
    grades = (m.text for m in own if m.sense is Sense.GRADE and not m.is_doubtful)
    draft.value = next(grades, "")


def _doubts_of(
    walk: Walk,
    token: Token,
    region_ids: tuple[str, ...],
    term_ids: set[str],
    *,
    is_here: bool,
) -> set[Doubt]:
    """Return why it is asked of which part, or which find of it, a word is."""
    doubts = set()
    tells_part = is_here or walk.words.is_own_word(token.raw)
    is_tight = not is_here and _stands_close(walk, token)
    if len(region_ids) > 1 or is_tight or not tells_part:
        doubts.add(Doubt.REGION)
    said = [
        m for m in token.all(Sense.TERM) if m.place in region_ids and m.item in term_ids
    ]
    is_less = all(m.is_doubtful or (walk.denial and m.text) for m in said)
    if len(term_ids) > 1 or (said and is_less):
        doubts.add(Doubt.TERM)
    if is_here and _is_of_the_whole(walk, token):
        doubts.add(Doubt.REGION)
    if token.has(Sense.ANSWER):
        # "Gums yellow" is a find, and the answer of a vital.
        doubts.add(Doubt.WHICH)
    return doubts


def _is_of_the_whole(walk: Walk, token: Token) -> bool:
    """Whether it may be said of the animal, and no more of the part named before.

    Behind "snout twisted, sneezing" it is asked; in "nose: sneezing" it is not.
    """
    part = walk.parts[-1].token
    watched = {r.region_id for r in walk.words.regions.values() if r.untouched}
    senses = (Sense.TERM, Sense.QUALITY)
    told = {m.place for m in token.meanings if m.sense in senses}
    if walk.crossed(part.end, token.start):
        return bool(watched & told) and not watched & set(walk.parts[-1].region_ids)
    joined = f"{part.raw.split()[-1]} {token.raw}"
    others = walk.words.finds_of(joined) - set(walk.parts[-1].region_ids)
    return bool(others) and not walk.between(part, token).strip()


def _stands_close(walk: Walk, token: Token) -> bool:
    """Whether another part was just named, of which nothing was said yet."""
    return (
        bool(walk.parts)
        and not walk.crossed(walk.parts[-1].token.end, token.start)
        and len(walk.items) == walk.opened
    )


def _take_ahead(walk: Walk, draft: Draft, ahead: Ahead, token: Token) -> None:
    """Give a find what was said before it."""
    is_cut = walk.crossed(ahead.token.start, token.start)
    is_lost = ahead.what == "normal" or is_cut
    if is_lost or (ahead.what == "grade" and not take_grade(walk, draft, ahead)):
        walk.not_understood(ahead.token)
    elif ahead.what == "detail":
        find = (draft.places[0], draft.term_id)
        own = [m for m in ahead.meanings if (m.place, m.item) == find]
        if not own:
            walk.not_understood(ahead.token)
        elif own[0].sense is Sense.QUALITY:
            draft.qualities = tuple(dict.fromkeys((*draft.qualities, own[0].text)))
        else:
            draft.landmarks = (*draft.landmarks, own[0].text)
    elif ahead.what == "degree":
        draft.degree = ahead.text
    elif ahead.what == "size":
        draft.sizes += (ahead.text,)
    draft.start = min(draft.start, ahead.token.start)


def take_grade_in_words(walk: Walk, token: Token) -> bool:
    """Take a grade that is a word of the scale of the find just named."""
    last = walk.last
    if last is None or last.kind is not ItemKind.FINDING or last.value:
        return False
    find = (last.region_id, last.term_id)
    own = [m for m in token.all(Sense.GRADE) if (m.place, m.item) == find]
    if not own or walk.crossed(last.end, token.start):
        return False
    for draft in _told_together(walk, last):
        draft.value, draft.end = own[0].text, token.end
    return True


def take_grade(walk: Walk, draft: Draft, grade: Ahead) -> bool:
    """Give a find a grade of its scale; whether it could."""
    term = walk.term_of(draft)
    scale_id = term.scale_id if term else ""
    first, last = sorted((draft.start, grade.token.start))
    is_cut = walk.crossed(first, last, hard_only=bool(grade.top))
    if draft.kind is not ItemKind.FINDING or not scale_id or is_cut:
        return False
    grades = [one.value for one in walk.words.grades(scale_id)]
    draft.value = grade.text
    draft.start = min(draft.start, grade.token.start)
    draft.end = max(draft.end, grade.token.end)
    is_whole = grade.top == top_of(grades) and grade.text in grades
    if not is_whole or grade.is_doubtful:
        draft.doubt(Doubt.SCALE)
    return True


def deny(walk: Walk, token: Token) -> None:
    """Let what follows be denied, until a comma or another word ends it."""
    walk.denial, walk.denied_from = NOT, token.start


def after_comma(walk: Walk, token: Token) -> None:
    """Ask, behind a comma, whether a denial still holds."""
    last = walk.last
    is_denied = last is not None and last.kind is ItemKind.DENIED
    if is_denied and last and not walk.crossed(last.end, token.start):
        walk.denial = MAYBE_NOT
    else:
        walk.denial = ""
