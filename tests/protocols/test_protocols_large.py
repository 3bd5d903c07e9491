"""Every published limit of horses, donkeys and cattle against the row it came from.

Each line holds the numbers as the source prints them, with the title of that source;
nothing here is read from the protocols. What a source prints in Fahrenheit only is
written in Fahrenheit. "memory" marks a figure nobody has checked.
"""

from decimal import Decimal

import pytest

from exam_app.app.view.count_presenter import count_kind
from exam_app.domain.animal.signalment import life_stage_of
from exam_app.domain.measure.counting import (
    CountAlong,
    CountKind,
    offered_windows,
    rate,
)
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.domain.protocol.protocol import Scope, VitalKind
from exam_app.domain.protocol.scales import converted, give_grade, show_grade
from exam_app.protocols.loader import load_protocol
from tests.published_rows import (
    ANY,
    Printed,
    ValueSign,
    assert_every_limit_is_in,
    assert_row_is_as_printed,
    celsius,
    counted_provenance,
    flag,
    value_signs,
)

KENTUCKY = (
    "How to take your horse's vital signs (video), figures as listed by The Horseaholic"
)
YARD = (
    "Establishing a yard-specific normal rectal temperature range for horses "
    "(Hall, Carter, Stevenson, Hall)"
)
CARLISLE = "The Normal Horse"
EXTENSION = "Farm Animal Body Temperature / pulse table"
COORANBONG = "Equine Vital Signs"
AVENEL = "Foaling: the neonate"
FOAL_NOTES = "Neonatal foal examination outline"
NEW_FOAL = "The Newborn Foal"
VIRGINIA = "Keep Tabs on Your Animals' Vitals; Monitoring Your Animal's Vital Signs"
THE_HORSE = "Normal Vital Signs and Health Indicators"
PERFORMANCE = "Normal Vital Parameters"
PENN_REFILL = "Equine Normals: mucous membranes, capillary refill, jugular vein"
WIKIVET = "Colic Auscultation"
TEXTBOOK = "Clinical Examination of Farm Animals (Jackson & Cockcroft)"
NADIS = "The Healthy Cow"
BOVINE = "Bovine Husbandry, Table 10-1"
DUNCANSON = "Farm Animal Medicine and Surgery (Duncanson)"
BEEF = "Rectal Temperature Ranges For Beef Cattle"
GEORGIA = "Know a Calf's Vital Signs"
WISCONSIN = "Clinical parameters for newborn calves"
PENN_RUMEN = "Dairy Cow Physical Exam: Auscult the Rumen"
LYON = "Bruits de contraction ruminale"
RIVER_FALLS = "Blood serum and dehydration"
CALF_SCORE = "Calf attitude and faecal score table"
LOCOMOTION = "Locomotion scoring of dairy cattle (Sprecher and others)"
SERVICE = "Quick reference / donkey / Clinical parameters"
SANCTUARY = "Donkey (and burro) vital signs"
TABLE = (
    "Reference guide table: Normal Rectal Temperature Ranges "
    "(adapted from Robertshaw, Dukes' Physiology 12th ed., 2004)"
)
OWNERS = "Normal vital parameters of donkeys"
MIZZOU = "Recognizing a medical emergency in small animals"
PRACTICE = "Common clinical practice, no single source"

CALM = frozenset({"resting", "alert"})
ADULT = frozenset({"adult"})
NEWBORN = frozenset({"newborn"})
FOAL = frozenset({"foal"})
WEANLING = frozenset({"weanling"})
CALF = frozenset({"calf"})
YOUNG = frozenset({"young"})
BEATS, BREATHS, ROLLS = "beat/min", "breath/min", "contraction/min"

