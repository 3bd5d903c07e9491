"""Every dangerous fact opens its sign by every way a person can tell of it.

``danger_table.toml`` holds the facts by their meaning, each with its source; every
term, quality, grade, worded answer, value and sign of every species is held against
it. What cannot be closed at once stands in ``open_gaps`` of its species, exactly, and
only while it is being worked on. Print what is failing now, ready to paste:

    .venv/bin/python -m tests.print_danger_gaps cattle
"""

import pytest

from exam_app.protocols.loader import available
from tests import danger_table
from tests.danger_table import (
    facts_of,
    form_faults,
    held,
    open_gaps,
    source_rows,
    table,
)

WHOLE = frozenset(available())


def test_the_table_has_no_fault_of_form():
    assert list(form_faults()) == []


@pytest.mark.parametrize("species", available())
def test_every_way_to_a_dangerous_fact_opens_its_sign_and_one_sign(species):
    failing = held(species).failing
    listed = open_gaps(species)
    new = {gap: why for gap, why in failing.items() if gap not in listed}
    closed = [gap for gap in listed if gap not in failing]
    shown = "\n".join(f"  {gap}: {why}" for gap, why in new.items())
    assert not new, f"new gaps of {species}:\n{shown}"
    assert not closed, f"closed, take them out of open_gaps of {species}: {closed}"
    assert len(set(listed)) == len(listed)


def test_no_gap_is_left_open():
    assert [gap for species in available() for gap in open_gaps(species)] == []


def species_of_row(row):
    return WHOLE if "all" in row["species"] else frozenset(row["species"])


def test_every_row_of_the_sources_is_used_for_every_species_it_names():
    unused = table()["unused"]
    lost = []
    for row_id, row in source_rows().items():
        used = {s for s in WHOLE if any(row_id in f.rows for f in facts_of(s))}
        excused = {
            species
            for told in table()["all"]["facts"]
            if row_id in told.get("rows", ())
            for species in told.get("without", {})
        }
        told = unused.get(row_id, {})
        if isinstance(told, str):
            assert not used, f"{row_id} is used and is said not to be"
            excused = WHOLE
        else:
            excused |= set(told)
        missing = species_of_row(row) - used - excused
        if missing:
            lost.append(f"{row_id}: no fact for {', '.join(sorted(missing))}")
    assert lost == []
    assert set(unused) <= set(source_rows())
    assert len(source_rows()) == 117


def test_reasons_stand_where_something_is_left_out():
    for reason in table()["unused"].values():
        for text in [reason] if isinstance(reason, str) else reason.values():
            assert len(text.split()) >= 4, text
    for told in table()["all"]["facts"]:
        for text in told.get("without", {}).values():
            assert len(text.split()) >= 4, text


def test_facts_and_ways_are_counted_by_species():
    lines = ["", "danger table: facts, ways held against them, open gaps"]
    ways = 0
    for species in available():
        found = held(species)
        checked = sum(found.checked.values())
        ways += checked
        facts, gaps = len(facts_of(species)), len(found.failing)
        lines.append(f"{species:>12}: {facts} facts, {checked} ways, {gaps} gaps")
        assert checked > facts
    together = sum(len(held(species).failing) for species in available())
    lines.append(f"{'together':>12}: {ways} ways, {together} gaps")
    print("\n".join(lines))


def a_table(monkeypatch, **sections):
    for cached in (danger_table.table, danger_table.facts_of, danger_table.held):
        cached.cache_clear()
    monkeypatch.setattr(
        danger_table, "table", lambda: {"all": {"facts": []}, **sections}
    )


@pytest.fixture
def own_table(monkeypatch):
    yield lambda **sections: a_table(monkeypatch, **sections)
    monkeypatch.undo()
    for cached in (danger_table.facts_of, danger_table.held):
        cached.cache_clear()


def test_the_table_finds_what_it_is_for(own_table):
    own_table(
        dog={
            "facts": [
                {"id": "squint", "words": ["^eyes: squint"]},
                {"id": "calm", "words": ["eyes: cornea"], "not_urgent": "for the test"},
                {"id": "silent", "words": ["^tail: kink"]},
                {"id": "apart", "words": ["^eyes: squint", "^nose: bleeding"]},
                {"id": "nowhere", "words": ["unicorn"]},
                {"id": "hands", "words": ["^eyes: injury"], "hands_off": True},
                {
                    "id": "cold",
                    "numbers": [
                        {"vital": "^temperature", "value": "36.0", "age": "5 years"},
                        {"vital": "^temperature", "value": "39.0", "age": "5 years"},
                    ],
                },
            ]
        }
    )
    found = held("dog")
    assert "squint | eyes/squint" not in found.failing
    assert found.failing["calm | eyes/cloudy"] == "opens eye and should open nothing"
    assert found.failing["silent | tail/kink"] == "opens no sign: tail: kink"
    assert found.failing["apart | two answers"].startswith("eye by eyes/squint; ")
    assert found.failing["nowhere | no way"] == "there is no way to tell of it"
    assert found.failing["hands | eyes/injury (hands)"] == "eye stops no hands"
    assert "cold | ^temperature 39.0 5 years" in found.failing
    assert "cold | ^temperature 36.0 5 years" not in found.failing
    assert "unknown | skin_coat/bleeding" in found.failing
    assert "unknown | temperature_high temperature above 40.8" in found.failing
