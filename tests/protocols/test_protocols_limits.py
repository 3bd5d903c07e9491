"""Every published limit of dog and cat against the row it was taken from.

Each line holds the numbers as the source prints them, with the title of that source;
nothing here is read from the protocols. Where a source prints Celsius and Fahrenheit
that disagree, the Celsius pair is expected. "memory" marks a figure nobody has checked.
"""

from decimal import Decimal
from typing import NamedTuple

import pytest

from exam_app.domain.protocol.intervals import applicable, flag_reading, is_limit
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.protocols.loader import load_protocol
from tests.published_rows import full_title

DORN = (
    "Calculation of a Reference Interval for Rectal Temperature in Adult Dogs "
    "(Dorn, Bogedale, Pankraz, Neiger)"
)
KONIETSCHKE = (
    "Earlier reference range of 238 dogs (Konietschke and others), as tabulated by "
    "Dorn and others, 2024"
)
TEXTBOOKS = (
    "The textbook range that a study set out to replace, as cited by Levy, Nutt and "
    "Tucker"
)
TRIAGE = "Table: Parameters to Evaluate During Triage"
PRACTICE = "Common clinical practice, no single source"
PETERSON = (
    "Assessment of shock index in healthy dogs and dogs in hemorrhagic "
    "shock (Peterson, Hardy, Hall)"
)
SACN5 = "Small Animal Clinical Nutrition, 5th ed."
NEONATOLOGY = "Neonatology (chapter 13)"
DOHVH = "Dog Owner's Home Veterinary Handbook, 4th ed."
NELSON = "Small Animal Internal Medicine 6th ed. (Nelson, Couto)"
RISHNIW = "Sleeping respiratory rates in apparently healthy adult dogs (Rishniw et al.)"
CTS = "AGR-2020 Cat and Dog Husbandry and Welfare: how to monitor vital signs"
DVM360 = "Pediatric emergencies (proceedings)"
LEVY = (
    "Reference interval for rectal temperature in healthy confined adult "
    "cats (Levy, Nutt, Tucker)"
)
SACN5K = "Small Animal Clinical Nutrition 5th ed., kitten chapter"
LITTLE = "Neonatal kitten care (Little)"
DIJKSTRA = (
    "Respiratory rate of clinically healthy cats measured in consultation "
    "rooms (Dijkstra, Teske, Szatmari)"
)
IASRI = "Respiratory Frequency"
MIZZOU = "Recognizing a medical emergency in small animals"
VIN_FEVER = "Fever: first aid"
VIN_COLD = "Hypothermia: first aid"
ILLINOIS = "ANSC 207 Neonatal Care and Orphans, chilling slide"
LJUNGVALL = (
    "Sleeping and resting respiratory rates of healthy adult cats "
    "(Ljungvall and others)"
)

HANDLED = {"resting", "alert", "restrained or stressed"}
AWAY = {"clinic", "shelter"}
KITTEN = {"first_day", "first_week", "weeks_2_3"}
ANY: set[str] = set()


class Printed(NamedTuple):
    """One row as its source prints it, and what it is compared with."""

    low: str | None
    high: str
    life_stages: set[str]
    settings: set[str]
    states: set[str]
    statistic: str
    provenance: str
    title: str


