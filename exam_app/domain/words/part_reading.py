"""What is said of a whole part: its name and side, normal, not examined, not there.

A side holds for the part it was said of and is never carried to the next. A word that
says less than "normal" asks about the sentence; a pair without a side asks for it.
"""

import re

from exam_app.domain.exam.region_states import NOT_EXAMINED_REASONS
from exam_app.domain.words.items import Doubt, ItemKind
from exam_app.domain.words.tokens import END, Meaning, Sense, Token
from exam_app.domain.words.walk import (
    BOTH,
    LEFT_RIGHT,
    UNKNOWN_SIDE,
    Ahead,
    OpenPart,
    Walk,
    is_many,
)

_JOINS_PARTS = re.compile(r"[\s,/&+]*(?:and)?\s*(?:left|right|both)?\s*", re.IGNORECASE)
_SAID_OF_A_FIND = (
    Sense.TERM,
    Sense.QUALITY,
    Sense.NORMAL,
    Sense.PART,
    Sense.NO,
    Sense.DEGREE,
)


def read_part(walk: Walk, i: int, token: Token, side: str = "") -> int:
    """Open a part, beside one that was just opened or in its place."""
    pairs = token.all(Sense.PAIR)
    named = pairs or token.all(Sense.REGION)
    region_ids = tuple(dict.fromkeys(m.place for m in named))
    side = pairs[0].item if pairs else side
    if side in LEFT_RIGHT and is_many(token.raw):
        # "right eyes": a side, or a word to the owner?
        side = UNKNOWN_SIDE
    is_fresh = bool(walk.parts) and len(walk.items) == walk.opened
    if not is_fresh or not _JOINS_PARTS.fullmatch(
        walk.between(walk.parts[-1].token, token)
    ):
        walk.leave_parts()
        walk.opened = len(walk.items)
    walk.parts.append(OpenPart(region_ids, side, token))
    walk.side, walk.denial = side, ""
    for ahead in walk.ahead:
        if ahead.what == "normal" and not walk.crossed(ahead.token.start, token.start):
            read_normal(walk, ahead.token, END)
        else:
            walk.not_understood(ahead.token)
    walk.ahead = []
    return i + 1


def read_side(walk: Walk, i: int, token: Token, after: Token) -> int:
    """Read a side: before its part, after a find, or of the part that is open."""
    side = token.first(Sense.SIDE).place
    j = walk.skip(i + 1)
    opens = after.has(Sense.REGION) or after.has(Sense.PAIR)
    are_paired = all(walk.words.is_paired(m.place) for m in after.all(Sense.REGION))
    if opens and not walk.crossed(token.start, after.start) and are_paired:
        return read_part(walk, j, after, side)
    last = walk.last
    term = walk.term_of(last) if last and last.kind is ItemKind.FINDING else None
    if last and term and not walk.crossed(last.end, token.start):
        is_lump = term.is_lump and not walk.words.is_paired(last.region_id)
        if side in term.places:
            last.landmarks, last.end = (*last.landmarks, side), token.end
            return i + 1
        if is_lump and len(last.places) == 1 and not last.side:
            last.side, last.end = side, token.end
            return i + 1
    if walk.parts and any(map(walk.words.is_paired, walk.parts[-1].region_ids)):
        _side_of_part(walk, token, side, after)
    else:
        walk.not_understood(token)
    return i + 1


def _side_of_part(walk: Walk, token: Token, side: str, after: Token) -> None:
    mine = [
        draft
        for draft in walk.items[walk.opened :]
        if draft.kind in (ItemKind.FINDING, ItemKind.NORMAL)
        and not walk.crossed(draft.end, token.start)
    ]
    waiting = [draft for draft in mine if Doubt.SIDE in draft.doubts]
    goes_on = any(after.has(sense) for sense in _SAID_OF_A_FIND)
    if mine and walk.side == UNKNOWN_SIDE:
        for draft in mine:
            draft.doubt(Doubt.SIDE)
    elif waiting:
        for draft in waiting:
            walk.give_side(draft, side, token.end)
            if goes_on:
                draft.doubt(Doubt.SIDE)
        walk.side = UNKNOWN_SIDE if goes_on else ""
    else:
        walk.side = side
        walk.parts[-1].side = side


