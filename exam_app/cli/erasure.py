"""The commands ``erase`` and ``retention``: owner details without a page.

Lines are read in this order, at the terminal or from standard input: the passphrase,
the animal's name to confirm, and whether the files are written anew at once.
"""

import argparse
import sys
import uuid
from datetime import datetime
from pathlib import Path
from typing import ClassVar

from exam_app.app.exam_sessions import now
from exam_app.cli.store import Commands, add_data_option, opened
from exam_app.crypto.door import DerivationBounds
from exam_app.domain.animal.signalment import species_shown
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.people import Person
from exam_app.domain.wording.count_words import count_words
from exam_app.exchange.erasing import (
    MOST_YEARS,
    REASONS,
    Due,
    Erasing,
    due,
    erase_owner,
    retention_years,
    set_aside_words,
    set_retention,
    what_would_go,
)
from exam_app.store.engine.files import open_file
from exam_app.store.repositories.rows import KnownAnimal
from exam_app.store.vault.folder import empty_torn
from exam_app.store.vault.vault import Vault

ERASURE_COMMANDS = ("erase", "retention")
_OFF = "off"


class UnknownAnimalError(ExamError):
    """No animal, or more than one, goes by what was typed."""

    advice: ClassVar[str] = (
        "No animal here goes by that. Nothing was changed. "
        "Write its name, its chip number, or its id."
    )

    def __init__(self, alike: list[KnownAnimal]) -> None:
        """Name those that it may be."""
        super().__init__(f"{len(alike)} animals")
        if alike:
            lines = "\n".join(f"  {one.animal_id}  {_named(one)}" for one in alike)
            self.advice = (  # type: ignore[misc]
                "More than one animal goes by that. Nothing was changed. "
                f"Write the id of one of them:\n{lines}"
            )


class UnknownPersonError(ExamError):
    """Nobody known here goes by the name after ``--by``."""

    advice: ClassVar[str] = (
        "Nobody of that name is known here. Nothing was changed. "
        "Write a name or initials after --by, as the app shows them."
    )


class NotConfirmedError(ExamError):
    """What was typed to confirm is not the animal's name."""

    advice: ClassVar[str] = (
        "The animal's name was not typed. Nothing was erased. "
        "Start again, and type the name as it is shown."
    )


def add_erasure_commands(commands: Commands) -> None:
    """Add the two commands to those of the app."""
    erasing = commands.add_parser(
        "erase", help="erase the owner details of an animal; its records stay"
    )
    erasing.add_argument("animal", help="name, chip number or id of the animal")
    erasing.add_argument(
        "--by", metavar="NAME", help="who erases (default: who worked here last)"
    )
    erasing.add_argument(
        "--reason",
        choices=REASONS,
        default="requested",
        help="why; it stays in the signed note (default: requested)",
    )
    keeping = commands.add_parser(
        "retention", help="list owner details that are due to be erased"
    )
    keeping.add_argument(
        "--years",
        type=_years,
        metavar="N",
        help=f"keep them for so many years, 1 to {MOST_YEARS}, or {_OFF}",
    )
    for command in (erasing, keeping):
        add_data_option(command)


async def run_erasure(
    options: argparse.Namespace, folder: Path, bounds: DerivationBounds
) -> str:
    """Do what the command line asks for.

    Returns:
        What to print at the end.

    Raises:
        ExamError: Nothing was erased.
    """
    is_list = options.command == "retention" and options.years is None
    async with opened(
        folder, bounds, to_write=not is_list, register=options.register
    ) as vault:
        if options.command == "erase":
            return await _erase(vault, folder, options)
        if not is_list:
            set_retention(vault, options.years or None)
        return _due_words(vault)


def print_set_aside(vault: Vault) -> None:
    """Print which erased details came again; it stays for whoever opens the app."""
    said = set_aside_words(vault)
    if said is not None:
        sys.stderr.write(f"{said}\n")


async def _erase(vault: Vault, folder: Path, options: argparse.Namespace) -> str:
    animal, by = _animal(vault, options.animal), _person(vault, options.by)
    would = what_would_go(vault, animal.animal_id)
    if would:
        said = "\n".join([f"{_named(animal)}: this would be erased.", *would, ""])
        sys.stderr.write(said)
        typed = _ask_openly("Type the animal's name to erase it: ")
        if typed.casefold() != animal.name.strip().casefold():
            raise NotConfirmedError("not confirmed")
    erasing = Erasing(by, now(), options.reason, lambda: uuid.uuid4().hex)
    erased = erase_owner(vault, folder, animal.animal_id, erasing)
    question = "Write the files anew now, so that nothing stays in them? (yes, no) "
    if _ask_openly(question).casefold() in ("n", "no"):
        return (
            f"{erased.words}\nThe files themselves, sealed, until they are written "
            "anew: make room in the app, or erase something else and say yes."
        )
    vault.rewrite()
    await empty_torn(folder, open_file)
    return f"{erased.words}\nThe files were written anew: nothing of it stays in them."


def _animal(vault: Vault, typed: str) -> KnownAnimal:
    known = vault.animals.shown(typed)
    if known is not None:
        return known
    found = vault.animals.search(typed)
    named = [one for one in found if one.name.casefold() == typed.casefold()]
    alike = named if len(named) == 1 else found
    if len(alike) != 1:
        raise UnknownAnimalError(alike)
    return alike[0]


def _person(vault: Vault, typed: str | None) -> Person:
    if typed is None:
        sought, called = vault.settings.get("last_person", ""), ["person_id"]
    else:
        sought, called = typed.strip(), ["name", "initials"]
    found = [
        one
        for one in vault.people.all()
        if sought.casefold() in [getattr(one, name).casefold() for name in called]
    ]
    if len(found) != 1:
        raise UnknownPersonError("nobody, or more than one")
    return found[0]


def _due_words(vault: Vault) -> str:
    years = retention_years(vault)
    if years is None:
        return (
            "No time is set for which owner details are kept. Set one with --years, "
            "as your practice and the law of your place want it."
        )
    dated, undated = due(vault, datetime.now().astimezone().date())
    kept = count_words(years, "year")
    lines = [
        f"Owner details are kept for {kept}. Nothing is erased by itself.",
        "Due:" if dated else "Nothing is due.",
        *map(_due_line, dated),
    ]
    if undated:
        undated_words = "No closed exam tells a date; look yourself:"
        lines += [undated_words, *map(_due_line, undated)]
    if dated or undated:
        lines.append("Erase with: exam-app erase ID")
    return "\n".join(lines)


def _due_line(one: Due) -> str:
    return f"  {one.animal_id}  {one.name} ({species_shown(one.species)}), {one.seen}"


def _named(animal: KnownAnimal) -> str:
    return f"{animal.name} ({species_shown(animal.species or 'animal')})"


def _ask_openly(prompt: str) -> str:
    if sys.stdin.isatty():
        sys.stderr.write(prompt)
    return sys.stdin.readline(1024).strip()


def _years(text: str) -> int:
    if text == _OFF:
        return 0
    number = int(text) if text.isdecimal() else 0
    if not 1 <= number <= MOST_YEARS:
        raise argparse.ArgumentTypeError(f"a number from 1 to {MOST_YEARS}, or {_OFF}")
    return number