DOG = {
    "temperature_adult_dorn": Printed(
        "37.7",
        "39.5",
        {"adult"},
        ANY,
        ANY,
        "95% reference interval",
        "read",
        DORN,
    ),
    "temperature_adult_earlier": Printed(
        "37.2",
        "39.2",
        {"adult"},
        ANY,
        ANY,
        "range",
        "read",
        KONIETSCHKE,
    ),
    "temperature_adult_hospital": Printed(
        "37.5",
        "39.9",
        {"adult"},
        {"clinic"},
        ANY,
        "observed range",
        "read",
        PETERSON,
    ),
    "temperature_juvenile_span": Printed(
        "37.7",
        "39.2",
        {"juvenile"},
        ANY,
        ANY,
        "range",
        "computed",
        DOHVH,
    ),
    "temperature_nursling_weeks_2_to_4": Printed(
        "36.0",
        "37.8",
        {"nursling"},
        ANY,
        ANY,
        "range",
        "read",
        SACN5,
    ),
    "temperature_nursling_weeks_2_to_3": Printed(
        "37.0",
        "38.2",
        {"nursling"},
        ANY,
        ANY,
        "range",
        "read",
        NEONATOLOGY,
    ),
    "temperature_newborn_weeks_1_to_2": Printed(
        "34.5",
        "37.2",
        {"newborn"},
        ANY,
        ANY,
        "range",
        "read",
        SACN5,
    ),
    "temperature_newborn_handbook": Printed(
        "34.4",
        "36.1",
        {"newborn"},
        ANY,
        ANY,
        "range",
        "read",
        DOHVH,
    ),
    "heart_rate_adult_triage": Printed(
        "60",
        "120",
        {"adult"},
        ANY,
        {"resting", "alert"},
        "range",
        "computed",
        TRIAGE,
    ),
    "heart_rate_adult_clinic": Printed(
        "60",
        "160",
        {"adult"},
        AWAY,
        HANDLED,
        "range",
        "read",
        NELSON,
    ),
    "heart_rate_adult_hospital": Printed(
        "80",
        "150",
        {"adult"},
        {"clinic"},
        HANDLED,
        "observed range",
        "read",
        PETERSON,
    ),
    "heart_rate_juvenile": Printed(
        None,
        "220",
        {"juvenile"},
        ANY,
        HANDLED,
        "upper limit",
        "read",
        NELSON,
    ),
    "heart_rate_nursling": Printed(
        "180",
        "220",
        {"nursling"},
        ANY,
        ANY,
        "range",
        "computed",
        SACN5,
    ),
    "heart_rate_newborn": Printed(
        "160",
        "240",
        {"newborn"},
        ANY,
        ANY,
        "range",
        "computed",
        DOHVH,
    ),
    "respiratory_rate_adult_asleep_home": Printed(
        None,
        "30",
        {"adult"},
        {"home"},
        {"asleep"},
        "upper limit",
        "read",
        RISHNIW,
    ),
    "respiratory_rate_adult_resting": Printed(
        "10",
        "34",
        {"adult"},
        ANY,
        {"resting"},
        "range",
        "read",
        CTS,
    ),
    "respiratory_rate_newborn": Printed(
        "15",
        "35",
        {"newborn", "nursling"},
        ANY,
        ANY,
        "range",
        "read",
        DVM360,
    ),
    "capillary_refill_time_any": Printed(
        None,
        "2",
        ANY,
        ANY,
        ANY,
        "upper limit",
        "read",
        TRIAGE,
    ),
}
CAT = {
    "temperature_levy": Printed(
        "36.7",
        "38.9",
        {"juvenile", "adult"},
        {"clinic", "home", "shelter"},
        ANY,
        "95% reference interval (CLSI)",
        "read",
        LEVY,
    ),
    "temperature_traditional": Printed(
        "37.7",
        "39.2",
        {"juvenile", "adult"},
        ANY,
        ANY,
        "range",
        "read",
        TEXTBOOKS,
    ),
    "temperature_first_day": Printed(
        "33.3",
        "35.5",
        {"first_day"},
        ANY,
        ANY,
        "range",
        "read",
        SACN5K,
    ),
    "temperature_first_week": Printed(
        "35.6",
        "36.7",
        {"first_day", "first_week"},
        ANY,
        ANY,
        "range",
        "memory",
        PRACTICE,
    ),
    "temperature_weeks_1_to_3": Printed(
        "36.0",
        "37.0",
        KITTEN,
        ANY,
        ANY,
        "range",
        "read",
        LITTLE,
    ),
    "heart_rate_adult_clinic": Printed(
        "120",
        "240",
        {"adult"},
        AWAY,
        HANDLED,
        "range",
        "read",
        NELSON,
    ),
    "heart_rate_adult_triage": Printed(
        "120",
        "200",
        {"adult"},
        AWAY,
        HANDLED,
        "range",
        "read",
        TRIAGE,
    ),
    "heart_rate_newborn": Printed(
        "220",
        "260",
        KITTEN,
        ANY,
        ANY,
        "range",
        "memory",
        PRACTICE,
    ),
    "respiratory_rate_adult_clinic": Printed(
        "32",
        "135",
        {"adult"},
        {"clinic"},
        HANDLED,
        "95% reference interval",
        "read",
        DIJKSTRA,
    ),
    "respiratory_rate_adult_home": Printed(
        "16",
        "60",
        {"adult"},
        {"home"},
        {"resting"},
        "observed range",
        "read",
        DIJKSTRA,
    ),
    "respiratory_rate_adult_resting": Printed(
        "20",
        "40",
        {"adult"},
        {"clinic", "home"},
        {"resting"},
        "range",
        "read",
        IASRI,
    ),
    "respiratory_rate_adult_asleep_home": Printed(
        None,
        "30",
        {"adult"},
        {"home"},
        {"asleep"},
        "upper limit",
        "read",
        LJUNGVALL,
    ),
    "respiratory_rate_newborn": Printed(
        "15",
        "35",
        KITTEN | {"week_4"},
        ANY,
        ANY,
        "range",
        "read",
        SACN5K,
    ),
    "capillary_refill_time_any": Printed(
        None,
        "2",
        ANY,
        ANY,
        ANY,
        "upper limit",
        "read",
        TRIAGE,
    ),
}
ROWS = [
    *(("dog", row_id, printed) for row_id, printed in DOG.items()),
    *(("cat", row_id, printed) for row_id, printed in CAT.items()),
]


