"""Which column of a table is which field, and what its words, dates and ages mean.

Nothing is guessed: a column is taken for a field where it has the field's own name or
was named for it, a date is read in the order that was named, an age in the unit and as
of the day that were named, a word that is not ours means what was said of it. What was
named is remembered for the next table with the same columns.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import ClassVar

from exam_app.crypto.door import sha256
from exam_app.domain.animal.ages import UNITS, known_date
from exam_app.domain.errors import ExamError
from exam_app.language.catalogue import to_translate, tr
from exam_app.record.errors import RecordError
from exam_app.record.plain_form import from_plain, to_plain
from exam_app.store.vault.vault import Vault

FIELDS = (
    *("name", "species", "breed", "sex", "birth_date", "age", "colour", "chip", "tag"),
    *("place", "behaviour", "dangers", "owner_name", "owner_phone", "owner_address"),
)
WORDED = ("species", "sex")
DATE_ORDERS = ("year-month-day", "day-month-year", "month-day-year")
_REMEMBERED = "animal_import_columns"
_MOST_REMEMBERED = 20
_DATE = re.compile(r"(\d{1,4})([-./])(\d{1,2})\2(\d{1,4})", re.ASCII)


class UnmatchedTableError(ExamError):
    """It was not said what is needed to understand a table."""

    advice: ClassVar[str] = to_translate(
        "What is named has to be said before the table can be understood: nothing of "
        "it is guessed. Nothing was taken in. Say it, and look at the preview again."
    )


@dataclass(frozen=True, slots=True)
class Matching:
    """How a table is understood.

    Attributes:
        columns: By field, the name of its column.
        species: Of every row, where there is no column of it.
        date_order: One of ``DATE_ORDERS``; empty where it was not said.
        age_unit: One of days, weeks, months, years; empty where it was not said.
        age_on: The ISO day that the ages of the table are of, or empty.
        words: By ``field:word`` in small letters, what the word means.
    """

    columns: dict[str, str] = field(default_factory=dict)
    species: str = ""
    date_order: str = ""
    age_unit: str = ""
    age_on: str = ""
    words: dict[str, str] = field(default_factory=dict)

    def meaning(self, of: str, word: str) -> str:
        """Return what a word of a field means, which may be itself."""
        return self.words.get(f"{of}:{word.strip().casefold()}", word.strip())

    def with_said(self, said: "Matching") -> "Matching":
        """Return it with what is said now in place of what was said before."""
        return Matching(
            {**self.columns, **said.columns},
            said.species or self.species,
            said.date_order or self.date_order,
            said.age_unit or self.age_unit,
            said.age_on or self.age_on,
            {**self.words, **said.words},
        )


def match(vault: Vault, header: Sequence[str], said: Matching) -> Matching:
    """Return how a table is understood: by its names, what is remembered, what is said.

    Args:
        said: What was said of this table; it wins.

    Raises:
        UnmatchedTableError: Something has to be said, or a column is not there.
    """
    matched = match_so_far(vault, header, said)
    if lacking := what_is_lacking(matched, header):
        raise UnmatchedTableError("; ".join(lacking))
    return matched


def match_so_far(vault: Vault, header: Sequence[str], said: Matching) -> Matching:
    """Return how a table is understood, whatever is lacking; as ``match``."""
    own = {name.casefold().replace(" ", "_"): name for name in header}
    by_name = Matching({one: own[one] for one in FIELDS if one in own})
    matched = by_name.with_said(_remembered(vault, header)).with_said(said)
    columns = {of: name for of, name in matched.columns.items() if name}
    return replace(matched, columns=columns)


def what_is_lacking(matched: Matching, header: Sequence[str]) -> tuple[str, ...]:
    """Return what is to be said before a table can be understood."""
    columns = matched.columns
    lacking = [
        tr("no field {field}", field=repr(of)) for of in columns if of not in FIELDS
    ]
    lacking += [
        tr("no column {name}", name=repr(name))
        for name in columns.values()
        if name not in header
    ]
    if "name" not in columns:
        lacking.append(tr("which column is the name"))
    if "species" not in columns and not matched.species:
        lacking.append(tr("which column is the species, or the species of all"))
    if "birth_date" in columns and matched.date_order not in DATE_ORDERS:
        lacking.append(
            tr("the order of dates: {orders}", orders=", ".join(DATE_ORDERS))
        )
    if "age" in columns:
        if matched.age_unit not in UNITS:
            lacking.append(
                tr("the unit of ages: {units}", units=", ".join(map(tr, UNITS)))
            )
        if known_date(matched.age_on) is None:
            lacking.append(tr("the day that the ages are of, as 2026-05-01"))
    of_words = {key.partition(":")[0] for key in matched.words}
    lacking += [
        tr("no words for {field}", field=repr(of))
        for of in sorted(of_words - {*WORDED})
    ]
    return tuple(lacking)


def remember(vault: Vault, header: Sequence[str], matched: Matching) -> None:
    """Keep how a table was understood, for the next one with the same columns.

    The day of its ages is not kept: the next table's are of another day.
    """
    kept: dict[str, object] = dict(vault.settings.get(_REMEMBERED) or {})
    key = _key(header)
    kept.pop(key, None)
    kept[key] = to_plain(replace(matched, age_on=""))
    newest = list(kept.items())[-_MOST_REMEMBERED:]
    if newest != list((vault.settings.get(_REMEMBERED) or {}).items()):
        vault.settings.put(_REMEMBERED, dict(newest))


def _remembered(vault: Vault, header: Sequence[str]) -> Matching:
    kept: Mapping[str, object] = vault.settings.get(_REMEMBERED) or {}
    try:
        return from_plain(Matching, kept[_key(header)])
    except (KeyError, RecordError):
        return Matching()


def _key(header: Sequence[str]) -> str:
    return sha256("\x1f".join(header).encode("utf-8", "replace")).hex()


def read_date(typed: str, order: str) -> date | None:
    """Return a day written in an order with a year of four digits; else ``None``.

    Args:
        order: One of ``DATE_ORDERS``.
    """
    found = _DATE.fullmatch(typed.strip())
    if found is None:
        return None
    by_name = dict(zip(order.split("-"), (found[1], found[3], found[4]), strict=True))
    if len(by_name["year"]) != 4 or max(len(by_name["month"]), len(by_name["day"])) > 2:
        return None
    try:
        return date(*(int(by_name[name]) for name in ("year", "month", "day")))
    except ValueError:
        return None