HORSE = {
    "temperature_adult_university": Printed("99", "101", "degF", ADULT, KENTUCKY),
    "temperature_adult_yard": Printed(
        "36.0", "38.0", "degC", ADULT, YARD, statistic="reference interval"
    ),
    "temperature_adult_practice": Printed("99", "101.5", "degF", ADULT, CARLISLE),
    "temperature_foal_extension": Printed(
        "99.5", "102.2", "degF", FOAL | WEANLING, EXTENSION
    ),
    "temperature_foal_practice": Printed(
        "37.2", "38.5", "degC", FOAL | WEANLING, COORANBONG
    ),
    "temperature_newborn_hospital": Printed("37.2", "38.6", "degC", NEWBORN, AVENEL),
    "temperature_newborn_notes": Printed("37.2", "38.8", "degC", NEWBORN, FOAL_NOTES),
    "heart_rate_adult_university": Printed(
        "28", "44", BEATS, ADULT, KENTUCKY, states=CALM
    ),
    "heart_rate_adult_practice": Printed(
        "28", "45", BEATS, ADULT, COORANBONG, states=CALM
    ),
    "heart_rate_weanling": Printed("45", "60", BEATS, WEANLING, EXTENSION, states=CALM),
    "heart_rate_weanling_practice": Printed(
        "50", "70", BEATS, WEANLING, COORANBONG, states=CALM
    ),
    # Cooranbong prints 50 to 70, Kentucky 90 to 120, both for foals without an age.
    "heart_rate_foal": Printed(
        "50", "120", BEATS, FOAL, COORANBONG, states=CALM, provenance="computed"
    ),
    "heart_rate_newborn": Printed("70", "150", BEATS, NEWBORN, KENTUCKY),
    "heart_rate_newborn_second_day": Printed("90", "120", BEATS, NEWBORN, NEW_FOAL),
    "respiratory_rate_adult_extension": Printed(
        "8", "16", BREATHS, ADULT, VIRGINIA, states=CALM
    ),
    "respiratory_rate_adult_magazine": Printed(
        "10", "24", BREATHS, ADULT, THE_HORSE, states=CALM
    ),
    "respiratory_rate_foal_practice": Printed(
        "15", "30", BREATHS, FOAL | WEANLING, COORANBONG, states=CALM
    ),
    "respiratory_rate_foal_performance": Printed(
        "20", "40", BREATHS, FOAL | WEANLING, PERFORMANCE, states=CALM
    ),
    # 20 to 40 (Performance Equine), 30 to 40 (foal notes), 60 to 80 (The Newborn Foal).
    "respiratory_rate_newborn": Printed(
        "20", "80", BREATHS, NEWBORN, PERFORMANCE, provenance="computed"
    ),
    "capillary_refill_time_any": Printed(
        None, "2", "s", ANY, PENN_REFILL, statistic="upper limit"
    ),
    "caecal_sounds_adult": Printed("1", "3", ROLLS, ADULT, WIKIVET),
    # Cooranbong: the caecum empties about every one to two minutes.
    "caecal_sounds_adult_practice": Printed("0.5", "1", ROLLS, ADULT, COORANBONG),
}
DONKEY = {
    # Two rows print Fahrenheit that disagrees with their Celsius: 97.2 and 97.0 F.
    "temperature_adult_service": Printed("36.5", "37.8", "degC", ADULT, SERVICE),
    "temperature_adult_sanctuary": Printed("97.2", "100", "degF", ADULT, SANCTUARY),
    "temperature_adult_table": Printed(
        "36.4", "38.4", "degC", ADULT, TABLE, provenance="memory"
    ),
    "temperature_young_service": Printed("36.2", "38.9", "degC", FOAL | YOUNG, SERVICE),
    "temperature_young_sanctuary": Printed(
        "97.8", "102.1", "degF", FOAL | YOUNG, SANCTUARY
    ),
    "temperature_newborn": Printed("37.5", "38.5", "degC", NEWBORN, SERVICE),
    "heart_rate_adult_sanctuary": Printed(
        "36", "68", BEATS, ADULT, SANCTUARY, states=CALM
    ),
    "heart_rate_adult_service": Printed("38", "48", BEATS, ADULT, SERVICE, states=CALM),
    "heart_rate_young_service": Printed(
        "40", "80", BEATS, FOAL | YOUNG, SERVICE, states=CALM
    ),
    "heart_rate_young_sanctuary": Printed(
        "44", "80", BEATS, FOAL | YOUNG, SANCTUARY, states=CALM
    ),
    "heart_rate_foal": Printed(
        "80", "120", BEATS, NEWBORN | FOAL, SERVICE, states=CALM
    ),
    "respiratory_rate_adult": Printed(
        "12", "44", BREATHS, ADULT, SANCTUARY, states=CALM
    ),
    "respiratory_rate_young": Printed(
        "16", "48", BREATHS, FOAL | YOUNG, SANCTUARY, states=CALM
    ),
    "capillary_refill_time_any": Printed(
        None, "2", "s", ANY, OWNERS, statistic="upper limit"
    ),
    "caecal_sounds_adult": Printed("1", "3", ROLLS, ADULT, WIKIVET),
}
CATTLE = {
    "temperature_adult_beef": Printed("36.7", "39.1", "degC", ADULT, BEEF),
    "temperature_adult_cooperative": Printed("100.4", "102.9", "degF", ADULT, VIRGINIA),
    "temperature_adult_extension": Printed("100.4", "103.1", "degF", ADULT, EXTENSION),
    "temperature_calf_textbook": Printed("38.5", "39.5", "degC", CALF, TEXTBOOK),
    "temperature_calf_extension": Printed("100.0", "102.5", "degF", CALF, GEORGIA),
    # Printed 101 to 102 F too, which is 38.9 at its upper end.
    "temperature_newborn": Printed("38.3", "38.8", "degC", NEWBORN, WISCONSIN),
    "temperature_newborn_first_hour": Printed(
        "38.8", "39.4", "degC", NEWBORN, WISCONSIN
    ),
    "heart_rate_adult_dairy": Printed("48", "84", BEATS, ADULT, NADIS, states=CALM),
    "heart_rate_adult_textbook": Printed("40", "80", BEATS, ADULT, BOVINE, states=CALM),
    "heart_rate_calf_textbook": Printed(
        "70", "120", BEATS, CALF, DUNCANSON, states=CALM
    ),
    "heart_rate_calf_extension": Printed(
        "100", "140", BEATS, CALF, GEORGIA, states=CALM
    ),
    "heart_rate_newborn": Printed("100", "150", BEATS, NEWBORN, WISCONSIN),
    "respiratory_rate_adult_textbook": Printed(
        "15", "30", BREATHS, ADULT, TEXTBOOK, states=CALM
    ),
    "respiratory_rate_adult_dairy": Printed(
        "26", "50", BREATHS, ADULT, NADIS, states=CALM
    ),
    "respiratory_rate_adult_chapter": Printed(
        "10", "30", BREATHS, ADULT, BOVINE, states=CALM
    ),
    "respiratory_rate_calf_textbook": Printed(
        "24", "36", BREATHS, CALF, TEXTBOOK, states=CALM
    ),
    "respiratory_rate_calf_surgery": Printed(
        "20", "24", BREATHS, CALF, DUNCANSON, states=CALM
    ),
    "respiratory_rate_calf_extension": Printed(
        "36", "60", BREATHS, CALF, GEORGIA, states=CALM
    ),
    "respiratory_rate_newborn": Printed("50", "75", BREATHS, NEWBORN, WISCONSIN),
    "capillary_refill_time_newborn": Printed(
        None, "3", "s", NEWBORN, WISCONSIN, statistic="upper limit"
    ),
    "capillary_refill_time_older": Printed(
        None,
        "2",
        "s",
        CALF | YOUNG | ADULT,
        PRACTICE,
        statistic="upper limit",
        provenance="memory",
    ),
    "rumen_contractions_adult_hospital": Printed("1", "3", ROLLS, ADULT, PENN_RUMEN),
    # Printed: four to five complete contractions in five minutes.
    "rumen_contractions_adult_thesis": Printed("0.8", "1", ROLLS, ADULT, LYON),
    "skin_tent_calf": Printed(
        None, "2", "s", NEWBORN | CALF, RIVER_FALLS, statistic="upper limit"
    ),
}
TABLES = {"horse": HORSE, "donkey": DONKEY, "cattle": CATTLE}
ROWS = [
    (species, row_id, printed)
    for species, rows in TABLES.items()
    for row_id, printed in rows.items()
]
# Stupor and coma are grades 4 and 5 of mentation.
STUPOR = ValueSign("mentation", "", "3", ANY, MIZZOU)
VALUE_SIGNS = {
    "horse": {
        "collapse": STUPOR,
    },
    "donkey": {"collapse": STUPOR},
    "cattle": {
        "collapse": STUPOR,
        # McGuirk: below 101 F counts as too cold in a newborn calf.
        "cold_newborn": ValueSign("temperature", "38.3", "", NEWBORN, WISCONSIN),
    },
}
# Limits read, limits recalled.
COUNTS = {"horse": (20, 0), "donkey": (14, 1), "cattle": (23, 1)}


