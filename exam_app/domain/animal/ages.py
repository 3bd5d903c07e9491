"""How old an animal is: as it was told on a day, or counted from its birth date.

Years and months are calendar ones. What was told is said again as it was told; later
the whole years, months, weeks or days since then are added to it. A birthday on
29 February is kept on 1 March in the years without one.
"""

import re
from calendar import monthrange
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal

from exam_app.domain.animal.signalment import AgeBasis, Animal
from exam_app.language.catalogue import tr, tr_plural

UNITS = ("days", "weeks", "months", "years")
# Lengths of a part of a unit, and of ages that older records hold in days alone.
_MEAN_DAYS = {
    "days": Decimal(1),
    "weeks": Decimal(7),
    "months": Decimal("30.4375"),
    "years": Decimal("365.25"),
}
# What people tell an age in, with the largest number that an older record's days may
# stand for; more is told in the unit before.
_TOLD_IN_DAYS = (("years", 100), ("months", 36), ("weeks", 52))
_NUMBER = re.compile(r"\d{1,5}(\.\d{1,3})?")
_DAYS_UNTIL_WEEKS = 14
_DAYS_UNTIL_MONTHS = 112
_MONTHS_UNTIL_YEARS = 24


def read_age(typed: str) -> Decimal | None:
    """Return an age typed as ``9``, ``2.5`` or ``2,5``; ``None`` for anything else."""
    plain = typed.strip().replace(",", ".")
    return Decimal(plain) if _NUMBER.fullmatch(plain) else None


def days_of_age(number: Decimal, unit: str, on: date) -> int:
    """Return the days lived by an animal that is so old on a day.

    Whole years and months are counted back on the calendar; a part of one is taken by
    its mean length, as half a year is 183 days.

    Args:
        unit: One of ``UNITS``.
    """
    whole = int(number)
    rest = round((number - whole) * _MEAN_DAYS[unit])
    if unit in {"days", "weeks"}:
        return whole * int(_MEAN_DAYS[unit]) + rest
    return (on - _months_back(on, whole * 12 if unit == "years" else whole)).days + rest


def _months_back(on: date, months: int) -> date:
    """Return the same day so many months before; the last one of a shorter month."""
    year, month = divmod(on.year * 12 + on.month - 1 - months, 12)
    return date(year, month + 1, min(on.day, monthrange(year, month + 1)[1]))


def age_on(animal: Animal, day: date) -> int | None:
    """Return an animal's age in days; ``None`` when it is not known."""
    born = known_date(animal.birth_date)
    if born:
        return max(0, (day - born).days)
    if animal.age_days is None:
        return None
    told = known_date(animal.age_on)
    return animal.age_days + (max(0, (day - told).days) if told else 0)


def told_age(animal: Animal) -> tuple[Decimal, str] | None:
    """Return number and unit in which an age was told or estimated.

    A record of a time when only days were kept gives the number whose mean length they
    are. ``None`` for an age in days that are no such number, and for a birth date.
    """
    if animal.age_days is None or animal.birth_date:
        return None
    number, on = read_age(animal.age_number), known_date(animal.age_on)
    if (
        number is not None
        and on is not None
        and animal.age_unit in UNITS
        and days_of_age(number, animal.age_unit, on) == animal.age_days
    ):
        return number, animal.age_unit
    for unit, most in _TOLD_IN_DAYS:
        whole = round(animal.age_days / _MEAN_DAYS[unit])
        is_whole = round(whole * _MEAN_DAYS[unit]) == animal.age_days
        if is_whole and 0 < whole <= most:
            return Decimal(whole), unit
    return None


def age_words(animal: Animal, day: date) -> str:
    """Say an animal's age on a day, as ``9 years``; empty when it is not known."""
    days = age_on(animal, day)
    if days is None:
        return ""
    told, on = told_age(animal), known_date(animal.age_on)
    if told is None:
        return words_since(day - timedelta(days=days), day)
    number, unit = told
    if on is None or day <= on:
        return _told(number, unit)
    if number != int(number):
        return _grown_part(int(number), unit, day - timedelta(days=days), day)
    return _grown(int(number), unit, on, day, days)


