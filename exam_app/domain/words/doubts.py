"""The rules of doubt, after a line was read: nothing beside a doubt stays sure.

A word not understood makes the items beside it questions, to the next comma; a word of
time, hearsay, condition or correction, or a number without a name, makes every item of
its sentence one. Two values for one thing are both questions.
"""

from collections.abc import Mapping

from exam_app.domain.words.items import OF_A_VITAL, Doubt, ItemKind, Line, NotRead
from exam_app.domain.words.tokens import Token
from exam_app.domain.words.walk import Draft, Walk


def settle(walk: Walk, expanded: Mapping[str, str]) -> Line:
    """End a walk: leave what is open, then ask about whatever is in doubt."""
    walk.leave_parts()
    walk.unread += [ahead.token for ahead in walk.ahead]
    unread = sorted(dict.fromkeys(walk.unread), key=lambda token: token.start)
    for token in unread:
        for draft in _in_doubt_by(walk, token):
            draft.doubt(Doubt.WORDS)
    for draft in walk.items:
        for other in walk.items:
            if _contradict(draft, other):
                draft.doubt(Doubt.TWICE)
    kept = {_said(draft): draft for draft in reversed(walk.items)}
    drafts = sorted(kept.values(), key=lambda draft: (draft.start, draft.places))
    return Line(
        walk.text,
        tuple(draft.item() for draft in drafts),
        tuple(NotRead(t.raw, t.start, t.end, bool(t.meanings)) for t in unread),
        expanded,
    )


def _in_doubt_by(walk: Walk, token: Token) -> list[Draft]:
    """Return what one word not understood makes a question."""
    is_wide = token in walk.flags
    same = [
        draft
        for draft in walk.items
        if not walk.crossed(
            min(draft.end, token.start),
            max(draft.start, token.start),
            hard_only=is_wide,
        )
    ]
    if is_wide:
        return same
    before = [draft for draft in same if draft.end <= token.start]
    behind = [draft for draft in same if draft.start >= token.end]
    return [
        *(d for d in same if d.start < token.end and token.start < d.end),
        *_nearest(before, is_before=True),
        *_nearest(behind, is_before=False),
    ]


def _nearest(drafts: list[Draft], *, is_before: bool) -> list[Draft]:
    """Return the nearest on one side; behind one that is not settled the next too."""
    found: list[Draft] = []
    places = {d.end if is_before else d.start for d in drafts}
    for place in sorted(places, reverse=is_before):
        beside = [d for d in drafts if (d.end if is_before else d.start) == place]
        found += beside
        if not all(d.doubts & {Doubt.REGION, Doubt.TERM} for d in beside):
            break
    return found


def _contradict(one: Draft, other: Draft) -> bool:
    """Whether two items say two things of one vital, or of one find or part."""
    if one.places != other.places or _what(one) == _what(other):
        return False
    if one.kind in OF_A_VITAL and other.kind in OF_A_VITAL:
        return True
    kinds = {one.kind, other.kind}
    if ItemKind.NORMAL in kinds and ItemKind.DENIED not in kinds:
        return not (kinds == {ItemKind.NORMAL} and one.claims and other.claims)
    if kinds & {ItemKind.NOT_PRESENT, ItemKind.NOT_DONE}:
        return True
    return one.term_id == other.term_id != ""


def _what(draft: Draft) -> tuple[object, ...]:
    return (
        draft.kind,
        draft.value,
        draft.unit,
        draft.seconds,
        draft.term_id,
        draft.claims,
    )


def _said(draft: Draft) -> tuple[object, ...]:
    """Return what an item says, so that the same said twice stands once."""
    return (
        *_what(draft),
        draft.places,
        draft.qualities,
        draft.landmarks,
        draft.sizes,
        draft.dose,
    )
