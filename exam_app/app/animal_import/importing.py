"""Take planned animals in with one save, and undo one import with another.

An undo removes what this import brought and nobody has touched since: an animal that
was changed, examined or joined to another stays, and is named.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import ClassVar

from exam_app.app.animal_import.planning import PlannedAnimal
from exam_app.crypto.door import sha256
from exam_app.domain.errors import ExamError
from exam_app.domain.moments import Moment
from exam_app.language.catalogue import to_translate
from exam_app.store.engine.documents import read_row, stored_row
from exam_app.store.vault.vault import Vault

_IMPORTS, _ONE = "animal_imports", "animal_import/"


class NoSuchImportError(ExamError):
    """No import of animals has this number, or it was undone."""

    advice: ClassVar[str] = to_translate(
        "No import of animals here has this number, or it was undone already. Nothing "
        "was changed. The command without a number lists them."
    )


@dataclass(frozen=True, slots=True)
class AnimalImport:
    """One import of animals.

    Attributes:
        number: What it is called here: 1 for the first.
        file: The name of the table.
        at: When, in words.
        count: How many animals it brought.
        undone: When it was undone, in words; empty where it was not.
    """

    number: int
    file: str
    at: str
    count: int
    undone: str = ""


@dataclass(frozen=True, slots=True)
class Undone:
    """What an undo did: how many animals it removed, and the names of those kept."""

    removed: int
    kept: tuple[str, ...]


def import_animals(
    vault: Vault, planned: Iterable[PlannedAnimal], file: str, at: Moment
) -> AnimalImport:
    """Take animals in: all of them in one save, or none.

    Raises:
        VaultError: Nothing was taken in.
    """
    with vault.turn, vault.transaction():
        marks: dict[str, str] = {}
        for one in planned:
            plain = one.as_plain()
            vault.animals.put(plain)
            marks[one.animal.animal_id] = _mark(plain)
        earlier = imports_of(vault)
        number = len(earlier) + 1
        made = AnimalImport(number, file, at.date_and_time(), len(marks))
        _keep(vault, (*earlier, made))
        vault.settings.put(f"{_ONE}{number}", marks)
    return made


def imports_of(vault: Vault) -> tuple[AnimalImport, ...]:
    """Return every import of animals, the first one first."""
    kept: list[Mapping[str, object]] = vault.settings.get(_IMPORTS) or []
    return tuple(read_row(AnimalImport, dict(row)) for row in kept)


def undo_import(vault: Vault, number: int, at: Moment) -> Undone:
    """Remove the animals that an import brought and nobody has touched since.

    Raises:
        NoSuchImportError: There is none of this number that is not undone.
        VaultError: Nothing was removed.
    """
    with vault.turn:
        every = imports_of(vault)
        marks: Mapping[str, str] | None = vault.settings.get(f"{_ONE}{number}")
        if marks is None or not 1 <= number <= len(every) or every[number - 1].undone:
            raise NoSuchImportError(str(number))
        drafted = {row.animal_id for row in vault.drafts.every()}
        untouched = [
            animal_id
            for animal_id, mark in marks.items()
            if animal_id not in drafted
            and not vault.closed.every_of(animal_id)
            and _mark(vault.animals.get(animal_id) or {}) == mark
        ]
        removed = set(untouched)
        shown = [vault.animals.shown(one) for one in marks if one not in removed]
        with vault.transaction():
            for animal_id in untouched:
                vault.animals.remove(animal_id)
            one = every[number - 1]
            done = AnimalImport(number, one.file, one.at, one.count, at.date_and_time())
            _keep(vault, (*every[: number - 1], done, *every[number:]))
            vault.settings.put(f"{_ONE}{number}", {})
    return Undone(len(untouched), tuple(one.name for one in shown if one is not None))


def _keep(vault: Vault, imports: Iterable[AnimalImport]) -> None:
    rows = [dict(stored_row(one)) for one in imports]
    vault.settings.put(_IMPORTS, rows)


def _mark(plain: Mapping[str, object]) -> str:
    """Return what tells whether an animal is still as it was taken in."""
    return sha256(json.dumps(plain, sort_keys=True).encode()).hex()