@pytest.mark.reference
@pytest.mark.parametrize(("species", "row_id", "printed"), ROWS)
def test_limit_is_the_one_its_source_prints(species, row_id, printed):
    assert_row_is_as_printed(species, row_id, printed)


@pytest.mark.parametrize("species", TABLES)
def test_no_limit_is_without_a_row_here(species):
    assert_every_limit_is_in(species, TABLES[species])


@pytest.mark.parametrize("species", TABLES)
def test_provenance_is_counted(species):
    assert counted_provenance(species) == COUNTS[species]


@pytest.mark.reference
@pytest.mark.parametrize("species", TABLES)
def test_values_open_only_the_urgent_signs_stated_without_condition(species):
    assert value_signs(species) == VALUE_SIGNS[species]


# Beside those above, with words of the source: hardly responds is grade 3; 7 to 10 is
# severe pain; the composite score over 4; a walker is not kept up with, mobility 3.
CATTLE_TRIGGERS = {
    ("collapse", "mentation", "", "2", "When am I supposed to call the veterinarian?"),
    ("collapse", "calf_attitude", "", "3", CALF_SCORE),
    ("dry_weak", "calf_attitude", "", "2", CALF_SCORE),
    ("dry_weak", "eye_gap", "", "6", "Calf dehydration table"),
    ("dry_weak", "skin_tent", "", "6", RIVER_FALLS),
    ("strong_pain", "pain", "", "6", "0 to 10 Numeric Rating Scale"),
    (
        *("strong_pain", "pain_score", "", "4"),
        "UNESP-Botucatu pain scale in cattle, CC BY (de Oliveira)",
    ),
    (
        *("heat_illness", "respiratory_rate", "", "120"),
        "How to recognize heat stress in cattle (D. Spiers)",
    ),
    (
        *("heat_illness", "panting", "", "3"),
        "Signs of heat stress in feedlots: panting score (Mader 2006)",
    ),
    ("fracture", "mobility", "", "2", "Mobility Score, score sheet"),
    ("fracture", "locomotion", "", "4", LOCOMOTION),
    ("newborn_late", "heart_rate", "80", "", WISCONSIN),
    # Printed 100 °F.
    (
        *("temperature_low", "temperature", "37.8", ""),
        "Caring for hypothermic newborn beef calves",
    ),
}