def keys_of(
    walk: Walk, part: OpenPart, side: str
) -> list[tuple[tuple[str, ...], set[Doubt]]]:
    """Return the keys that a word about a whole part is for; no side is guessed."""
    if len(part.region_ids) > 1:
        return [(part.region_ids, {Doubt.REGION})]
    region_id = part.region_ids[0]
    if not walk.words.is_paired(region_id):
        return [((region_id,), set())]
    side = side or (BOTH if is_many(part.token.raw) else UNKNOWN_SIDE)
    if side == UNKNOWN_SIDE:
        return [((region_id,), {Doubt.SIDE})]
    return [
        ((f"{region_id}.{one}",), set())
        for one in (LEFT_RIGHT if side == BOTH else (side,))
    ]


def read_normal(walk: Walk, token: Token, after: Token) -> None:
    """Propose the whole sentence; a word that says less asks about it first."""
    says_less = token.has(Sense.PART) and not token.has(Sense.NORMAL)
    if walk.denial or (not walk.parts and says_less):
        walk.not_understood(token)
        return
    if not walk.parts:
        walk.ahead.append(Ahead("normal", token))
    for part in walk.parts:
        for places, doubts in keys_of(walk, part, _side_said(walk, part, token, after)):
            end = max(token.end, part.token.end)
            draft = walk.add(ItemKind.NORMAL, places, part.token, end)
            draft.doubts = doubts | ({Doubt.SENTENCE} if says_less else set())


def _side_said(walk: Walk, part: OpenPart, token: Token, after: Token) -> str:
    if part is walk.parts[-1] and walk.side:
        return walk.side
    if part.side or not after.has(Sense.SIDE):
        return part.side
    # "eyes normal both": the side comes last, unless it begins the next part.
    follows = walk.at(walk.skip(walk.index(after) + 1))
    if walk.crossed(token.start, after.start) or follows.has(Sense.REGION):
        return ""
    return after.first(Sense.SIDE).place


def read_claim(walk: Walk, i: int, token: Token) -> int:
    """Read words of a part's own sentence: they say less than the whole of it."""
    claims = token.all(Sense.CLAIM)
    here = {r for part in walk.parts for r in part.region_ids}
    own = [m for m in claims if m.place in here] or claims
    region_ids = tuple(dict.fromkeys(m.place for m in own))
    part = OpenPart(region_ids, walk.side if set(region_ids) <= here else "", token)
    for places, doubts in keys_of(walk, part, part.side):
        draft = walk.add(ItemKind.NORMAL, places, token)
        draft.claims = tuple(m.item for m in own if m.place == region_ids[0])
        draft.doubts = doubts | {Doubt.SENTENCE}
    return i + 1


def read_undone(walk: Walk, token: Token) -> None:
    """Read that a part was not examined, or is not there, or why."""
    waiting = [
        draft
        for draft in walk.items
        if draft.kind is ItemKind.NOT_DONE
        and Doubt.REASON in draft.doubts
        and not walk.crossed(draft.end, token.start, hard_only=True)
    ]
    for draft in waiting:
        vital = walk.words.vitals.get(draft.places[0])
        known = vital.not_done_reasons if vital else NOT_EXAMINED_REASONS
        for reason in (m.place for m in token.all(Sense.REASON)):
            if reason in known:
                draft.value, draft.end = reason, token.end
                draft.doubts.discard(Doubt.REASON)
    gone = token.all(Sense.GONE) if walk.parts else []
    told = token.has(Sense.UNDONE) or _is_reason_of_part(walk, token)
    if walk.parts and (told or gone):
        _part_undone(walk, token, gone)
    elif all(Doubt.REASON in draft.doubts for draft in waiting):
        walk.not_understood(token)


def _is_reason_of_part(walk: Walk, token: Token) -> bool:
    """Whether a part was named and nothing said of it but why it was not examined."""
    said = {m.place for m in token.all(Sense.REASON)}
    is_bare = len(walk.items) == walk.opened
    return is_bare and bool(said & set(NOT_EXAMINED_REASONS))


def _part_undone(walk: Walk, token: Token, gone: list[Meaning]) -> None:
    said = [m.place for m in token.all(Sense.REASON) if m.place in NOT_EXAMINED_REASONS]
    for part in walk.parts:
        for places, doubts in keys_of(walk, part, part.side or walk.side):
            kind = ItemKind.NOT_PRESENT if gone else ItemKind.NOT_DONE
            draft = walk.add(kind, places, part.token, token.end)
            draft.doubts = set(doubts)
            if gone:
                draft.value = gone[0].place
            elif said:
                draft.value = said[0]
            else:
                draft.doubt(Doubt.REASON)