class Opens(NamedTuple):
    """What opens a sign by a number: the limits its source prints, and when."""

    vital_id: str
    below: str
    above: str
    title: str
    life_stages: set[str] = ANY
    states: set[str] = ANY
    settings: set[str] = ANY
    twice: bool = False
    or_unknown_age: bool = False


AT_REST = {"asleep", "resting"}
SLEEPING_RATE = "Home breathing rate evaluation (Weir, Gordon)"
PAIN = "Pain scores of a sterilisation clinic (table 2: 7 is severe)"
REDFLAG = "Red Flag Medical Conditions"
HOSPITAL = "Definite emergencies list (heatstroke > 104 F)"
# A limit without a condition opens its sign at once; one that its source wants counted
# again, or sees only in a state, a setting or a life stage, under that condition.
SHARED_OPENS = {
    # Grades 4 and 5 of mentation are stupor and coma, 3 is "hardly responds".
    "collapse": [Opens("mentation", "", "3", MIZZOU)],
    "very_dull": [Opens("mentation", "4", "2", REDFLAG)],
    "strong_pain": [Opens("pain", "", "6", PAIN)],
    "slow_refill": [Opens("capillary_refill_time", "", "2", TRIAGE)],
    "temperature_high": [Opens("temperature", "", "40.8", VIN_FEVER)],
    # Adult temperatures are reached by four weeks; a stray's age is not known.
    "temperature_low": [
        Opens(
            "temperature",
            "36.7",
            "",
            VIN_COLD,
            {"juvenile", "adult"},
            or_unknown_age=True,
        )
    ],
    "fast_asleep": [
        Opens(
            "respiratory_rate",
            "",
            "30",
            SLEEPING_RATE,
            {"adult"},
            {"asleep"},
            twice=True,
            or_unknown_age=True,
        )
    ],
}


def fast_heart(above):
    return [
        Opens(
            vital_id,
            "",
            above,
            TRIAGE,
            {"adult"},
            AT_REST,
            twice=True,
            or_unknown_age=True,
        )
        for vital_id in ("heart_rate", "pulse_rate")
    ]


DOG_OPENS = {
    **SHARED_OPENS,
    # 104 °F, below what is told at once.
    "fever": [Opens("temperature", "40.9", "40.0", HOSPITAL, twice=True)],
    "fast_heart": fast_heart("180"),
    "cold_newborn": [
        Opens("temperature", "32.0", "", ILLINOIS, {"newborn", "nursling"})
    ],
    "head_injury": [
        Opens(
            "coma_scale",
            "9",
            "",
            "Modified Glasgow coma scale in head trauma in dogs (Platt et al.)",
        )
    ],
}
CAT_OPENS = {
    **SHARED_OPENS,
    # 103 °F, below what is told at once.
    "fever": [Opens("temperature", "40.9", "39.4", VIN_FEVER, twice=True)],
    "fast_heart": fast_heart("220"),
    "slow_heart": [
        Opens(
            vital_id,
            "120",
            "",
            TRIAGE,
            {"juvenile", "adult"},
            HANDLED,
            AWAY,
            or_unknown_age=True,
        )
        for vital_id in ("heart_rate", "pulse_rate")
    ],
    # More than 0.39 of the total is 4 of 10.
    "face_pain": [
        Opens("face_pain", "", "3", "Feline Grimace Scale (Evangelista et al., CC BY)")
    ],
    "cold_newborn": [Opens("temperature", "32.0", "", ILLINOIS, KITTEN | {"week_4"})],
}


def flag(species, measure_id, value, life_stage, setting, state=""):
    protocol = load_protocol(species).protocol
    vital = protocol.vital(measure_id)
    assert vital is not None
    assert vital.measure is not None
    rows = applicable(protocol.intervals, measure_id, life_stage, setting, state)
    return flag_reading(
        Decimal(value), vital.measure, rows, None, protocol.source_titles()
    )


@pytest.mark.reference
@pytest.mark.parametrize(("species", "row_id", "printed"), ROWS)
def test_limit_is_the_one_its_source_prints(species, row_id, printed):
    protocol = load_protocol(species).protocol
    row = next(i for i in protocol.intervals if i.interval_id == row_id)
    assert row.low == (None if printed.low is None else Decimal(printed.low))
    assert row.high == Decimal(printed.high)
    assert set(row.life_stages) == printed.life_stages
    assert set(row.settings) == printed.settings
    assert set(row.states) == printed.states
    assert row.statistic == printed.statistic
    assert row.provenance == printed.provenance
    assert full_title(protocol, row.source_id) == printed.title


