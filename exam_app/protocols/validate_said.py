"""Check the words of ``said``: each means one thing where it is said.

A word may not name two vitals, two parts, two finds of one part or two answers of one
vital: nobody could tell which was meant. It may be a word of something else's label no
more than another's ``said``.
"""

from collections.abc import Iterable, Iterator

from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.words.trade_words import plain
from exam_app.protocols.validate_vitals import Keyed

_LONGEST = 200
# Of one thing: where it stands, its own words, and its other ways to be said.
Said = tuple[str, tuple[str, ...], tuple[str, ...]]


def said_faults(protocol: SpeciesProtocol) -> Iterator[Keyed]:
    """Yield what is wrong with the other ways to say a thing."""
    yield from _apart(
        (f"vitals({v.vital_id})", (v.label, v.plain_label), v.said)
        for v in protocol.vitals
    )
    yield from _apart(
        (f"regions({r.region_id})", (r.label, r.plain_label), r.said)
        for r in protocol.regions
    )
    for region in protocol.regions:
        at = f"regions({region.region_id})"
        yield from _apart(
            (f"{at}.terms({t.term_id})", (t.label, t.plain), t.said)
            for t in region.terms
        )
        yield from _apart(
            (f"{at}.clauses({c.clause_id})", (), c.said) for c in region.clauses
        )
    for vital in protocol.vitals:
        yield from _apart(
            (f"vitals({vital.vital_id}).choices({c.value})", (c.label, c.plain), c.said)
            for c in vital.choices
        )
    for scale in protocol.scales:
        yield from _apart(
            (f"scales({scale.scale_id}).grades({g.value})", (g.label,), g.said)
            for g in scale.grades
        )


def _apart(things: Iterable[Said]) -> Iterator[Keyed]:
    """Yield a way that another thing has too, and one that says nothing."""
    listed = list(things)
    for at, _, said in listed:
        for way in said:
            if not 0 < len(way.strip()) <= _LONGEST:
                yield f"{at}.said", f"expected words of 1 to {_LONGEST} letters"
            for other, labels, ways in listed:
                if other != at and plain(way) in map(plain, (*labels, *ways)):
                    yield f"{at}.said", f"“{way}” means {other} already"