@pytest.mark.reference
def test_further_limits_of_cattle_are_those_their_sources_print():
    cattle = load_protocol("cattle").protocol
    titles = {s.source_id: s.work or s.title for s in cattle.sources}
    found = {
        (
            *(sign.sign_id, trigger.vital_id, trigger.below, trigger.above),
            titles[trigger.source_id or sign.source_id],
        )
        for sign in cattle.urgent_signs
        for trigger in sign.triggers
    }
    assert found == CATTLE_TRIGGERS
    assert celsius("100") == Decimal("37.8")


@pytest.mark.reference
@pytest.mark.parametrize("species", TABLES)
def test_adult_limit_is_never_applied_to_the_young(species):
    for row in load_protocol(species).protocol.intervals:
        if row.measure_id != "capillary_refill_time":
            assert row.life_stages
            assert "adult" not in row.life_stages or row.life_stages == ("adult",)


def test_stages_of_a_horse_follow_its_age():
    stages = load_protocol("horse").protocol.life_stages
    ages = {0: "newborn", 1: "newborn", 2: "foal", 181: "foal", 182: "weanling"}
    ages |= {364: "weanling", 365: "young", 729: "young", 730: "adult"}
    assert {age: life_stage_of(stages, age) for age in ages} == ages


def test_horse_is_flagged_only_outside_every_published_temperature():
    # One yard 36.0-38.0, Kentucky 99-101 F, Carlisle 99-101.5 F (38.6).
    levels = [
        flag("horse", "temperature", value, "adult", "farm").level
        for value in ("35.9", "36.0", "38.6", "38.7")
    ]
    assert levels == [
        FlagLevel.BELOW,
        FlagLevel.WITHIN,
        FlagLevel.WITHIN,
        FlagLevel.ABOVE,
    ]


def test_foal_of_a_month_with_80_beats_is_between_two_texts_and_not_flagged():
    foal = flag("horse", "heart_rate", "80", "foal", "farm", "resting")
    adult = flag("horse", "heart_rate", "80", "adult", "farm", "resting")
    assert (foal.level, adult.level) == (FlagLevel.WITHIN, FlagLevel.ABOVE)


