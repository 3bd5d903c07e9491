"""The command ``animals``: take animals in from a table, and undo one import."""

import argparse
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

from exam_app.app.animal_import.importing import (
    import_animals,
    imports_of,
    undo_import,
)
from exam_app.app.animal_import.matching import (
    DATE_ORDERS,
    FIELDS,
    WORDED,
    Matching,
    match,
    remember,
)
from exam_app.app.animal_import.planning import ImportPlan, PlannedAnimal, plan_import
from exam_app.app.animal_import.table_file import (
    ENCODINGS,
    SEPARATORS,
    Table,
    read_table,
)
from exam_app.app.exam_sessions import new_id, now
from exam_app.cli.store import Commands, add_data_option, opened
from exam_app.crypto.door import DerivationBounds
from exam_app.domain.animal.ages import UNITS, age_line
from exam_app.domain.wording.count_words import count_words
from exam_app.domain.wording.visible_text import visible
from exam_app.protocols.loader import available, load_protocol
from exam_app.store.vault.vault import Vault

ANIMALS = "animals"
NOT_ALL = 4
_SHOWN = 5
_EXIT = """exit codes:
  0  every row was taken in, or would be
  1  nothing was done: no such file, no table, something that has to be said
  4  some rows are refused, or are like animals that are here; each is named"""


