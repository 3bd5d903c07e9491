"""An animal while it is typed in: what is asked about, and what becomes of it.

Nothing is made up: an empty age stays unknown, and an odd chip number is told about
and kept as read.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from exam_app.app.forms.form import Ask, Kind, choice
from exam_app.domain.animal.ages import days_of_age, known_date, read_age, told_age
from exam_app.domain.animal.chips import check_chip, normalise_chip
from exam_app.domain.animal.signalment import AgeBasis, Animal, Owner, Sex
from exam_app.language.catalogue import to_translate, tr
from exam_app.store.repositories.rows import KnownAnimal

# What stands in the fields, by name, without spaces at either end.
Texts = Mapping[str, str]
SEX_LABELS = (
    (Sex.FEMALE.value, to_translate("Female")),
    (Sex.FEMALE_NEUTERED.value, to_translate("Female, neutered")),
    (Sex.MALE.value, to_translate("Male")),
    (Sex.MALE_NEUTERED.value, to_translate("Male, neutered")),
    (Sex.UNKNOWN.value, to_translate("Not known")),
)
BASIS_LABELS = (
    (AgeBasis.BIRTH_DATE.value, to_translate("Birth date")),
    (AgeBasis.TOLD.value, to_translate("As told")),
    (AgeBasis.ESTIMATED.value, to_translate("Estimated")),
    (AgeBasis.UNKNOWN.value, to_translate("Not known")),
)
UNIT_LABELS = (
    ("days", to_translate("Days")),
    ("weeks", to_translate("Weeks")),
    ("months", to_translate("Months")),
    ("years", to_translate("Years")),
)
ASKS = (
    Ask("name", to_translate("Name")),
    choice("sex", to_translate("Sex"), SEX_LABELS, start=Sex.UNKNOWN.value, columns=3),
    choice(
        "basis",
        to_translate("Age"),
        BASIS_LABELS,
        start=AgeBasis.UNKNOWN.value,
        identifier="animal-age-basis",
        columns=4,
    ),
    Ask("age", to_translate("Age today"), kind=Kind.NUMBER),
    choice(
        "age_unit",
        "",
        UNIT_LABELS,
        start="years",
        identifier="animal-age-unit",
        columns=4,
    ),
    Ask(
        "birth",
        to_translate("Birth date"),
        hint=to_translate("Year-month-day: 2024-05-01"),
    ),
    Ask("breed", to_translate("Breed or type")),
    Ask("colour", to_translate("Colour and markings")),
    Ask(
        "chip",
        to_translate("Chip number"),
        hint=to_translate("Type it, or scan with a reader that types like a keyboard."),
    ),
    Ask("tag", to_translate("Tag or collar")),
    Ask("place", to_translate("Pen, kennel or place")),
    Ask("behaviour", to_translate("How it behaves with people")),
    Ask("dangers", to_translate("What can hurt you")),
    Ask("owner_name", to_translate("Owner's name"), identifier="owner-name"),
    Ask("owner_phone", to_translate("Owner's phone"), identifier="owner-phone"),
    Ask("owner_address", to_translate("Owner's address"), identifier="owner-address"),
)
# Kept as typed, under the same names.
_AS_TYPED = ("name", "breed", "colour", "tag", "place", "behaviour", "dangers")
_OLDEST_YEARS = 100
_OLDEST_DAYS = _OLDEST_YEARS * 366


def texts_of(animal: Animal, owner: Owner) -> dict[str, str]:
    """Return an animal and its owner as they stand in the fields."""
    age, unit = _typed_age(animal)
    return {
        **{name: getattr(animal, name) for name in _AS_TYPED},
        "sex": animal.sex.value,
        "basis": animal.age_basis.value,
        "age": age,
        "age_unit": unit,
        "birth": animal.birth_date,
        "chip": animal.chip,
        "owner_name": owner.name,
        "owner_phone": owner.phone,
        "owner_address": owner.address,
    }


def _typed_age(animal: Animal) -> tuple[str, str]:
    if animal.age_days is None:
        return "", "years"
    told = told_age(animal)
    return (str(told[0]), told[1]) if told else (str(animal.age_days), "days")


def problem_of(form: Texts, today: date) -> str:
    """Return the one thing to be put right before saving; empty when there is none."""
    if not form["name"]:
        return tr("Give the animal a name, or a word the shelter knows it by.")
    if form["basis"] == AgeBasis.BIRTH_DATE:
        return _birth_problem(form["birth"], today)
    if _asks_age(form) and _age_days(form, today) is None:
        return tr("Type the age as a number, for example 3 or 2.5.")
    return ""


def _asks_age(form: Texts) -> bool:
    """Whether the form holds an age as told or estimated."""
    return form["basis"] not in {AgeBasis.BIRTH_DATE, AgeBasis.UNKNOWN}


def _birth_problem(typed: str, today: date) -> str:
    born = known_date(typed)
    if born is None:
        return tr("Type the birth date as year-month-day, for example 2024-05-01.")
    if born > today:
        return tr("The birth date lies in the future.")
    if (today - born).days > _OLDEST_DAYS:
        return tr("The birth date lies more than a hundred years back.")
    return ""


def _age_days(form: Texts, on: date) -> int | None:
    number = read_age(form["age"])
    # Older than a hundred years in any unit: before any calendar is asked.
    if number is None or number > _OLDEST_DAYS:
        return None
    if form["age_unit"] == "years" and number > _OLDEST_YEARS:
        return None
    if form["age_unit"] == "months" and number > 12 * _OLDEST_YEARS:
        return None
    days = days_of_age(number, form["age_unit"], on)
    return days if days <= _OLDEST_DAYS else None


def chip_notes(typed: str, namesakes: Sequence[KnownAnimal] = ()) -> tuple[str, ...]:
    """Return what is to be known of a chip number, the gravest first.

    Args:
        namesakes: Other animals here that may have the same number.
    """
    if not typed.strip():
        return ()
    number = normalise_chip(typed)
    same = [animal.name for animal in namesakes if animal.chip == number]
    notes = list(check_chip(typed).problems)
    if same:
        notes.insert(
            0, tr("Here already, with this number: {names}.", names=", ".join(same))
        )
    return tuple(notes)


def animal_of(form: Texts, before: Animal, today: date) -> Animal:
    """Return the animal a form describes; what the form does not ask is kept.

    Args:
        form: One without a problem.
        before: The animal until now, or a new one with its id and species.
        today: The date an age in days refers to.
    """
    is_birth = form["basis"] == AgeBasis.BIRTH_DATE
    as_typed: dict[str, Any] = {name: form[name] for name in _AS_TYPED}
    return replace(
        before if _is_same_age(form, before) else _with_age(form, before, today),
        age_basis=AgeBasis(form["basis"]),
        birth_date=form["birth"] if is_birth else "",
        sex=Sex(form["sex"]),
        chip=normalise_chip(form["chip"]),
        **as_typed,
    )


def _is_same_age(form: Texts, before: Animal) -> bool:
    """Whether the form holds the age as it was known: it keeps its day then."""
    return _asks_age(form) and (form["age"], form["age_unit"]) == _typed_age(before)


def _with_age(form: Texts, before: Animal, today: date) -> Animal:
    """Return the animal with the age of the form as told today, or with none."""
    number = read_age(form["age"])
    days = _age_days(form, today) if _asks_age(form) else None
    if days is None:
        return replace(before, age_days=None, age_on="", age_number="", age_unit="")
    return replace(
        before,
        age_days=days,
        age_on=today.isoformat(),
        age_number=str(number),
        age_unit=form["age_unit"],
    )


def owner_of(form: Texts, before: Owner) -> Owner:
    """Return the owner a form describes; stands beside the record, never inside."""
    return replace(
        before,
        name=form["owner_name"],
        phone=form["owner_phone"],
        address=form["owner_address"],
    )