@pytest.mark.parametrize(
    ("species", "measure_id", "life_stage", "state"),
    [
        ("horse", "heart_rate", "adult", "restrained or stressed"),
        ("horse", "heart_rate", "adult", "after exertion"),
        ("horse", "respiratory_rate", "adult", "hot"),
        ("horse", "heart_rate", "young", "resting"),
        ("horse", "temperature", "young", ""),
        ("donkey", "respiratory_rate", "newborn", "resting"),
        ("donkey", "heart_rate", "adult", "after exertion"),
        ("donkey", "caecal_sounds", "foal", ""),
        ("cattle", "heart_rate", "adult", "restrained or stressed"),
        ("cattle", "respiratory_rate", "adult", "hot"),
        ("cattle", "heart_rate", "young", "resting"),
        ("cattle", "rumen_contractions", "calf", ""),
        ("cattle", "skin_tent", "adult", ""),
    ],
)
def test_nothing_is_flagged_where_nothing_is_published(
    species, measure_id, life_stage, state
):
    found = flag(species, measure_id, "5", life_stage, "farm", state)
    assert found.level is FlagLevel.NONE


def test_dropped_beats_of_a_fit_horse_open_no_urgent_sign():
    heart = load_protocol("horse").protocol.region("heart")
    opened = {term.term_id: term.urgent_sign_id for term in heart.terms}
    assert opened["dropped"] == opened["irregular"] == opened["deficit"] == ""
    assert opened["fast"] == "fast_heart"
    rhythm = next(c.text for c in heart.clauses if c.clause_id == "rhythm")
    assert rhythm.endswith("rhythm regular")
    dropped = next(term for term in heart.terms if term.term_id == "dropped")
    assert "rhythm" in dropped.negates


def test_gut_sounds_are_answered_in_four_quadrants_and_hooves_in_four_feet():
    horse = load_protocol("horse").protocol
    keys = [
        key
        for region_id in ("gut_upper", "gut_lower", "hoof_fore", "hoof_hind")
        for key in horse.region(region_id).answer_keys()
    ]
    assert keys == [
        "gut_upper.left",
        "gut_upper.right",
        "gut_lower.left",
        "gut_lower.right",
        "hoof_fore.left",
        "hoof_fore.right",
        "hoof_hind.left",
        "hoof_hind.right",
    ]


def test_caecum_is_counted_over_two_or_five_minutes():
    vital = load_protocol("horse").protocol.vital("caecal_sounds")
    assert vital.kind is VitalKind.RATE
    assert count_kind(vital) is CountKind.CONTRACTION
    assert offered_windows(None, count_kind(vital))[:2] == (120, 300)
    assert rate(CountAlong(6, 300)).per_minute == Decimal("1.2")


@pytest.mark.parametrize("species", TABLES)
def test_group_check_is_short_and_every_vital_of_it_is_free(species):
    protocol = load_protocol(species).protocol
    group = [r.region_id for r in protocol.regions if Scope.GROUP in r.scopes]
    assert 2 <= len(group) <= 5
    assert [v.vital_id for v in protocol.vitals if Scope.GROUP in v.required_in] == []
    offered = {v.vital_id for v in protocol.vitals if Scope.GROUP in v.scopes}
    assert {"temperature", "respiratory_rate", "body_condition"} <= offered


@pytest.mark.parametrize("species", TABLES)
def test_notifiable_signs_say_report_and_leave_the_rest_to_local_codes(species):
    protocol = load_protocol(species).protocol
    for sign_id in ("blisters", "sudden_death"):
        action = protocol.sign(sign_id).action
        assert "report, local codes decide" in action
        assert protocol.sign(sign_id).on_button
    assert "No hand in the mouth" in protocol.sign("rabies_signs").action


def test_calf_breathing_is_flagged_only_outside_20_to_60():
    # 20-24 (Duncanson), 24-36 (Jackson & Cockcroft), 36-60 (Bohlen).
    levels = [
        flag("cattle", "respiratory_rate", value, "calf", "farm", "resting").level
        for value in ("19", "20", "24", "36", "60", "61")
    ]
    within = [FlagLevel.WITHIN] * 4
    assert levels == [FlagLevel.BELOW, *within, FlagLevel.ABOVE]


def test_cow_breathing_and_rumen_are_flagged_only_outside_every_published_range():
    # Breathing 10-30 and 15-30 (26-50 is almost apart from both and takes no flag
    # away by itself); rumen 0.8-1 and 1-3 a minute.
    breaths = [
        flag("cattle", "respiratory_rate", value, "adult", "farm", "alert").level
        for value in ("9", "10", "30", "31")
    ]
    rolls = [
        flag("cattle", "rumen_contractions", value, "adult", "farm").level
        for value in ("0.7", "0.8", "3.0", "3.1")
    ]
    outside_both = [
        FlagLevel.BELOW,
        FlagLevel.WITHIN,
        FlagLevel.WITHIN,
        FlagLevel.ABOVE,
    ]
    assert breaths == rolls == outside_both


