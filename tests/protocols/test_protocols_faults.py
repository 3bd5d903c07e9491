"""Every kind of fault in a protocol is named with its key and reason.

Each case changes one thing of the dog's protocol, which is free of faults.
"""

import json
from collections.abc import Callable
from typing import Any

import pytest

from exam_app.protocols.codec import ProtocolFileError
from exam_app.protocols.loader import load_content, load_protocol

Change = Callable[[dict[str, Any]], object]


def one(tables, table_id):
    return next(table for table in tables if table["id"] == table_id)


def region(whole, region_id="nose"):
    return one(whole["regions"], region_id)


def vital(whole, vital_id):
    return one(whole["vitals"], vital_id)


def row(whole, row_id="temperature_adult_dorn"):
    return one(whole["intervals"], row_id)


def sign(whole, sign_id="slow_refill"):
    return one(whole["urgent_signs"], sign_id)


def put(place: Callable[..., dict[str, Any]], key: str, value: object, *ids: str):
    return lambda whole: place(whole, *ids).__setitem__(key, value)


def term(key: str, value: object) -> Change:
    return lambda whole: one(region(whole)["terms"], "crust").__setitem__(key, value)


def clause(key: str, value: object) -> Change:
    return lambda whole: one(region(whole)["clauses"], "dry").__setitem__(key, value)


def twice(kind: str) -> Change:
    return lambda whole: whole[kind].append(whole[kind][0])


def measure(key: str, value: object) -> Change:
    return lambda whole: vital(whole, "heart_rate")["measure"].__setitem__(key, value)


