"""What the sheets around an exam ask, and what they make of the answers."""

import dataclasses
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exam_app.app.forms import visit_forms as forms
from exam_app.app.view import visit_presenter as shown
from exam_app.app.view.visit_presenter import Part
from exam_app.domain.errors import UnknownItemError
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.visit import (
    Care,
    Given,
    Intake,
    Plan,
    Presentation,
    Procedure,
    Sample,
)
from exam_app.domain.exam.visit_transitions import record_visit, take_back
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import Scope
from tests.exam_samples import BY, NOW, TECHNICIAN, VETERINARIAN, new_exam

COW = forms.given_asks("cattle", NOW, ["Dr Ondine"])
PLAIN_ONLY = (
    "presenting complaint",
    "consent",
    "history",
    "isolation",
    "assessment",
    "differentials",
)
FORMS = {
    Presentation: forms.PRESENTATION,
    Intake: forms.INTAKE,
    Procedure: forms.PROCEDURE,
    Sample: forms.SAMPLE,
    Care: forms.CARE,
    Plan: forms.plan_asks(Role.VETERINARIAN),
    Given: COW,
}


@pytest.mark.parametrize("kind", FORMS, ids=lambda kind: kind.__name__)
def test_form_asks_for_every_field_of_its_part_once(kind):
    asked = [ask.name for ask in FORMS[kind]]
    # Written down by the app: whose entry it is.
    known = {"attribution", "scans"}
    fields = {f.name for f in dataclasses.fields(kind)} - known
    assert sorted(asked) == sorted(fields)


@pytest.mark.parametrize("kind", FORMS, ids=lambda kind: kind.__name__)
def test_few_fields_come_first(kind):
    # Of what a food animal was given the lot is asked too.
    assert sum(not ask.is_more for ask in FORMS[kind]) <= 6 + (kind is Given)


def test_lot_is_asked_at_once_for_an_animal_that_is_eaten_and_else_under_more():
    assert not next(ask for ask in COW if ask.name == "lot").is_more
    dog = forms.given_asks("dog", NOW, [])
    assert next(ask for ask in dog if ask.name == "lot").is_more


def test_volunteer_reads_no_trade_word():
    asks = [ask for kind, all_ in FORMS.items() if kind is not Plan for ask in all_]
    asks += forms.plan_asks(Role.VOLUNTEER)
    labels = " ".join(ask.in_words(Role.VOLUNTEER).lower() for ask in asks)
    assert not [word for word in PLAIN_ONLY if word in labels]


def test_only_a_veterinarian_is_asked_for_an_assessment():
    for role in (Role.TECHNICIAN, Role.VOLUNTEER):
        assert [a.name for a in forms.plan_asks(role)] == ["recheck", "owner_told"]


def test_technician_who_adds_a_recheck_keeps_the_veterinarians_assessment():
    exam = record_visit(new_exam(), Plan(assessment="sprain", recheck="Monday"))
    plan = forms.whole_said(exam, "plan", {"recheck": "Friday", "owner_told": ""})
    assert plan == Plan(assessment="sprain", recheck="Friday")


def test_withdrawal_is_asked_first_for_food_animals_and_never_for_a_dog():
    assert not next(ask for ask in COW if ask.name == "withdrawal").is_more
    dog = forms.given_asks("dog", NOW, [])
    assert "withdrawal" not in {ask.name for ask in dog}


@given(st.integers(0, 23), st.integers(0, 59))
def test_typed_time_is_the_last_moment_the_clock_showed_it(hour, minute):
    now = Moment.from_datetime(datetime(2026, 3, 2, 9, 30, tzinfo=UTC))
    when = forms.moment_typed(f"{hour}:{minute:02}", now)
    assert 0 <= now.utc_ms - when.utc_ms < 24 * 3_600_000
    assert when.clock() == f"{hour:02}:{minute:02}"


@pytest.mark.parametrize("typed", ["25:00", "12:60", "noon", "5 mL", "-1:00"])
def test_time_that_is_none_is_asked_again(typed):
    said = forms.problem_of(COW, {"product": "saline", "at": typed}, NOW)
    assert "time" in said


def test_entry_without_its_first_field_is_not_added():
    assert forms.problem_of(COW, {"product": " "}, NOW) == "Fill in: product."
    assert forms.problem_of(COW, {"product": "saline"}, NOW) == ""


def test_dose_is_kept_as_typed():
    texts = {"product": " saline ", "dose": "5 mL/10 kg", "at": ""}
    given_one = forms.entry_said("given", texts, BY)
    assert (given_one.product, given_one.dose) == ("saline", "5 mL/10 kg")
    assert given_one.at is None


def test_entry_recorded_by_mistake_is_taken_back_and_the_others_stand():
    exam = new_exam()
    for product in ("one", "two", "three"):
        exam = record_visit(exam, Given(product, BY))
    left = take_back(exam, "given", 1).given
    assert [entry.product for entry in left] == ["one", "three"]
    for part, place in (("given", 3), ("given", -1), ("intake", 0), ("urgent", 0)):
        with pytest.raises(UnknownItemError):
            take_back(exam, part, place)


def test_intake_and_chip_rows_stand_where_animals_are_taken_in():
    assert Part.SCANS in shown.before_parts(new_exam(Scope.INTAKE))
    assert Part.SCANS in shown.before_parts(new_exam(setting=Setting.SHELTER))
    assert Part.SCANS not in shown.before_parts(new_exam())
    assert Part.BITE in shown.before_parts(new_exam())


def test_chip_row_of_an_intake_says_that_it_is_needed():
    card = shown.part_card(new_exam(Scope.INTAKE), Part.SCANS, TECHNICIAN)
    assert card.is_needed
    shelter = new_exam(setting=Setting.SHELTER)
    assert not shown.part_card(shelter, Part.SCANS, VETERINARIAN).is_needed
