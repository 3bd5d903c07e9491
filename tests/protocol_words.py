"""What the words of every species are held to, whatever its own tests add."""

import re

from exam_app.domain.protocol.protocol import Scope, SpeciesProtocol


def naming(protocol: SpeciesProtocol, disease: re.Pattern[str]) -> list[str]:
    """Return the findings, claims and signs that name a disease."""
    shown = [
        words
        for region in protocol.regions
        for term in region.terms
        for words in (term.label, term.plain, *term.qualities)
    ]
    signs = [w for s in protocol.urgent_signs for w in (s.label, s.plain)]
    every = (*shown, *_claimed(protocol), *signs)
    return [words for words in every if disease.search(words)]


def claims_of_health(protocol: SpeciesProtocol) -> list[str]:
    """Return the claims that say normal or healthy, which none may."""
    claimed = _claimed(protocol)
    return [w for w in claimed if re.search(r"normal|healthy|unremark", w)]


def _claimed(protocol: SpeciesProtocol) -> list[str]:
    return [c.text + c.plain for r in protocol.regions for c in r.clauses]


def assert_labels_fit(protocol: SpeciesProtocol, from_a_distance: int = 20) -> None:
    """Labels fit a phone; a region offers six to seventeen findings.

    From a distance more, as the species says: every danger seen there has its words.
    """
    terms = [term for region in protocol.regions for term in region.terms]
    assert [t for t in terms if max(len(t.label), len(t.plain)) > 28] == []
    signs = protocol.urgent_signs
    assert [s for s in signs if max(len(s.label), len(s.plain)) > 34] == []
    assert [r.label for r in protocol.regions if len(r.label) > 26] == []
    counts = {r.region_id: len(r.terms) for r in protocol.regions}
    most = {"distance": from_a_distance}
    assert {k: n for k, n in counts.items() if not 6 <= n <= most.get(k, 17)} == {}


def volunteer_claims(protocol: SpeciesProtocol) -> list[str]:
    """Return every claim that an intake look-over makes, in plain words."""
    return [
        clause.plain
        for region in protocol.regions
        for clause in region.clauses
        if Scope.INTAKE in clause.scopes
    ]


def regions_without_lump(protocol: SpeciesProtocol) -> set[str]:
    """Return the regions on which no lump can be noted."""
    return {
        r.region_id for r in protocol.regions if not any(t.is_lump for t in r.terms)
    }
