"""Phrases that can be read apart: a find that is also one of another part, is asked.

"Weak back legs" is a find of its own, and weak of the back legs; "lice at the vent" is
one of the vent, and lice of the skin; "comb pale" is a find, and a colour of the comb.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from exam_app.domain.words.tokens import Meaning, Sense

Phrases = Mapping[tuple[str, ...], Mapping[Meaning, None]]


def add_other_readings(found: dict[tuple[str, ...], dict[Meaning, None]]) -> None:
    """Add to every find of several words what its halves mean by themselves.

    Args:
        found: Phrases by their words, each with its meanings; changed in place.
    """
    for key, meanings in found.items():
        own = {m.place for m in meanings if m.sense is Sense.TERM}
        if not own or len(key) < 2:
            continue
        for cut in range(1, len(key)):
            for meaning in _apart(found, key[:cut], key[cut:], own):
                if meaning.place not in own:
                    meanings[meaning] = None


def _apart(
    found: Phrases, head: tuple[str, ...], tail: tuple[str, ...], own: set[str]
) -> list[Meaning]:
    apart = [*_read_apart(found, tail, _bare(head))]
    # "Back pain" names its part first: it is no pain far back in another.
    if any(m.sense is Sense.REGION and m.place in own for m in found.get(head, ())):
        return [*apart, *_answers_in(found, head, tail)]
    return [*apart, *_read_apart(found, head, _bare(tail))]


_SMALL = ("at", "on", "in", "of", "the")


def _bare(key: tuple[str, ...]) -> tuple[str, ...]:
    """Return words without those before or behind them that only join."""
    while key and key[0] in _SMALL:
        key = key[1:]
    while key and key[-1] in _SMALL:
        key = key[:-1]
    return key


def _read_apart(
    found: Phrases,
    where: tuple[str, ...],
    what: tuple[str, ...],
) -> Iterator[Meaning]:
    """Yield the finds that two halves of a phrase are by themselves: where and what."""
    for meaning in tuple(found.get(what, ())):
        find = (meaning.place, meaning.item)
        if meaning.sense is Sense.TERM and any(
            (m.sense is Sense.REGION and m.place == meaning.place)
            or (m.sense is Sense.PLACE and (m.place, m.item) == find)
            for m in found.get(where, {})
        ):
            yield meaning
    yield from _answers_in(found, where, what)


def _answers_in(
    found: Phrases,
    name: tuple[str, ...],
    answer: tuple[str, ...],
) -> Iterator[Meaning]:
    """Yield the answers that the name of a vital and a word behind it are."""
    vitals = {m.place for m in found.get(name, ()) if m.sense is Sense.VITAL}
    for meaning in tuple(found.get(answer, ())):
        if meaning.sense is Sense.CHOICE and meaning.place in vitals:
            yield replace(meaning, sense=Sense.ANSWER)
