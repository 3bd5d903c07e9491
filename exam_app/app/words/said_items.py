"""The items of a line with their ids; what is said of one sentence stands as one.

An id is made of what is said and of its words, not of where they stand: what was
answered holds while the line is typed on.
"""

from collections.abc import Iterator
from dataclasses import replace

from exam_app.domain.protocol.protocol import split_key
from exam_app.domain.words.items import Doubt, Item, ItemKind, Line
from exam_app.domain.words.protocol_words import ProtocolWords

Said = tuple[str, Item, str]
_MOST_OF_TAG = 3


def items_said(words: ProtocolWords, line: Line) -> list[Said]:
    """Return what a line says: ids, items and the words they were read from.

    Words that say part of a part's sentence are joined, so that it is asked once.
    """
    found: list[Said] = []
    places: dict[tuple[str, ...], int] = {}
    for item_id, item, said in _each(line):
        if not _says_less(item):
            found.append((item_id, item, said))
        elif item.places not in places:
            places[item.places] = len(found)
            found.append((item_id, _with_claims(words, item), said))
        else:
            at = places[item.places]
            before_id, before, before_said = found[at]
            claims = (*before.claims, *_with_claims(words, item).claims)
            doubts = before.doubts | item.doubts
            both = replace(before, claims=claims, end=item.end, doubts=doubts)
            # The id grows with what is said: what was answered was of less.
            found[at] = (f"{before_id}+{item_id}", both, f"{before_said}, {said}")
    return found


def _with_claims(words: ProtocolWords, item: Item) -> Item:
    """Return words of a sentence with the claims that they say."""
    term = words.term(split_key(item.places[0])[0], item.term_id)
    claims = (*item.claims, *(term.negates if term else ()))
    doubts = item.doubts | {Doubt.SENTENCE}
    kind = ItemKind.NORMAL
    return replace(item, kind=kind, term_id="", claims=claims, doubts=doubts)


def _each(line: Line) -> Iterator[Said]:
    """Yield what the line says, with its id and its words."""
    seen: dict[str, int] = {}
    for item in line.items:
        said = line.text[item.start : item.end].strip(" ,;:.\n")
        parts = (
            item.kind,
            item.key,
            item.value,
            item.unit,
            item.seconds,
            item.term_id,
            *item.claims,
            said.lower(),
        )
        name = "|".join(map(str, parts))
        seen[name] = seen.get(name, 0) + 1
        yield name if seen[name] == 1 else f"{name}|{seen[name]}", item, said


def _says_less(item: Item) -> bool:
    """Whether it says part of a part's sentence, and of which part is settled."""
    open_doubts = {Doubt.REGION, Doubt.SIDE, Doubt.TERM, Doubt.WHICH, Doubt.NEGATED}
    is_part = item.kind is ItemKind.DENIED or Doubt.SENTENCE in item.doubts
    return is_part and not item.doubts & open_doubts


def split_tag(text: str) -> tuple[str, str]:
    """Part a line of a round into the animal's tag and what is said of it.

    The tag ends at the first colon, or else is the first word.
    """
    tag, colon, said = text.partition(":")
    if not colon or len(tag.split()) > _MOST_OF_TAG:
        tag, _, said = text.strip().partition(" ")
    return tag.strip(), said.strip()
