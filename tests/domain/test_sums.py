"""The trade's sums against the worked examples of their sources.

"Published" examples are printed by the source named; "worked" ones were worked out by
hand from the printed rule, apart from this program.
"""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from exam_app.domain.animal.due_dates import (
    DateOrderError,
    PregnancyWindow,
    age_in_days,
    due_windows,
    read_day,
)
from exam_app.domain.errors import ReadingError, UnitMismatchError
from exam_app.domain.measure.sums import (
    DoseError,
    Prescription,
    SumError,
    dose_volume,
    fluid_deficit,
    lump_volume,
    maintenance_fluid,
    resting_energy,
    shock_index,
    weight_change,
)
from exam_app.domain.measure.units import Reading
from exam_app.protocols.loader import available, pregnancy_windows, table_sources

EXAMPLES = [
    ("worked, merck_nutr", resting_energy(Decimal(10))[0], "394 kcal/day"),
    ("worked, merck_nutr", resting_energy(Decimal(10))[1], "370 kcal/day"),
    ("worked, merck_nutr", resting_energy(Decimal("4.5"))[0], "216 kcal/day"),
    ("worked, merck_nutr", resting_energy(Decimal(30))[0], "897 kcal/day"),
    ("published, zuku", fluid_deficit(Decimal(10), Decimal(8)), "800 mL"),
    ("published, zuku", fluid_deficit(Decimal("4.4"), Decimal(7)), "308 mL"),
    ("worked, aaha2013fluid", maintenance_fluid("dog", Decimal(10)), "742 mL/day"),
    ("worked, aaha2013fluid", maintenance_fluid("cat", Decimal("4.4")), "243 mL/day"),
    (
        "common practice, no source",
        weight_change(Decimal("10.0"), Decimal("9.2")),
        "-8.0 %",
    ),
    ("worked, tumvol", lump_volume((Decimal(15), Decimal(10), Decimal(10))), "785 mm³"),
    ("worked, tumvol", lump_volume((Decimal(15), Decimal(10))), "785 mm³"),
    (
        "published group values, porter2013",
        shock_index("dog", Decimal(150), Decimal(112)),
        "1.34",
    ),
]


@pytest.mark.reference
@pytest.mark.parametrize(
    ("source", "found", "shown"),
    EXAMPLES,
    ids=[f"{found.label}: {source}" for source, found, _ in EXAMPLES],
)
def test_a_sum_gives_the_result_of_its_worked_example(source, found, shown):
    assert found.shown == shown
    assert found.source_id in {*table_sources(), "common_practice"}
    assert found.source_id.replace("common_practice", "common practice") in source


def test_the_straight_line_rule_is_left_out_where_it_does_not_hold():
    assert len(resting_energy(Decimal("1.9"))) == 1
    assert len(resting_energy(Decimal(2))) == 2
    assert len(resting_energy(Decimal(45))) == 2
    assert len(resting_energy(Decimal("45.1"))) == 1


def test_energy_fluid_and_index_are_for_the_veterinarian():
    for found in (
        *resting_energy(Decimal(10)),
        fluid_deficit(Decimal(10), Decimal(8)),
        maintenance_fluid("dog", Decimal(10)),
        shock_index("dog", Decimal(150), Decimal(112)),
    ):
        assert found.is_for_veterinarian


def test_maintenance_has_no_rule_for_a_horse():
    with pytest.raises(SumError):
        maintenance_fluid("horse", Decimal(500))


def test_a_cats_index_never_shows_the_dogs_mark():
    note = shock_index("cat", Decimal(180), Decimal(120)).note
    assert "1.0 " not in note
    assert "0.9 " not in note
    assert "1.54" in note


@pytest.mark.parametrize(
    "refused",
    [
        lambda: resting_energy(Decimal(0)),
        lambda: fluid_deficit(Decimal(10), Decimal(0)),
        lambda: fluid_deficit(Decimal(10), Decimal("15.1")),
        lambda: weight_change(Decimal(0), Decimal(1)),
        lambda: lump_volume((Decimal(10),)),
        lambda: lump_volume((Decimal(10), Decimal(0))),
        lambda: shock_index("dog", Decimal(120), Decimal(0)),
    ],
)
def test_a_number_outside_its_sum_is_refused(refused):
    with pytest.raises(SumError):
        refused()


# --- Dose volume: follows from the units alone; common practice, no source


def weight(typed, unit="kg"):
    return Reading(typed, unit, Decimal(typed))


def ordered(dose, concentration, prescriber="Dr Invented"):
    return Prescription(prescriber, dose, concentration)


@pytest.mark.parametrize(
    ("dose", "concentration", "body", "exact", "drawn"),
    [
        ("0.2 mg/kg", "5 mg/mL", weight("12.5"), "0.5000", "0.50"),
        ("200 µg/kg", "5 mg/mL", weight("12.5"), "0.5000", "0.50"),
        ("200 mcg/kg", "5 mg/ml", weight("12.5"), "0.5000", "0.50"),
        ("22000 IU/kg", "300000 IU/mL", weight("450"), "33.0000", "33.00"),
        ("0,2 mg/kg", "5 mg/mL", weight("12.5"), "0.5000", "0.50"),
        ("1 mg/lb", "100 mg/mL", weight("100", "lb"), "1.0000", "1.00"),
    ],
)
def test_a_dose_volume_follows_from_the_units(dose, concentration, body, exact, drawn):
    found = dose_volume(ordered(dose, concentration), body, Decimal("0.01"))
    assert str(found.exact_ml) == exact
    assert str(found.drawn_ml) == drawn


