"""Cases as sources tell them: what is entered, which signs open, what stands written.

Each file of ``tests/scenarios`` holds one species' cases, typed from a source before
the program was asked. A file that exists holds eleven at least.
"""

import re
from collections import Counter

import pytest

from exam_app.protocols.loader import available
from tests.scenario_player import (
    EXAMPLES,
    FOLDER,
    Scenario,
    ScenarioError,
    faults_of,
    files,
    misses,
    play,
    read_scenarios,
)

LEAST_A_SPECIES = 11
LEAST_TOGETHER = 120
STEMS = [path.stem for path in files()]


@pytest.mark.parametrize("stem", STEMS)
def test_every_scenario_opens_the_signs_and_writes_the_words_its_source_tells(stem):
    failed = []
    for scenario in read_scenarios(FOLDER / f"{stem}.toml"):
        try:
            before, after = play(scenario)
        except ScenarioError as fault:
            failed.append(str(fault))
            continue
        missed = misses(scenario, before, after)
        failed += [f"{scenario.name}: {words}" for words in missed]
    assert failed == [], "\n".join(failed)


@pytest.mark.parametrize("stem", [stem for stem in STEMS if stem != EXAMPLES])
def test_a_species_file_holds_eleven_scenarios_at_least(stem):
    assert stem in available()
    assert len(read_scenarios(FOLDER / f"{stem}.toml")) >= LEAST_A_SPECIES


def an_example(**changed):
    first = read_scenarios(FOLDER / f"{EXAMPLES}.toml")[0]
    return Scenario(first.file, {**first.told, **changed}, first.protocol)


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"findings": [{"region": "wing", "term": "x"}]}, "no region 'wing'"),
        ({"findings": [{"region": "eyes", "term": "red"}]}, "no region key 'eyes'"),
        ({"findings": [{"region": "nose", "term": "xx"}]}, "no term of nose 'xx'"),
        (
            {"findings": [{"region": "nose", "term": "discharge", "qualities": ["x"]}]},
            "no quality 'x'",
        ),
        ({"findings": [{"region": "nose"}]}, "a term or own words"),
        ({"vitals": [{"vital": "warmth", "value": "1"}]}, "no vital 'warmth'"),
        (
            {"vitals": [{"vital": "mentation", "grade": "9"}]},
            "no grade of mentation '9'",
        ),
        ({"asserted": ["nowhere"]}, "no region 'nowhere'"),
        ({"struck": [{"region": "nose", "clause": "x"}]}, "no clause 'x'"),
        ({"button": ["boredom"]}, "no urgent sign 'boredom'"),
        ({"expected": {"signs": ["boredom"]}}, "no urgent sign 'boredom'"),
        ({"expected": {"absent": ["x"]}}, "expects nothing"),
        ({"expected": {"sign": ["x"]}}, "unknown key 'sign'"),
        ({"animal": {"age": "old"}}, "age 'old'"),
        ({"scope": "whole"}, "no scope 'whole'"),
        ({"source": {"title": "x"}}, "source: no year"),
        ({"cells": {"region:wing": "n"}}, "no column 'region:wing'"),
    ],
)
def test_what_a_scenario_names_wrongly_is_said_by_name(changed, named):
    assert any(named in fault for fault in faults_of(an_example(**changed)))


@pytest.mark.parametrize(
    ("expected", "missed"),
    [
        ({"signs": ["eye"]}, "sign eye did not open"),
        ({"no_signs": ["temperature_low"]}, "sign temperature_low opened"),
        ({"no_signs": ["*"]}, "sign temperature_low opened"),
        ({"words": ["a unicorn"]}, "'a unicorn' does not stand"),
        ({"absent": ["Warm slowly"]}, "'Warm slowly' stands"),
        ({"flags": {"temperature": "above"}}, "temperature flagged below"),
        ({"stops_handling": True}, "stops handling: False"),
    ],
)
def test_an_expectation_that_is_not_met_is_named(expected, missed):
    scenario = an_example(expected=expected)
    assert any(missed in words for words in misses(scenario, *play(scenario)))


def test_what_the_exam_refuses_is_said_with_the_scenario():
    scenario = an_example(asserted=["mouth_deep"])
    with pytest.raises(ScenarioError, match=r"cold_adult_cat: refused: NotInScope"):
        play(scenario)


def test_scenarios_are_counted_by_species_and_by_provenance():
    lines = ["", "clinical scenarios: read / recalled"]
    together: Counter[str] = Counter()
    kinds = Counter()
    for path in files():
        if path.stem == EXAMPLES:
            continue
        scenarios = read_scenarios(path)
        found = Counter(s.told["provenance"] for s in scenarios)
        together += found
        kinds[path.stem] = len(scenarios)
        lines.append(f"{path.stem:>12}: {found['read']} / {found['memory']}")
        assert all(re.fullmatch(r"[a-z0-9_]+", s.told["id"]) for s in scenarios)
    lines.append(f"{'together':>12}: {together['read']} / {together['memory']}")
    print("\n".join(lines))
    # Every species has its file before the whole is counted against its goal.
    if set(kinds) == set(available()):
        assert sum(kinds.values()) >= LEAST_TOGETHER