@pytest.mark.parametrize(("species", "rows"), [("dog", DOG), ("cat", CAT)])
def test_no_limit_is_without_a_row_here(species, rows):
    protocol = load_protocol(species).protocol
    assert {row.interval_id for row in protocol.intervals} == set(rows)


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_every_number_has_a_source_and_every_row_is_a_limit(species):
    protocol = load_protocol(species).protocol
    titles = protocol.source_titles()
    assert all(titles[row.source_id] for row in protocol.intervals)
    assert all(is_limit(row) for row in protocol.intervals)


def test_provenance_is_counted(record_property):
    for species, expected in (("dog", (14, 0)), ("cat", (12, 2))):
        rows = load_protocol(species).protocol.intervals
        read = sum(row.provenance == "read" for row in rows)
        recalled = sum(row.provenance == "memory" for row in rows)
        record_property(species, f"{read} read, {recalled} from memory")
        print(f"{species}: {read} limits read, {recalled} from memory")
        assert (read, recalled) == expected


@pytest.mark.reference
@pytest.mark.parametrize(
    ("species", "expected"), [("dog", DOG_OPENS), ("cat", CAT_OPENS)]
)
def test_numbers_open_the_signs_that_their_sources_give_a_limit_for(species, expected):
    protocol = load_protocol(species).protocol
    found = {
        sign.sign_id: [
            Opens(
                trigger.vital_id,
                trigger.below,
                trigger.above,
                full_title(protocol, trigger.source_id or sign.source_id),
                set(trigger.life_stages),
                set(trigger.states),
                set(trigger.settings),
                trigger.counted_twice,
                trigger.or_unknown_age,
            )
            for trigger in sign.every_trigger()
        ]
        for sign in protocol.urgent_signs
        if sign.every_trigger()
    }
    assert found == expected


def test_dog_in_a_clinic_is_flagged_only_outside_every_published_temperature():
    # Dorn 37.7-39.5, the earlier range 37.2-39.2, healthy hospital dogs 37.5-39.9.
    levels = [
        flag("dog", "temperature", value, "adult", "clinic").level
        for value in ("37.1", "37.2", "39.9", "40.0")
    ]
    assert levels == [
        FlagLevel.BELOW,
        FlagLevel.WITHIN,
        FlagLevel.WITHIN,
        FlagLevel.ABOVE,
    ]


def test_healthy_cool_cat_indoors_is_not_called_cold():
    # 37.0 is within 36.7-38.9 (Levy 2015), below the textbook's 37.7.
    cat = flag("cat", "temperature", "37.0", "adult", "clinic")
    assert cat.level is FlagLevel.WITHIN


def test_cat_breathing_64_in_a_consulting_room_is_within_and_asleep_at_home_above():
    # 64 is the median of healthy cats in a consulting room (Dijkstra 2018).
    clinic = flag("cat", "respiratory_rate", "64", "adult", "clinic", "alert")
    home = flag("cat", "respiratory_rate", "64", "adult", "home", "asleep")
    assert (clinic.level, home.level) == (FlagLevel.WITHIN, FlagLevel.ABOVE)


@pytest.mark.parametrize(
    ("species", "measure_id", "life_stage", "setting", "state"),
    [
        ("dog", "heart_rate", "adult", "clinic", "asleep"),
        ("dog", "heart_rate", "adult", "clinic", "after exertion"),
        ("dog", "respiratory_rate", "adult", "clinic", "hot"),
        ("dog", "respiratory_rate", "juvenile", "home", "resting"),
        ("cat", "heart_rate", "adult", "home", "resting"),
        ("cat", "respiratory_rate", "adult", "shelter", "alert"),
        ("cat", "temperature", "week_4", "clinic", ""),
    ],
)
def test_nothing_is_flagged_where_nothing_is_published(
    species, measure_id, life_stage, setting, state
):
    found = flag(species, measure_id, "5", life_stage, setting, state)
    assert found.level is FlagLevel.NONE


@pytest.mark.reference
def test_adult_heart_rates_are_never_used_for_the_young():
    for species in ("dog", "cat"):
        protocol = load_protocol(species).protocol
        for row in protocol.intervals:
            if row.measure_id in {"heart_rate", "respiratory_rate"}:
                assert row.life_stages
                assert "adult" not in row.life_stages or row.life_stages == ("adult",)


def test_recalled_kitten_heart_rate_is_marked_not_checked():
    kitten = flag("cat", "heart_rate", "300", "first_week", "shelter")
    assert kitten.level is FlagLevel.ABOVE
    assert kitten.unchecked