def test_rounding_to_the_syringe_says_how_far_it_is_off():
    found = dose_volume(ordered("0.2 mg/kg", "5 mg/mL"), weight("12.3"), Decimal("0.1"))
    assert str(found.exact_ml) == "0.4920"
    assert str(found.drawn_ml) == "0.5"
    assert str(found.off_percent) == "1.6"


@pytest.mark.parametrize(
    ("dose", "concentration"),
    [
        ("0.2 mg/kg", "5 IU/mL"),
        ("0.2 mL/kg", "5 mg/mL"),
        ("0.2 mg/mL", "5 mg/kg"),
        ("0.2 mg/kg", "5 %"),
        ("0.2 mg/kg", "5"),
        ("0.2", "5 mg/mL"),
        ("0.2 mg", "5 mg/mL"),
        ("0.2 mg/kg", "5 mg/tablet"),
        ("0 mg/kg", "5 mg/mL"),
        ("0.2 mg/kg", "0 mg/mL"),
    ],
)
def test_a_dose_whose_units_do_not_cancel_is_refused(dose, concentration):
    with pytest.raises(DoseError):
        dose_volume(ordered(dose, concentration), weight("10"), Decimal("0.01"))


def test_a_dose_without_a_prescriber_is_refused():
    with pytest.raises(DoseError):
        dose_volume(ordered("1 mg/kg", "5 mg/mL", " "), weight("10"), Decimal("0.01"))


def test_a_dose_that_can_be_read_two_ways_is_refused():
    with pytest.raises(ReadingError):
        dose_volume(ordered("1,234 mg/kg", "5 mg/mL"), weight("10"), Decimal("0.01"))


def test_a_volume_below_the_first_mark_is_refused():
    with pytest.raises(DoseError):
        dose_volume(ordered("0.01 mg/kg", "50 mg/mL"), weight("1"), Decimal("0.1"))


def test_a_dose_by_a_temperature_is_refused():
    with pytest.raises(UnitMismatchError):
        dose_volume(ordered("1 mg/kg", "5 mg/mL"), weight("38", "degC"), Decimal("0.1"))


# --- Dates


def test_age_counts_whole_days_over_a_leap_day():
    """29 February 2024 is a day (Gregorian calendar)."""
    assert age_in_days(date(2024, 2, 28), date(2024, 3, 1)) == 2
    assert age_in_days(date(2023, 2, 28), date(2023, 3, 1)) == 1


@pytest.mark.reference
@pytest.mark.parametrize(
    ("species", "low", "high", "source"),
    [
        ("dog", 58, 68, "vetasst"),
        ("cat", 63, 69, "vetasst"),
        ("cattle", 279, 287, "vetasst"),
        ("sheep", 144, 153, "sheepbook"),
        ("horse", 305, 380, "f2_vt_gest"),
        ("rabbit", 29, 35, "vetasst"),
        ("camelid", 332, 352, "f2_msd_camelid"),
        ("pig", 111, 120, "farmers_weekly_pig"),
    ],
)
def test_a_due_window_is_the_published_one(species, low, high, source):
    service = date(2026, 1, 1)
    found = due_windows(pregnancy_windows(species), service, date(2026, 6, 1))
    spans = {
        ((due.earliest - service).days, (due.latest - service).days): due
        for due in found
    }
    assert spans[(low, high)].window.source_id == source
    assert source in table_sources()


@pytest.mark.reference
@pytest.mark.parametrize(
    ("species", "days", "source"),
    [
        ("pig", 114, "vetasst"),
        ("horse", 340, "vetasst"),
        ("sheep", 150, "vetasst"),
        ("donkey", 371, "f2_carluccio2015"),
    ],
)
def test_one_number_of_a_source_is_no_window_and_stands_after_the_windows(
    species, days, source
):
    service = date(2026, 1, 1)
    found = due_windows(pregnancy_windows(species), service, date(2026, 6, 1))
    single = [due for due in found if due.about is not None]
    (due,) = (due for due in single if due.window.source_id == source)
    assert due.about == service + timedelta(days=days)
    assert found[-len(single) :] == tuple(single)


def test_no_length_of_pregnancy_is_a_window_of_one_day():
    species = {row for row in available() if pregnancy_windows(row)}
    assert len(species) >= 12
    for row in species:
        for window in pregnancy_windows(row):
            assert window.problem == ""
            assert window.low_days is None or window.low_days < window.high_days
    assert PregnancyWindow("pig", "s", 114, 114).problem
    assert PregnancyWindow("pig", "s", 114).problem
    assert PregnancyWindow("pig", "s").problem
    assert PregnancyWindow("pig", "s", mean_days=Decimal(114)).problem == ""


def test_a_dog_has_two_windows_side_by_side_since_sources_differ():
    found = due_windows(pregnancy_windows("dog"), date(2026, 1, 1), date(2026, 1, 2))
    assert len(found) == 2


@pytest.mark.parametrize("typed", ["", "31.12.2026", "2026-02-30", "soon"])
def test_what_is_no_day_is_refused(typed):
    with pytest.raises(DateOrderError):
        read_day(typed)


def test_a_birth_or_service_after_today_is_refused():
    today = date(2026, 1, 1)
    with pytest.raises(DateOrderError):
        age_in_days(date(2026, 1, 2), today)
    with pytest.raises(DateOrderError):
        due_windows(pregnancy_windows("dog"), date(2026, 1, 2), today)
