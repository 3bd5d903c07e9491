"""What a sentence asserts, it asserts: no claim says one thing or its opposite.

"Felt or not felt, not enlarged" is true of every animal and says nothing; a claim and
the result in its place ("felt for, not felt") are two. What a routine exam does not do
is named with the reason not to do it.
"""

import re

import pytest

from exam_app.protocols.loader import available, load_protocol

EITHER_OR = re.compile(
    r"\bor (?:not|none|no|never|absent|neither)\b"
    r"|\bif (?:any|seen|present|felt|there|heard|visible|possible|needed)\b"
    r"|\bwhere (?:present|seen|felt|there)\b|\bwhen present\b|\band/or\b|\bmay be\b"
)
# A part whose sentence has another result than the one the claim names.
RESULTS = re.compile(r"^(?!.*\b(?:normal|healthy|fine|ok)\b)[a-z].*[^.;]$")


def clauses_of(species):
    for region in load_protocol(species).protocol.regions:
        for clause in region.clauses:
            yield f"{region.region_id}/{clause.clause_id}", clause


@pytest.mark.parametrize("species", available())
def test_no_claim_says_a_thing_or_its_opposite(species):
    found = {
        name
        for name, clause in clauses_of(species)
        if EITHER_OR.search(clause.text) or EITHER_OR.search(clause.plain)
    }
    assert found == set()


@pytest.mark.parametrize(
    "claim",
    ["felt or not felt, not enlarged", "two and even, or none", "tag if any", "and/or"],
)
def test_either_or_is_found_in_a_claim(claim):
    assert EITHER_OR.search(claim)


@pytest.mark.parametrize("species", available())
def test_what_a_routine_exam_does_not_do_says_why_not(species):
    without = [
        name
        for name, clause in clauses_of(species)
        if clause.opt_in and not clause.caution.strip()
    ]
    assert without == []


@pytest.mark.parametrize("species", available())
def test_a_result_in_a_claims_place_is_a_phrase_of_its_own(species):
    results = {c.strike_as for _, c in clauses_of(species) if c.strike_as}
    assert all(RESULTS.match(result) for result in results), results
    assert all(len(result) <= 40 for result in results)


@pytest.mark.parametrize("species", available())
def test_a_result_beside_other_claims_names_what_it_is_about(species):
    for region in load_protocol(species).protocol.regions:
        results = [c.strike_as for c in region.clauses if c.strike_as]
        assert len(set(results)) == len(results), region.region_id
        if len(region.clauses) > 1:
            bare = [r for r in results if r.startswith("felt for")]
            assert bare == [], region.region_id


def test_claims_are_counted_by_species():
    lines = ["", "claims: routine, to be added, with a result in their place"]
    for species in available():
        clauses = [clause for _, clause in clauses_of(species)]
        added = sum(clause.opt_in for clause in clauses)
        results = sum(bool(clause.strike_as) for clause in clauses)
        routine = len(clauses) - added
        lines.append(f"{species:>12}: {routine}, {added}, {results}")
        assert routine > added
    print("\n".join(lines))
