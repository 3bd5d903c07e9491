"""Every find of every species denies the claims whose words it contradicts.

``negations.py`` reads from the words which those are. What only shares a word stands
in ``negation_exceptions.toml`` with the reason why both can be true.
"""

import pytest

from exam_app.domain.protocol.protocol import Clause, Term
from exam_app.protocols.loader import available, load_protocol
from tests.negations import exceptions, failing, must_deny, pairs


@pytest.mark.parametrize("species", available())
def test_a_find_denies_every_claim_that_says_there_is_no_such_thing(species):
    new = "\n".join(f'  "{k}": {why}' for k, why in failing(species).items())
    assert not new, f"{species} does not name (negates, or an exception):\n{new}"


def test_every_exception_is_one_and_says_why():
    every = {
        f"{r.region_id}/{t.term_id} > {c.clause_id}": (species, t, c)
        for species in available()
        for r, t, c in pairs(load_protocol(species).protocol)
    }
    for place, reason in exceptions().items():
        assert place.split(" ", 1)[-1] in every or place in every, place
        assert len(reason.split()) >= 3, place


@pytest.mark.parametrize(
    ("label", "claim", "denies"),
    [
        ("Discharge", "lids open, no discharge seen", True),
        ("Runny eye", "open, not runny", True),
        ("Swollen", "not swollen, no wound", True),
        ("Murmur heard", "no murmur heard on either side", True),
        ("Lame", "watched moving: even gait", True),
        ("Discharge", "cornea clear", False),
        ("Kink", "no swelling seen", False),
        ("Lump", "no swelling, no mass felt", True),
    ],
)
def test_what_a_find_denies_is_read_from_the_words(label, claim, denies):
    assert must_deny(Term("t", label), Clause("c", claim)) is denies


def test_finds_and_what_they_deny_are_counted():
    lines = ["", "finds that deny a claim / all finds, denials named, asked by words"]
    for species in available():
        protocol = load_protocol(species).protocol
        terms = [term for region in protocol.regions for term in region.terms]
        denying = sum(bool(term.negates) for term in terms)
        named = sum(len(term.negates) for term in terms)
        asked = sum(1 for _ in pairs(protocol))
        lines.append(f"{species:>12}: {denying} / {len(terms)}, {named}, {asked}")
        assert asked > 50
    print("\n".join(lines))
