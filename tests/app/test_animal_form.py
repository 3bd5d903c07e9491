"""An animal typed in: what is asked about, and what becomes of it."""

from dataclasses import replace
from datetime import date

from exam_app.app.forms.animal_form import (
    ASKS,
    animal_of,
    chip_notes,
    owner_of,
    problem_of,
    texts_of,
)
from exam_app.app.forms.form import starts
from exam_app.domain.animal.signalment import AgeBasis, Animal, Owner, Sex
from tests.small_dog import BRUNO

TODAY = date(2026, 5, 1)
NEW = Animal("f" * 32, "", "dog")


def typed(**texts):
    """The fields of a new animal with what was typed in some."""
    return starts(ASKS) | texts


def test_a_name_is_all_that_is_asked_for():
    assert problem_of(typed(), TODAY)
    assert problem_of(typed(name="Bruno"), TODAY) == ""


def test_age_left_open_stays_unknown():
    animal = animal_of(typed(name="Bruno"), NEW, TODAY)
    assert animal.age_days is None
    assert animal.age_basis is AgeBasis.UNKNOWN
    assert animal.sex is Sex.UNKNOWN


def test_age_told_in_years_is_kept_as_days_on_that_date():
    form = typed(name="Bruno", basis="as told", age="4")
    animal = animal_of(form, NEW, TODAY)
    assert (animal.age_days, animal.age_on) == (1461, "2026-05-01")
    half = form | {"age": "0,5"}
    assert animal_of(half, NEW, TODAY).age_days == 183


def test_age_that_is_no_number_is_asked_about():
    form = typed(name="Bruno", basis="estimated", age="old")
    assert "number" in problem_of(form, TODAY)
    assert problem_of(form | {"age": "-1"}, TODAY)
    assert problem_of(form | {"age": "900"}, TODAY)
    assert problem_of(form | {"age": "nan"}, TODAY)
    assert problem_of(form | {"age": "inf"}, TODAY)


def test_birth_date_in_the_future_or_no_date_is_asked_about():
    form = typed(name="Bruno", basis="birth date", birth="2026-05-02")
    assert "future" in problem_of(form, TODAY)
    assert "2024-05-01" in problem_of(form | {"birth": "1 May"}, TODAY)
    assert "hundred" in problem_of(form | {"birth": "1900-01-01"}, TODAY)
    assert problem_of(form | {"birth": "2026-05-01"}, TODAY) == ""


def test_a_birth_date_takes_the_place_of_an_age():
    old = replace(BRUNO, age_days=1461, age_on="2026-01-01")
    form = texts_of(old, Owner()) | {"basis": "birth date", "birth": "2022-01-01"}
    animal = animal_of(form, old, TODAY)
    assert (animal.birth_date, animal.age_days, animal.age_on) == (
        "2022-01-01",
        None,
        "",
    )


def test_an_age_that_was_not_touched_keeps_the_day_it_was_told():
    old = replace(
        BRUNO, age_days=1461, age_on="2026-01-01", age_basis=AgeBasis.ESTIMATED
    )
    assert animal_of(texts_of(old, Owner()), old, TODAY) == old
    odd = replace(old, age_days=100)
    assert animal_of(texts_of(odd, Owner()), odd, TODAY) == odd


def test_what_the_form_does_not_ask_is_kept():
    old = replace(BRUNO, absent=("eyes.left",))
    changed = texts_of(old, Owner()) | {"colour": "black"}
    animal = animal_of(changed, old, TODAY)
    assert animal.absent == ("eyes.left",)
    assert (animal.colour, animal.is_demo) == ("black", True)


def test_chip_number_is_kept_without_spaces_and_odd_ones_are_told_about():
    form = typed(name="Bruno", chip="276 0981 0212 3456")
    assert animal_of(form, NEW, TODAY).chip == "276098102123456"
    assert chip_notes("") == ()
    assert chip_notes("12345")


def test_chip_number_of_another_animal_here_is_told_first():
    other = replace(BRUNO, name="Other Demo", chip="276098102123456")
    notes = chip_notes("276 098 102 123 456", [other, BRUNO])
    assert notes[0] == "Here already, with this number: Other Demo."
    assert chip_notes("276098102123457", [other]) == chip_notes("276098102123457")


def test_owner_is_kept_beside_and_other_fields_survive():
    before = Owner("A", "1", "", {"email": "x"})
    form = texts_of(NEW, before) | {"owner_phone": "2"}
    assert owner_of(form, before) == Owner("A", "2", "", {"email": "x"})