CASES: dict[str, tuple[Change, str, str]] = {
    "version_zero": (lambda w: w.update(version=0), "version", "starts at 1"),
    "empty_label": (lambda w: w.update(label=" "), "label", "empty"),
    "no_regions": (lambda w: w.update(regions=[]), "regions", "none given"),
    "odd_id": (lambda w: w.update(protocol_id="My Dog"), "protocol_id", "is no id"),
    "region_twice": (twice("regions"), "regions", "id distance appears more than once"),
    "vital_twice": (twice("vitals"), "vitals", "appears more than once"),
    "scale_twice": (twice("scales"), "scales", "appears more than once"),
    "interval_twice": (twice("intervals"), "intervals", "appears more than once"),
    "sign_twice": (twice("urgent_signs"), "urgent_signs", "appears more than once"),
    "caution_twice": (twice("cautions"), "cautions", "appears more than once"),
    "source_twice": (twice("sources"), "sources", "appears more than once"),
    "clause_twice": (
        lambda w: region(w)["clauses"].append(region(w)["clauses"][0]),
        "regions(nose).clauses",
        "id dry appears more than once",
    ),
    "term_twice": (
        lambda w: region(w)["terms"].append(region(w)["terms"][0]),
        "regions(nose).terms",
        "id discharge appears more than once",
    ),
    "stage_gap": (
        lambda w: w["life_stages"][1].update(from_days=15),
        "life_stages(nursling).from_days",
        "does not begin where the stage before it ends",
    ),
    "stage_backwards": (
        lambda w: w["life_stages"][1].update(until_days=13),
        "life_stages(nursling).until_days",
        "ends before it begins",
    ),
    "last_stage_ends": (
        lambda w: w["life_stages"][-1].update(until_days=9000),
        "life_stages",
        "the last stage has an end",
    ),
    "group_interrupted": (
        put(region, "group", "Rear", "ears"),
        "regions(genital_male).group",
        "interrupted",
    ),
    "one_side": (
        put(region, "sides", ["left"], "eyes"),
        "regions(eyes).sides",
        "left and right",
    ),
    "unknown_sex": (
        put(region, "sexes", ["neuter"], "genital_male"),
        "regions(genital_male).sexes",
        "male, female",
    ),
    "region_of_focused_exam": (
        put(region, "scopes", ["intake", "technician", "veterinarian", "focused"]),
        "regions(nose).scopes",
        "a focused exam chooses its regions",
    ),
    "no_terms": (put(region, "terms", []), "regions(nose).terms", "none given"),
    "no_plain_label": (
        put(region, "plain_label", ""),
        "regions(nose).plain_label",
        "empty",
    ),
    "scope_without_claim": (
        put(region, "scopes", ["intake", "technician", "veterinarian", "group"]),
        "regions(nose).clauses",
        "no claim for the scope group",
    ),
    "claim_outside_region": (
        clause("scopes", ["group"]),
        "regions(nose).clauses(dry)",
        "scope group does not contain the region",
    ),
    "claim_without_plain_words": (
        clause("plain", ""),
        "regions(nose).clauses(dry)",
        "no plain words for volunteers",
    ),
    "claim_with_full_stop": (
        clause("text", "no discharge seen."),
        "regions(nose).clauses(dry)",
        "full stop",
    ),
    "claim_in_no_scope": (
        clause("scopes", []),
        "regions(nose).clauses(dry)",
        "holds in no scope",
    ),
    "term_without_plain_words": (
        term("plain", ""),
        "regions(nose).terms(crust)",
        "no plain words for volunteers",
    ),
    "unknown_scale": (
        term("scale_id", "murmur_9"),
        "regions(nose).terms(crust)",
        "no scale 'murmur_9'",
    ),
    "unknown_sign": (
        term("urgent_sign_id", "doom"),
        "regions(nose).terms(crust)",
        "no urgent sign 'doom'",
    ),
    "place_twice": (
        term("places", ["left", "left"]),
        "regions(nose).terms(crust)",
        "places are empty or repeated",
    ),
    "more_signs_than_a_vital_may_open": (
        lambda w: w["urgent_signs"].extend(
            {**sign(w), "id": f"slow_refill_{n}"} for n in range(8)
        ),
        "vitals(capillary_refill_time)",
        "opens more than 8 urgent signs",
    ),
    "measure_missing": (
        lambda w: vital(w, "weight").pop("measure"),
        "vitals(weight).measure",
        "a measure needs one",
    ),
    "grade_without_scale": (
        put(vital, "scale_id", "", "pain"),
        "vitals(pain).scale_id",
        "no scale ''",
    ),
    "choice_without_choices": (
        put(vital, "choices", [], "hydration_signs"),
        "vitals(hydration_signs).choices",
        "a choice needs them",
    ),
    "choice_of_unknown_sign": (
        lambda w: vital(w, "hydration_signs")["choices"][0].update(
            urgent_sign_id="doom"
        ),
        "vitals(hydration_signs).choices(none_seen)",
        "no urgent sign 'doom'",
    ),
    "choice_without_plain_words": (
        lambda w: vital(w, "mucous_membrane_colour")["choices"][0].update(plain=""),
        "vitals(mucous_membrane_colour).choices(pink)",
        "no plain words for volunteers",
    ),
    "required_where_not_offered": (
        put(vital, "required_in", ["intake"], "pain"),
        "vitals(pain).required_in",
        "intake does not offer this vital",
    ),
    "rate_in_other_unit": (
        put(vital, "kind", "rate", "weight"),
        "vitals(weight).measure",
        "a rate counts in",
    ),
    "beats_offered_as_breaths": (
        measure("units_offered", ["breath/min"]),
        "vitals(heart_rate).measure",
        "'breath/min' is unknown or measures something else",
    ),
    "unknown_unit": (
        measure("units_offered", ["furlong_of_doom"]),
        "vitals(heart_rate).measure",
        "'furlong_of_doom' is unknown",
    ),
    "no_precision": (
        measure("precision", "0"),
        "vitals(heart_rate).measure",
        "precision is not above zero",
    ),
    "typing_guard_backwards": (
        measure("plausible_low", "400"),
        "vitals(heart_rate).measure",
        "plausible_low is not below plausible_high",
    ),
    "typing_guard_of_no_stage": (
        measure("plausible", [{"life_stages": ["elder"], "low": "30", "high": "200"}]),
        "vitals(heart_rate).measure",
        "plausible: no 'elder'",
    ),
    "typing_guard_of_a_stage_past_the_widest": (
        measure("plausible", [{"life_stages": ["adult"], "low": "30", "high": "900"}]),
        "vitals(heart_rate).measure",
        "plausible: goes past plausible_low or plausible_high, the widest",
    ),
    "typing_guard_without_a_source": (
        measure(
            "plausible",
            [
                {
                    "life_stages": ["adult"],
                    "low": "30",
                    "high": "200",
                    "source_id": "nowhere",
                }
            ],
        ),
        "vitals(heart_rate).measure.plausible.source_id",
        "no source 'nowhere'",
    ),
    "span_computed_from_what_was_recalled": (
        lambda w: w["intervals"][0].update(
            provenance="computed", also_from=["common_practice"]
        ),
        "intervals(temperature_adult_dorn).provenance",
        "computed, though a source of it is only recalled",
    ),
    "more_sources_without_computing": (
        lambda w: w["intervals"][0].update(also_from=["span"]),
        "intervals(temperature_adult_dorn)",
        "it names more sources than one, and was not computed from them",
    ),
    "one_grade": (
        lambda w: w["scales"][0].update(grades=w["scales"][0]["grades"][:1]),
        "scales(body_condition_9)",
        "at least two grades",
    ),
    "low_above_high": (
        put(row, "low", "40"),
        "intervals(temperature_adult_dorn)",
        "its low end is above its high end",
    ),
    "no_end": (
        lambda w: row(w).update(low=None, high=None),
        "intervals(temperature_adult_dorn)",
        "it has no end",
    ),
    "mean_as_limit": (
        put(row, "statistic", "mean +/- SD"),
        "intervals(temperature_adult_dorn).statistic",
        "a mean +/- SD is no limit",
    ),
    "single_value_as_limit": (
        put(row, "statistic", "single value"),
        "intervals(temperature_adult_dorn).statistic",
        "a single value is no limit",
    ),
    "limit_in_fahrenheit": (
        put(row, "unit", "degF"),
        "intervals(temperature_adult_dorn).unit",
        "is not the measure's own degC",
    ),
    "limit_in_kilograms": (
        put(row, "unit", "kg"),
        "intervals(temperature_adult_dorn)",
        "its unit does not fit",
    ),
    "limit_of_nothing": (
        put(row, "measure_id", "mood"),
        "intervals(temperature_adult_dorn).measure_id",
        "no measure 'mood'",
    ),
    "limit_of_unknown_stage": (
        put(row, "life_stages", ["elder"]),
        "intervals(temperature_adult_dorn).life_stages",
        "no 'elder'",
    ),
    "limit_of_unknown_setting": (
        put(row, "settings", ["moon"]),
        "intervals(temperature_adult_dorn).settings",
        "no 'moon'",
    ),
    "limit_of_unknown_state": (
        put(row, "states", ["excited"]),
        "intervals(temperature_adult_dorn).states",
        "no 'excited'",
    ),
    "limit_of_unknown_source": (
        put(row, "source_id", "hearsay"),
        "intervals(temperature_adult_dorn).source_id",
        "no source 'hearsay'",
    ),
    "read_from_recalled_source": (
        put(row, "source_id", "common_practice"),
        "intervals(temperature_adult_dorn).provenance",
        "read, though its source is only recalled",
    ),
    "odd_provenance": (
        put(row, "provenance", "guessed"),
        "intervals(temperature_adult_dorn)",
        "neither read nor memory",
    ),
    "sign_without_action": (
        put(sign, "action", ""),
        "urgent_signs(slow_refill).action",
        "empty",
    ),
    "trigger_without_limit": (
        put(sign, "triggers", [{"vital_id": "temperature"}]),
        "urgent_signs(slow_refill).vital_id",
        "names no limit",
    ),
    "trigger_of_no_vital": (
        put(sign, "triggers", [{"vital_id": "mood", "above": "3"}]),
        "urgent_signs(slow_refill).vital_id",
        "no vital 'mood'",
    ),
    "trigger_of_no_state": (
        put(
            sign,
            "triggers",
            [{"vital_id": "temperature", "above": "3", "states": ["flying"]}],
        ),
        "urgent_signs(slow_refill).states",
        "no 'flying'",
    ),
    "trigger_without_its_source": (
        put(
            sign,
            "triggers",
            [{"vital_id": "temperature", "above": "3", "source_id": "nobody"}],
        ),
        "urgent_signs(slow_refill).triggers",
        "no source 'nobody'",
    ),
    "sign_of_no_sex": (
        put(sign, "sexes", ["other"]),
        "urgent_signs(slow_refill).sexes",
        "male, female, or none",
    ),
    "term_urgent_without_sign": (
        term("urgent_qualities", ["dry"]),
        "regions(nose).terms(crust)",
        "no urgent sign",
    ),
    "term_urgent_by_no_quality": (
        lambda w: one(region(w)["terms"], "crust").update(
            urgent_sign_id="bleeding", urgent_qualities=["dry"]
        ),
        "regions(nose).terms(crust)",
        "no quality 'dry'",
    ),
    "term_urgent_from_no_grade": (
        lambda w: one(region(w)["terms"], "crust").update(
            urgent_sign_id="bleeding", urgent_from="4"
        ),
        "regions(nose).terms(crust)",
        "no grade '4'",
    ),
    "term_negates_nothing_known": (
        term("negates", ["wet"]),
        "regions(nose).terms(crust)",
        "negates no claim 'wet'",
    ),
    "claim_denied_by_no_find": (
        clause("denied_by", ["tail/purple"]),
        "regions(nose).clauses(dry)",
        "denied by nothing known: 'tail/purple'",
    ),
    "claim_denied_by_no_vital": (
        clause("denied_by", ["vital/mood/3"]),
        "regions(nose).clauses(dry)",
        "denied by nothing known: 'vital/mood/3'",
    ),
    "claim_of_no_sex": (
        clause("sexes", ["other"]),
        "regions(nose).clauses(dry)",
        "male, female, or none",
    ),
    "no_claim_for_a_sex": (
        lambda w: [one.update(sexes=["male"]) for one in region(w)["clauses"]],
        "regions(nose).clauses",
        "no claim for the scope intake and sex 'female'",
    ),
    "claim_of_neutered_maybe": (
        clause("neutered", "maybe"),
        "regions(nose).clauses(dry)",
        "yes, no, or empty",
    ),
    "caution_of_a_routine_claim": (
        clause("caution", "never in a broken neck"),
        "regions(nose).clauses(dry)",
        "what is opted in",
    ),
    "sign_limit_no_number": (
        put(sign, "above", "two"),
        "urgent_signs(slow_refill).above",
        "'two' is no number",
    ),
    "sign_limit_without_vital": (
        put(sign, "vital_id", ""),
        "urgent_signs(slow_refill).vital_id",
        "a limit needs the vital",
    ),
    "sign_of_unknown_vital": (
        put(sign, "vital_id", "mood"),
        "urgent_signs(slow_refill).vital_id",
        "no vital 'mood'",
    ),
    "sign_of_grades_in_words": (
        put(sign, "vital_id", "muscle_condition"),
        "urgent_signs(slow_refill).vital_id",
        "with a measure or numbered grades",
    ),
    "sign_vital_without_limit": (
        put(sign, "above", ""),
        "urgent_signs(slow_refill).vital_id",
        "names no limit",
    ),
    "sign_of_unknown_stage": (
        put(sign, "life_stages", ["elder"]),
        "urgent_signs(slow_refill).life_stages",
        "no 'elder'",
    ),
    "sign_nothing_opens": (
        put(sign, "on_button", False, "poison"),
        "urgent_signs(poison)",
        "nothing opens it",
    ),
    "source_without_title": (
        lambda w: w["sources"][0].update(title=""),
        "sources(",
        "empty",
    ),
    "caution_without_text": (
        lambda w: w["cautions"][0].update(text=" "),
        "cautions(bite).text",
        "empty",
    ),
    "missing_key": (
        lambda w: vital(w, "weight").pop("label"),
        "vitals(weight).label",
        "missing",
    ),
    "unknown_key": (
        lambda w: vital(w, "weight").update(colour="red"),
        "vitals(weight)",
        "unknown key colour",
    ),
    "unknown_scope": (
        put(region, "scopes", ["everyone"]),
        "regions(nose).scopes(1)",
        "'everyone' is none of intake",
    ),
    "text_for_yes_or_no": (
        term("is_lump", "yes"),
        "regions(nose).terms(crust).is_lump",
        "expected bool, found str",
    ),
    "number_that_is_none": (
        put(row, "low", "NaN"),
        "intervals(temperature_adult_dorn).low",
        "no number to compare with",
    ),
    "word_for_a_number": (
        put(row, "low", "warm"),
        "intervals(temperature_adult_dorn).low",
        "'warm' is no number",
    ),
}


def faults_after(*changes: Change) -> list[tuple[str, str]]:
    whole = json.loads(load_protocol("dog").content)
    for change in changes:
        change(whole)
    with pytest.raises(ProtocolFileError) as caught:
        load_content(json.dumps(whole).encode(), "own.json")
    assert all(problem.file == "own.json" for problem in caught.value.problems)
    return [(problem.key, problem.reason) for problem in caught.value.problems]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_fault_is_named_with_its_key_and_reason(case):
    change, key, reason = CASES[case]
    found = faults_after(change)
    assert any(k.startswith(key) and reason in why for k, why in found), found


def test_faults_do_not_hide_each_other():
    names = ("low_above_high", "unknown_scale", "one_side", "sign_without_action")
    found = faults_after(*(CASES[name][0] for name in names))
    for name in names:
        _, key, reason = CASES[name]
        assert any(k == key and reason in why for k, why in found)
    assert len(found) == len(names)
