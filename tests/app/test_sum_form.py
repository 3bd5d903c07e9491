"""The sums beside an exam: what each asks, and what it says of what was typed.

Expected numbers come from the worked examples of ``test_sums``; here only the form.
"""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from exam_app.app.forms.sum_form import FOR_VETERINARIAN, kinds_for, work_out
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.measure.units import Reading
from tests.exam_samples import new_exam

TODAY = date(2026, 6, 1)


def kind(key, exam=None):
    kinds = kinds_for(exam or new_exam(), TODAY)
    return next(found for found in kinds if found.key == key)


def worked(key, **typed):
    return work_out(kind(key), typed)


DOSE = {
    "prescriber": "Dr Invented",
    "dose": "0.2 mg/kg",
    "concentration": "5 mg/mL",
    "weight": "12.3 kg",
    "step": "0.1",
}


def test_a_dose_says_what_to_draw_up_and_how_far_off_the_mark_is():
    found = worked("dose", **DOSE)
    assert found.lines[0] == "Draw up 0.5 mL (1.6 % from the exact volume)"
    assert "0.4920 mL" in found.lines[1]
    assert "Dr Invented" in found.lines[2]


@pytest.mark.parametrize("name", DOSE)
def test_a_dose_without_one_of_its_parts_is_not_worked_out(name):
    found = worked("dose", **{**DOSE, name: " "})
    assert found.problem
    assert not found.lines


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("dose", "0.2"),
        ("concentration", "5 %"),
        ("weight", "12.3 °C"),
        ("weight", "heavy"),
        ("step", "0"),
    ],
)
def test_what_cannot_be_worked_out_says_why(name, typed):
    assert worked("dose", **{**DOSE, name: typed}).problem


def test_the_weight_this_exam_has_stands_in_the_field():
    exam = new_exam()
    entry = VitalEntry(reading=Reading("22 lb 9 oz", "lb", Decimal("22.5625")))
    weighed = replace(exam, vitals={"weight": entry})
    field = next(f for f in kind("energy", weighed).asks if f.name == "weight")
    assert field.start == "22 lb 9 oz"


def test_energy_and_fluid_are_said_to_be_for_the_veterinarian():
    for found in (
        worked("energy", weight="10 kg"),
        worked("deficit", weight="10 kg", percent="8"),
        worked("fluid", weight="10 kg"),
    ):
        assert any(FOR_VETERINARIAN in line for line in found.lines)
        assert any("Source:" in line for line in found.lines)


def test_a_due_date_shows_every_source_beside_the_other():
    found = worked("due", service="2026-04-01")
    assert found.lines[0].startswith("2026-05-29 to 2026-06-08: 58 to 68 days")
    assert len(found.lines) == 2


def test_one_number_for_a_pig_is_said_to_be_one_and_never_a_window():
    exam = new_exam()
    pig = replace(exam, animal=replace(exam.animal, species="pig"))
    found = work_out(kind("due", pig), {"service": "2026-04-01"})
    window, single = found.lines
    assert window.startswith("2026-07-21 to 2026-07-30: 111 to 120 days (")
    assert single.startswith(
        "About 2026-07-24: about 114 days, one number without a window ("
    )


def test_an_age_is_counted_to_today():
    assert worked("age", birth="2026-05-01").lines == ("Age today: 4 weeks (31 days)",)
    assert worked("age", birth="2026-06-02").problem


def test_a_lump_may_leave_its_height_out():
    assert worked("lump", length="15 mm", width="1 cm").lines[0].endswith("785 mm³")


def test_a_horse_is_offered_no_sum_of_dogs_and_cats():
    exam = new_exam()
    horse = replace(exam, animal=replace(exam.animal, species="horse"))
    offered = {found.key for found in kinds_for(horse, TODAY)}
    assert {"dose", "due", "age"} <= offered
    assert not {"energy", "fluid", "deficit", "index"} & offered


def test_an_index_needs_a_pressure():
    found = worked("index", heart="150", systolic="")
    assert "Systolic" in found.problem
    assert worked("index", heart="150", systolic="112").lines[0] == "Shock index: 1.34"