def _grown(number: int, unit: str, on: date, day: date, days: int) -> str:
    """Add what has passed since an age was told; a larger unit only once it grew."""
    passed = _months(on, day)
    if unit == "years":
        return _told(number + passed // 12, unit)
    if unit == "months":
        months = number + passed
        return _by_size(days, months, unit) if passed else _told(months, unit)
    if (day - on).days < _MEAN_DAYS[unit]:
        return _told(number, unit)
    return _by_size(days, _months(day - timedelta(days=days), day), unit)


def _grown_part(whole: int, unit: str, born: date, day: date) -> str:
    """Say two and a half years as 30 months until they are three: none is dropped."""
    if _count(born, day, unit) > whole:
        return _since(born, day, unit)
    finer = UNITS[max(UNITS.index(unit) - 1, 0)]
    return _told(_count(born, day, finer), finer)


def _count(born: date, day: date, unit: str) -> int:
    days, months = (day - born).days, _months(born, day)
    return {"days": days, "weeks": days // 7, "months": months, "years": months // 12}[
        unit
    ]


def words_since(born: date, day: date) -> str:
    """Say the time since a birth in the unit people use.

    Days until 14 days, weeks until 16 weeks, months until 24 months, then years.
    """
    return _since(born, day, "days")


def _since(born: date, day: date, least: str) -> str:
    return _by_size((day - born).days, _months(born, day), least)


def _by_size(days: int, months: int, least: str) -> str:
    if least == "days" and days < _DAYS_UNTIL_WEEKS:
        return _told(days, "days")
    if least in {"days", "weeks"} and days < _DAYS_UNTIL_MONTHS:
        return _told(days // 7, "weeks")
    if least != "years" and months < _MONTHS_UNTIL_YEARS:
        return _told(months, "months")
    return _told(months // 12, "years")


_TELL: dict[str, Callable[[int, Decimal | int], str]] = {
    "days": lambda count, number: tr_plural(
        "{number} day", "{number} days", count, number=number
    ),
    "weeks": lambda count, number: tr_plural(
        "{number} week", "{number} weeks", count, number=number
    ),
    "months": lambda count, number: tr_plural(
        "{number} month", "{number} months", count, number=number
    ),
    "years": lambda count, number: tr_plural(
        "{number} year", "{number} years", count, number=number
    ),
}


def _told(number: Decimal | int, unit: str) -> str:
    # A part of a unit, as 2.5 years, is several.
    count = int(number) if number == int(number) else max(2, int(number))
    return _TELL[unit](count, number)


def _months(first: date, last: date) -> int:
    """Return the whole calendar months from one day to a later one."""
    months = (last.year - first.year) * 12 + last.month - first.month
    return months - (last.day < first.day)


def age_line(animal: Animal, day: date) -> str:
    """Say an age on a day with how it is known; what was told earlier stands beside.

    As ``9 years (as told)``, ``11 years (9 years on 2024-05-01, as told)`` or
    ``3 years (born 2023-05-01)``.
    """
    words = age_words(animal, day)
    if not words:
        return tr("age not known")
    if animal.birth_date:
        return tr("{age} (born {date})", age=words, date=animal.birth_date)
    basis = _basis(animal)
    if animal.age_basis is AgeBasis.UNKNOWN and not animal.age_method:
        basis = tr("how it is known was not noted")
    on = known_date(animal.age_on)
    if on is None or on >= day:
        return f"{words} ({basis})"
    return tr(
        "{age} ({before} on {date}, {basis})",
        age=words,
        before=age_words(animal, on),
        date=animal.age_on,
        basis=basis,
    )


def _basis(animal: Animal) -> str:
    """Say how an age is known: as it was typed, or as it was chosen."""
    return animal.age_method or tr(animal.age_basis.value)


def noted_age(animal: Animal) -> str:
    """Say an age as it was noted, with its day: ``9 years on 2024-05-01, as told``."""
    if animal.birth_date:
        return tr("born {date}", date=animal.birth_date)
    on = known_date(animal.age_on)
    if animal.age_days is None:
        return ""
    words = age_words(animal, on or date.max)
    if on is None:
        return f"{words}, {_basis(animal)}"
    return tr(
        "{age} on {date}, {basis}",
        age=words,
        date=animal.age_on,
        basis=_basis(animal),
    )


def known_date(text: str) -> date | None:
    """Return an ISO day; ``None`` for anything else, as an empty field."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
