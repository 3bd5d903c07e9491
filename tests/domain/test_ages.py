"""An age reads as it was told, on every screen and in every record."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from random import Random

import pytest

from exam_app.app.exam_words import known_age
from exam_app.app.forms.animal_form import ASKS, animal_of, texts_of
from exam_app.app.forms.form import starts
from exam_app.app.view.clinic_identity_presenter import clash_question
from exam_app.domain.animal.ages import (
    UNITS,
    age_line,
    age_on,
    age_words,
    days_of_age,
    noted_age,
    words_since,
)
from exam_app.domain.animal.signalment import AgeBasis, Animal, Owner, life_stage_of
from exam_app.domain.moments import Moment
from exam_app.domain.wording.kennel_card import kennel_card
from exam_app.domain.wording.written_record import write_record
from exam_app.exchange.merge import Clash
from tests.exam_samples import PROTOCOL, new_exam

LEAP = date(2024, 2, 29)
NEW = Animal("c" * 32, "Bramble", "dog")
LAST = {"years": 40, "months": 36, "weeks": 52, "days": 60}


def typed(**texts):
    """The fields of a new animal with what was typed in some."""
    return starts(ASKS) | texts


def told(number, unit, on, basis="as told"):
    form = typed(name="Bramble", basis=basis, age=number, age_unit=unit)
    return animal_of(form, NEW, on)


def moment(day):
    return Moment((day - date(1970, 1, 1)).days * 86_400_000 + 36_000_000)


def animal_lines(animal, day):
    exam = replace(new_exam(), animal=animal, started=moment(day))
    record = write_record(exam, PROTOCOL)
    return next(s.lines for s in record.sections if s.heading == "Animal")


def named(number, unit):
    return f"{number} {unit[:-1] if number == 1 else unit}"


@pytest.mark.parametrize("years", [1, 2, 5, 9, 10, 13, 17, 18, 21])
def test_a_record_says_the_years_that_were_told(years):
    day = date(2026, 5, 1)
    animal = told(str(years), "years", day)
    assert f", {named(years, 'years')} (as told)" in animal_lines(animal, day)[0]


def test_a_record_written_when_only_days_were_kept_says_the_years_too():
    # So was nine years stored before: 9 × 365.25 days, rounded.
    old = replace(NEW, age_days=3287, age_on="2026-05-01", age_basis=AgeBasis.TOLD)
    assert ", 9 years (as told)" in animal_lines(old, date(2026, 5, 1))[0]


def test_days_of_an_older_record_that_nobody_told_are_said_in_the_unit_people_use():
    for days, words in ((2200, "6 years"), (2205, "6 years"), (1500, "4 years")):
        old = replace(NEW, age_days=days, age_on="2026-05-01", age_basis=AgeBasis.TOLD)
        assert age_line(old, date(2026, 5, 1)) == f"{words} (as told)"


def test_five_months_told_are_five_months():
    for day in (date(2026, 5, 1), date(2026, 3, 31), date(2026, 7, 31), LEAP):
        assert "5 months (as told)" in animal_lines(told("5", "months", day), day)[0]


def every_told_age():
    for unit in UNITS:
        for number in range(LAST[unit] + 1):
            yield number, unit


def test_every_age_reads_as_told_and_no_younger_the_next_day():
    chance = Random(1461)
    days = [LEAP, date(2026, 1, 31), date(2025, 12, 31)]
    days += [date(2020, 1, 1) + timedelta(chance.randrange(2500)) for _ in range(3)]
    for day in days:
        check_every_age(day)


def check_every_age(day):
    count = 0
    for number, unit in every_told_age():
        animal = told(str(number), unit, day)
        assert age_words(animal, day) == named(number, unit)
        next_day = age_words(animal, day + timedelta(1))
        if unit == "days":
            assert age_on(animal, day + timedelta(1)) == number + 1
        else:
            assert next_day == named(number, unit)
        again = animal_of(texts_of(animal, Owner()), animal, day + timedelta(400))
        assert again == animal
        count += 1
    return count


@pytest.mark.exhaustive
def test_every_age_told_on_every_day_of_four_years():
    count = 0
    for offset in range(1461):
        count += check_every_age(date(2023, 1, 1) + timedelta(offset))
    print(f"{count} ages read as told")


@pytest.mark.parametrize(
    ("number", "unit", "after", "words"),
    [
        ("9", "years", date(2027, 4, 30), "9 years"),
        ("9", "years", date(2027, 5, 1), "10 years"),
        ("1", "years", date(2027, 4, 30), "1 year"),
        ("5", "months", date(2026, 6, 1), "6 months"),
        ("5", "months", date(2028, 5, 1), "2 years"),
        ("36", "months", date(2026, 5, 31), "36 months"),
        ("36", "months", date(2026, 6, 1), "3 years"),
        ("30", "weeks", date(2026, 5, 7), "30 weeks"),
        ("30", "weeks", date(2026, 5, 8), "7 months"),
        ("20", "days", date(2026, 5, 2), "3 weeks"),
        ("2.5", "years", date(2026, 5, 2), "30 months"),
        ("2.5", "years", date(2026, 11, 1), "3 years"),
        ("1.5", "months", date(2026, 5, 2), "6 weeks"),
    ],
)
def test_an_age_told_on_the_first_of_may_has_grown_by_what_passed(
    number, unit, after, words
):
    animal = told(number, unit, date(2026, 5, 1))
    assert age_words(animal, after) == words
    assert f"{words} (" in animal_lines(animal, after)[0]
    on_the_day = age_words(animal, date(2026, 5, 1))
    assert f"{words} ({on_the_day} on 2026-05-01, as told)" == age_line(animal, after)


@pytest.mark.parametrize(
    ("born", "day", "words"),
    [
        (LEAP, date(2025, 2, 28), "11 months"),
        (LEAP, date(2025, 3, 1), "12 months"),
        (LEAP, date(2026, 2, 28), "23 months"),
        (LEAP, date(2026, 3, 1), "2 years"),
        (LEAP, date(2028, 2, 28), "3 years"),
        (LEAP, date(2028, 2, 29), "4 years"),
        (date(2017, 5, 1), date(2026, 4, 30), "8 years"),
        (date(2017, 5, 1), date(2026, 5, 1), "9 years"),
        (date(2025, 12, 1), date(2026, 5, 1), "5 months"),
        (date(2026, 4, 30), date(2026, 5, 1), "1 day"),
        (date(2026, 5, 1), date(2026, 5, 1), "0 days"),
        (date(2026, 4, 1), date(2026, 5, 1), "4 weeks"),
    ],
)
def test_an_age_from_a_birth_date_counts_calendar_years_and_months(born, day, words):
    assert words_since(born, day) == words
    form = typed(name="Bramble", basis="birth date", birth=born.isoformat())
    animal = animal_of(form, NEW, day)
    assert f"{words} (born {born})" in animal_lines(animal, day)[0]
    assert known_age(animal, day) == words
    exam = replace(new_exam(), animal=animal, started=moment(day))
    card = dict(kennel_card(exam, was_seen_by_veterinarian=True))
    assert card["Age"] == words


def test_every_birthday_from_one_to_forty_reads_as_its_number():
    for start in (LEAP, date(2000, 2, 29), date(2001, 12, 31), date(1999, 1, 1)):
        for years in range(2, 41):
            day = _birthday(start, years)
            assert words_since(start, day) == f"{years} years"
            assert words_since(start, day - timedelta(1)) != f"{years} years"


def _birthday(born, years):
    try:
        return born.replace(year=born.year + years)
    except ValueError:
        return date(born.year + years, 3, 1)


def test_a_year_told_lies_in_the_life_stage_that_begins_at_a_year():
    for offset in range(1461):
        day = date(2023, 1, 1) + timedelta(offset)
        days = days_of_age(Decimal(1), "years", day)
        assert life_stage_of(PROTOCOL.life_stages, days) == "adult"


def test_an_age_of_an_unknown_day_or_unit_from_elsewhere_is_said_by_its_days():
    odd = replace(NEW, age_days=70, age_basis=AgeBasis.TOLD, age_number="nine")
    assert age_line(odd, date(2026, 5, 1)) == "10 weeks (as told)"
    other = replace(odd, age_number="9", age_unit="years", age_on="2026-05-01")
    assert age_line(other, date(2026, 5, 1)) == "10 weeks (as told)"
    assert age_line(NEW, date(2026, 5, 1)) == "age not known"


def test_two_ages_that_differ_are_laid_side_by_side_in_words():
    ours = {"age_days": 3287, "age_on": "2026-05-01", "age_basis": "as told"}
    question = clash_question(
        Clash("age", ours, {"birth_date": "2016"}, key="k"), "Bramble", ""
    )
    assert question.label == "Age"
    assert question.ours == "9 years on 2026-05-01, as told"
    assert noted_age(replace(NEW, birth_date="2016-01-01")) == "born 2016-01-01"