def add_animals_command(commands: Commands) -> None:
    """Add the command to those of the app."""
    animals = commands.add_parser(ANIMALS, help="take animals in from a table")
    kinds = animals.add_subparsers(dest="animals_command", required=True)
    taking = kinds.add_parser(
        "import",
        help="show what would become of every row of a CSV file; --do takes them in",
        description="Show what would become of every row of a CSV file, and with --do "
        "take the animals in.\nNothing is guessed: what a column, a date, an age or a "
        "word means is said once and\nremembered for tables with the same columns. "
        "The passphrase is read from standard input.",
        epilog=_EXIT,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    taking.add_argument("file", type=Path, metavar="FILE")
    taking.add_argument("--do", action="store_true", help="take the animals in")
    taking.add_argument(
        "--column",
        action="append",
        default=[],
        type=_pair("="),
        metavar="FIELD=COLUMN",
        help=f"which column is a field; none after =: not taken ({', '.join(FIELDS)})",
    )
    taking.add_argument(
        "--word",
        action="append",
        default=[],
        type=_word,
        metavar="FIELD:WORD=MEANING",
        help=f"what a word means, as sex:m=male ({', '.join(WORDED)})",
    )
    taking.add_argument("--species", default="", help="the species of every row")
    taking.add_argument("--dates", default="", choices=DATE_ORDERS, help="their order")
    taking.add_argument("--age-unit", default="", choices=UNITS)
    taking.add_argument(
        "--age-on", default="", metavar="DAY", help="the day ages are of: 2026-05-01"
    )
    taking.add_argument("--encoding", default="utf-8", choices=tuple(ENCODINGS))
    taking.add_argument("--separator", default="comma", choices=tuple(SEPARATORS))
    taking.add_argument(
        "--also-alike",
        action="store_true",
        help="take in rows that are like animals here too, each as an animal of its "
        "own; nothing is joined",
    )
    undoing = kinds.add_parser(
        "undo", help="remove what one import brought and nobody touched since"
    )
    undoing.add_argument(
        "number", type=int, nargs="?", help="of the import; without it they are listed"
    )
    for command in (taking, undoing):
        add_data_option(command)


def _pair(between: str) -> Callable[[str], tuple[str, str]]:
    def split(text: str) -> tuple[str, str]:
        name, sign, said = text.partition(between)
        if not sign:
            raise argparse.ArgumentTypeError(f"write it as NAME{between}TEXT")
        return name.strip(), said.strip()

    return split


def _word(text: str) -> tuple[str, str]:
    named, meaning = _pair("=")(text)
    of, sign, word = named.partition(":")
    if not sign:
        raise argparse.ArgumentTypeError("write it as FIELD:WORD=MEANING")
    return f"{of.strip()}:{word.strip().casefold()}", meaning


async def run_animals(
    options: argparse.Namespace, folder: Path, bounds: DerivationBounds
) -> tuple[str, int]:
    """Do what the command line asks for.

    Returns:
        What to print, and the exit code.

    Raises:
        ExamError: Nothing was taken in or removed.
    """
    if options.animals_command == "undo":
        async with opened(folder, bounds, register=options.register) as vault:
            return _undo(vault, options.number), 0
    # Before the passphrase is asked for: the file may be none.
    table = read_table(options.file, options.encoding, options.separator)
    async with opened(folder, bounds, register=options.register) as vault:
        return _import(vault, table, options)


def _import(vault: Vault, table: Table, options: argparse.Namespace) -> tuple[str, int]:
    said = Matching(
        dict(options.column),
        options.species,
        options.dates,
        options.age_unit,
        options.age_on,
        dict(options.word),
    )
    matched, at = match(vault, table.header, said), now()
    labels = {name: load_protocol(name).protocol.label for name in available()}
    today = at.local().date()
    plan = plan_import(vault, table, matched, today, new_id, labels)
    taken = list(plan.new)
    if options.also_alike:
        taken += [one.planned for one in plan.alike]
    lines = [*_matched_lines(table, matched), *_lines(vault, plan)]
    is_all = not plan.refused and (options.also_alike or not plan.alike)
    remember(vault, table.header, matched)
    if not options.do:
        lines += _preview(taken, today)
    elif taken:
        made = import_animals(vault, taken, options.file.name, at)
        lines.append(
            f"Import {made.number}: {count_words(made.count, 'animal')} taken in. "
            f"exam-app animals undo {made.number} removes them again."
        )
    else:
        lines.append("No animal was taken in.")
    return "\n".join(visible(line) for line in lines), 0 if is_all else NOT_ALL


def _matched_lines(table: Table, matched: Matching) -> Iterator[str]:
    for of, name in matched.columns.items():
        yield f"Column “{name}” is {of}."
    left = [name for name in table.header if name not in matched.columns.values()]
    if any(left):
        yield f"Not taken: {', '.join(f'“{name}”' for name in left if name)}."


def _lines(vault: Vault, plan: ImportPlan) -> Iterator[str]:
    for row in plan.refused:
        yield f"Line {row.line} refused. {row.reason}"
    for one in plan.alike:
        shown = [vault.animals.shown(animal_id) for animal_id in one.known]
        names = ", ".join(animal.name for animal in shown if animal is not None)
        yield (
            f"Line {one.planned.line}: {one.planned.animal.name} may be {names}, "
            f"{one.why}. Not joined: look at both in the app."
        )
    for planned in (*plan.new, *(one.planned for one in plan.alike)):
        for note in planned.notes:
            yield f"Line {planned.line}, {note}"
    yield (
        f"{count_words(len(plan.new), 'new animal')}, {len(plan.alike)} like animals "
        f"here, {len(plan.refused)} refused."
    )


def _preview(taken: list[PlannedAnimal], today: date) -> Iterator[str]:
    for one in taken[:_SHOWN]:
        animal = one.animal
        said = (animal.name, animal.species, animal.breed, animal.sex.value)
        more = (age_line(animal, today), animal.chip, animal.tag, animal.place)
        yield f"Line {one.line}: {', '.join(text for text in (*said, *more) if text)}"
    if len(taken) > _SHOWN:
        yield f"And {len(taken) - _SHOWN} more."
    yield "Nothing was taken in yet: give the command again with --do."


def _undo(vault: Vault, number: int | None) -> str:
    if number is None:
        lines = [
            f"{one.number}: {one.file}, {one.at}, {count_words(one.count, 'animal')}"
            f"{', undone ' + one.undone if one.undone else ''}"
            for one in imports_of(vault)
        ]
        none = "No animals were taken in from a table."
        return "\n".join(map(visible, lines)) or none
    done = undo_import(vault, number, now())
    said = f"{count_words(done.removed, 'animal')} removed."
    if done.kept:
        said += f" Kept, since they were used or changed: {', '.join(done.kept)}."
    return visible(said)