def test_newborn_calf_warmer_than_an_hour_old_one_is_not_flagged():
    # 38.8 to 39.4 right after calving, 38.3 to 38.8 from an hour on (McGuirk).
    calf = flag("cattle", "temperature", "39.2", "newborn", "farm")
    assert calf.level is FlagLevel.WITHIN


def test_udder_is_answered_quarter_by_quarter_with_a_paddle_test():
    cattle = load_protocol("cattle").protocol
    keys = [
        key
        for region_id in ("udder_fore", "udder_rear")
        for key in cattle.region(region_id).answer_keys()
    ]
    assert keys == [
        "udder_fore.left",
        "udder_fore.right",
        "udder_rear.left",
        "udder_rear.right",
    ]
    terms = {t.term_id: t for t in cattle.region("udder_rear").terms}
    assert terms["milk_test"].scale_id == "mastitis_test"
    assert terms["blister"].urgent_sign_id == "blisters"


def test_dairy_condition_moves_in_quarters_and_beef_condition_in_whole_points():
    cattle = load_protocol("cattle").protocol
    dairy = [Decimal(g.value) for g in cattle.scale("body_condition_dairy_5").grades]
    beef = [Decimal(g.value) for g in cattle.scale("body_condition_beef_9").grades]
    assert dairy == [Decimal(n) / 4 for n in range(4, 21)]
    assert beef == [Decimal(n) for n in range(1, 10)]


def test_jugular_pulse_of_the_lower_third_is_usual_in_a_cow():
    neck = load_protocol("cattle").protocol.region("neck")
    assert any("lower third" in limit for limit in neck.awake_limits)
    jugular = next(c.text for c in neck.clauses if c.clause_id == "jugular")
    assert "no pulse above the lower third" in jugular


def test_working_donkey_of_38_degrees_is_not_called_hot():
    # 36.5-37.8 and 36.2-37.8 from Britain, 36.4-38.4 recalled: outside all from 38.5.
    warm = flag("donkey", "temperature", "38.4", "adult", "farm")
    hot = flag("donkey", "temperature", "38.5", "adult", "farm")
    assert (warm.level, hot.level) == (FlagLevel.WITHIN, FlagLevel.ABOVE)
    assert hot.unchecked


def test_any_dullness_of_a_donkey_is_urgent_and_a_slow_heart_does_not_clear_it():
    donkey = load_protocol("donkey").protocol
    terms = {t.term_id: t for t in donkey.region("distance").terms}
    assert terms["dull"].urgent_sign_id == "dull_donkey"
    assert terms["no_feed"].urgent_sign_id == "dull_donkey"
    sign = donkey.sign("dull_donkey")
    assert sign.on_button
    assert "slow heart does not clear it" in sign.action


def test_depth_of_the_thermometer_is_asked_of_a_donkey():
    # 3.5 cm gave a mean of 36.60, 14 cm one of 38.40.
    assert "note the depth" in load_protocol("donkey").protocol.vital("temperature").how


@pytest.mark.reference
@pytest.mark.parametrize(
    ("scale_id", "pairs"),
    [
        # Ferguson: five = (nine + 1) / 2, and nine = 2 x five - 1.
        (
            "body_condition_beef_9",
            {"1": "1", "2": "1.5", "5": "3", "6": "3.5", "8": "4.5", "9": "5"},
        ),
        (
            "body_condition_dairy_5",
            {"1": "1", "2.5": "4", "3": "5", "3.25": "5.5", "4.75": "8.5", "5": "9"},
        ),
    ],
)
def test_condition_of_cattle_is_shown_on_the_other_scale_by_the_published_rule(
    scale_id, pairs
):
    scale = load_protocol("cattle").protocol.scale(scale_id)
    (rule,) = scale.conversions
    shown = {value: converted(give_grade(scale, value), rule) for value in pairs}
    assert shown == {value: Decimal(other) for value, other in pairs.items()}
    assert rule.source_id == "ferguson"


def test_converted_number_stands_beside_the_grade_that_was_given():
    scale = load_protocol("cattle").protocol.scale("body_condition_beef_9")
    assert show_grade(give_grade(scale, "6"), scale) == (
        "Body condition 6/9: good, firm pressure to feel the spine "
        "(3.5 on 1 to 5 by conversion)"
    )


def test_condition_of_horses_and_donkeys_is_never_converted():
    for species in ("horse", "donkey"):
        protocol = load_protocol(species).protocol
        assert not any(scale.conversions for scale in protocol.scales)
