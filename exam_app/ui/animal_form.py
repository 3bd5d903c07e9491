"""An animal while it is typed in: what is asked about, and what becomes of it.

Nothing is made up: an empty age stays unknown, and an odd chip number is told about
and kept as read.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from exam_app.domain.chips import check_chip, normalise_chip
from exam_app.domain.signalment import AgeBasis, Animal, Owner, Sex

SEX_LABELS = (
    (Sex.FEMALE.value, "Female"),
    (Sex.FEMALE_NEUTERED.value, "Female, neutered"),
    (Sex.MALE.value, "Male"),
    (Sex.MALE_NEUTERED.value, "Male, neutered"),
    (Sex.UNKNOWN.value, "Not known"),
)
BASIS_LABELS = (
    (AgeBasis.BIRTH_DATE.value, "Birth date"),
    (AgeBasis.TOLD.value, "As told"),
    (AgeBasis.ESTIMATED.value, "Estimated"),
    (AgeBasis.UNKNOWN.value, "Not known"),
)
UNIT_LABELS = (
    ("days", "Days"),
    ("weeks", "Weeks"),
    ("months", "Months"),
    ("years", "Years"),
)
_DAYS = {"days": 1.0, "weeks": 7.0, "months": 30.4375, "years": 365.25}
_OLDEST_DAYS = 100 * 366


@dataclass(frozen=True, slots=True)
class AnimalForm:
    """What is typed and chosen; every text without spaces at its ends.

    Attributes:
        age: A number as typed, in ``age_unit``.
        birth: ISO date as typed.
    """

    name: str = ""
    sex: str = Sex.UNKNOWN.value
    basis: str = AgeBasis.UNKNOWN.value
    age: str = ""
    age_unit: str = "years"
    birth: str = ""
    breed: str = ""
    colour: str = ""
    chip: str = ""
    tag: str = ""
    place: str = ""
    behaviour: str = ""
    dangers: str = ""
    owner_name: str = ""
    owner_phone: str = ""
    owner_address: str = ""


def form_of(animal: Animal, owner: Owner) -> AnimalForm:
    """Return the form that holds an animal again."""
    age, unit = _typed_age(animal.age_days)
    return AnimalForm(
        name=animal.name,
        sex=animal.sex.value,
        basis=animal.age_basis.value,
        age=age,
        age_unit=unit,
        birth=animal.birth_date,
        breed=animal.breed,
        colour=animal.colour,
        chip=animal.chip,
        tag=animal.tag,
        place=animal.place,
        behaviour=animal.behaviour,
        dangers=animal.dangers,
        owner_name=owner.name,
        owner_phone=owner.phone,
        owner_address=owner.address,
    )


def _typed_age(age_days: int | None) -> tuple[str, str]:
    if age_days is None:
        return "", "years"
    for unit in ("years", "months", "weeks"):
        number = round(age_days / _DAYS[unit])
        if number and round(number * _DAYS[unit]) == age_days:
            return str(number), unit
    return str(age_days), "days"


def problem_of(form: AnimalForm, today: date) -> str:
    """Return the one thing to be put right before saving; empty when there is none."""
    if not form.name:
        return "Give the animal a name, or a word the shelter knows it by."
    if form.basis == AgeBasis.BIRTH_DATE:
        return _birth_problem(form.birth, today)
    if form.basis != AgeBasis.UNKNOWN and _age_days(form) is None:
        return "Type the age as a number, for example 3 or 2.5."
    return ""


def _birth_problem(typed: str, today: date) -> str:
    born = _date(typed)
    if born is None:
        return "Type the birth date as year-month-day, for example 2024-05-01."
    if born > today:
        return "The birth date lies in the future."
    if (today - born).days > _OLDEST_DAYS:
        return "The birth date lies more than a hundred years back."
    return ""


def _date(typed: str) -> date | None:
    try:
        return date.fromisoformat(typed)
    except ValueError:
        return None


def _age_days(form: AnimalForm) -> int | None:
    try:
        number = float(form.age.replace(",", "."))
    except ValueError:
        return None
    days = number * _DAYS[form.age_unit]
    return round(days) if 0 <= days <= _OLDEST_DAYS else None


def chip_notes(typed: str, namesakes: Sequence[Animal] = ()) -> tuple[str, ...]:
    """Return what is to be known of a chip number, the gravest first.

    Args:
        namesakes: Other animals here that may have the same number.
    """
    if not typed.strip():
        return ()
    number = normalise_chip(typed)
    same = [animal.name for animal in namesakes if animal.chip == number]
    notes = [problem.text for problem in check_chip(typed).problems]
    if same:
        notes.insert(0, f"Here already, with this number: {', '.join(same)}.")
    return tuple(notes)


def animal_of(form: AnimalForm, before: Animal, today: date) -> Animal:
    """Return the animal a form describes; what the form does not ask is kept.

    Args:
        form: One without a problem.
        before: The animal until now, or a new one with its id and species.
        today: The date an age in days refers to.
    """
    is_birth = form.basis == AgeBasis.BIRTH_DATE
    is_known = form.basis != AgeBasis.UNKNOWN
    age = _age_days(form) if is_known and not is_birth else None
    was_same = age is not None and age == before.age_days
    return replace(
        before,
        name=form.name,
        sex=Sex(form.sex),
        age_days=age,
        age_on=(before.age_on if was_same else today.isoformat())
        if age is not None
        else "",
        age_basis=AgeBasis(form.basis),
        birth_date=form.birth if is_birth else "",
        breed=form.breed,
        colour=form.colour,
        chip=normalise_chip(form.chip),
        tag=form.tag,
        place=form.place,
        behaviour=form.behaviour,
        dangers=form.dangers,
    )


def owner_of(form: AnimalForm, before: Owner) -> Owner:
    """Return the owner a form describes; stands beside the record, never inside."""
    return replace(
        before,
        name=form.owner_name,
        phone=form.owner_phone,
        address=form.owner_address,
    )


def with_field(form: AnimalForm, name: str, value: str) -> AnimalForm:
    """Return a form with one field changed."""
    changed: dict[str, Any] = {name: value}
    return replace(form, **changed)
