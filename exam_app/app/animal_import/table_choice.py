"""A table that is being taken in: what was chosen of it so far, and what follows.

Kept while the store is open, so that whoever looks at an animal meanwhile finds it as
it was left.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any
from weakref import WeakKeyDictionary

from exam_app.app.animal_import.importing import AnimalImport, import_animals
from exam_app.app.animal_import.matching import (
    Matching,
    match_so_far,
    remember,
    what_is_lacking,
)
from exam_app.app.animal_import.planning import (
    ImportPlan,
    PlannedAnimal,
    RefusedRow,
    foreign_words,
    plan_import,
)
from exam_app.app.animal_import.table_file import (
    LARGEST_FILE,
    Table,
    TableTooLargeError,
    table_of,
)
from exam_app.app.exam_sessions import new_id
from exam_app.domain.animal.ages import age_line
from exam_app.domain.errors import ExamError
from exam_app.domain.moments import Moment
from exam_app.domain.wording.visible_text import visible
from exam_app.language.catalogue import to_translate, tr, tr_plural
from exam_app.protocols.loader import available, load_protocol
from exam_app.store.vault.vault import Vault

FIELD_LABELS = (
    ("name", to_translate("Name")),
    ("species", to_translate("Species")),
    ("breed", to_translate("Breed or type")),
    ("sex", to_translate("Sex")),
    ("birth_date", to_translate("Birth date")),
    ("age", to_translate("Age")),
    ("colour", to_translate("Colour and markings")),
    ("chip", to_translate("Chip number")),
    ("tag", to_translate("Tag or collar")),
    ("place", to_translate("Pen, kennel or place")),
    ("behaviour", to_translate("How it behaves")),
    ("dangers", to_translate("What can hurt you")),
    ("owner_name", to_translate("Owner's name")),
    ("owner_phone", to_translate("Owner's phone")),
    ("owner_address", "Owner's address"),
)
_LABELS = dict(FIELD_LABELS)
_EXAMPLES, _LONGEST_EXAMPLE = 3, 24


@dataclass(slots=True)
class TableChoice:
    """One table and what was said of it.

    Attributes:
        file: Its name; empty while none was chosen.
        content: Its bytes.
        encoding, separator: As of ``table_of``: said, never guessed.
        said: What was said of its columns and words.
        also_alike: Whether rows that are like animals here come in too, each as an
            animal of its own.
        table: As read; ``None`` where it cannot be.
        problem: Why it cannot be read, in a sentence; empty where it can.
        plan: What would become of every row; ``None`` while something is to be said.
    """

    file: str = ""
    content: bytes = b""
    encoding: str = "utf-8"
    separator: str = "comma"
    said: Matching = field(default_factory=Matching)
    also_alike: bool = False
    table: Table | None = None
    problem: str = ""
    plan: ImportPlan | None = None

    def choose(self, file: str, content: bytes) -> None:
        """Take another file, of which nothing was said yet."""
        self.file, self.content, self.said = file, content, Matching()
        self.also_alike = False
        self.read()

    def read(self) -> None:
        """Read the file as it was said to be written; a problem is kept in words."""
        self.table, self.plan, self.problem = None, None, ""
        try:
            if len(self.content) > LARGEST_FILE:
                raise TableTooLargeError(
                    tr("more than {most} bytes", most=LARGEST_FILE)
                )
            self.table = table_of(self.content, self.encoding, self.separator)
        except ExamError as error:
            self.problem = f"{visible(str(error)).capitalize()}. {tr(error.advice)}"

    def matched(self, vault: Vault) -> Matching:
        """Return how its columns are understood so far."""
        header = self.table.header if self.table else ()
        return match_so_far(vault, header, self.said)

    def take_column(self, vault: Vault, column: str, of: str) -> None:
        """Take a column for a field, or for none where ``of`` is empty."""
        matched = self.matched(vault)
        columns = dict(self.said.columns)
        for taken, name in matched.columns.items():
            if name == column:
                columns[taken] = ""
        if of:
            columns[of] = column
        self.said = replace(self.said, columns=columns)

    def say_word(self, of: str, word: str, meaning: str) -> None:
        """Say what a word of the table means."""
        words = {**self.said.words, f"{of}:{word.strip().casefold()}": meaning}
        self.said = replace(self.said, words=words)

    def say(self, name: str, text: str) -> None:
        """Say the species of all, the order of dates, the unit or the day of ages."""
        change: dict[str, Any] = {name: text}
        self.said = replace(self.said, **change)

    def lacking(self, vault: Vault) -> tuple[str, ...]:
        """Return what is to be said before it is understood."""
        if self.table is None:
            return ()
        return what_is_lacking(self.matched(vault), self.table.header)

    def foreign_words(self, vault: Vault) -> tuple[tuple[str, str, str], ...]:
        """Return each word of a species or sex that is not ours.

        Returns:
            Field, word, and what was said that it means; empty where nothing was.
        """
        if self.table is None:
            return ()
        matched = self.matched(vault)
        unsaid = replace(matched, words={})
        found = foreign_words(self.table, unsaid, species_labels())
        said = {
            of: matched.words.get(f"{of[0]}:{of[1].casefold()}", "") for of in found
        }
        return tuple((*of, said[of]) for of in found)

    def plan_anew(self, vault: Vault, today: date) -> None:
        """Work out what would become of every row."""
        self.plan = None
        if self.table is not None and not self.lacking(vault):
            matched = self.matched(vault)
            labels = species_labels()
            self.plan = plan_import(vault, self.table, matched, today, new_id, labels)

    @property
    def taken(self) -> tuple[PlannedAnimal, ...]:
        """The animals that would be taken in."""
        if self.plan is None:
            return ()
        alike = [one.planned for one in self.plan.alike] if self.also_alike else []
        return (*self.plan.new, *alike)

    def take_in(self, vault: Vault, at: Moment) -> AnimalImport | None:
        """Take the animals in, if all is as it was shown.

        Returns:
            ``None`` where what would become of a row is another by now: nothing was
            taken in, and the plan is the new one.

        Raises:
            VaultError: Nothing was taken in.
        """
        shown = _outcome(self.plan)
        self.plan_anew(vault, at.local().date())
        if self.table is None or _outcome(self.plan) != shown or not self.taken:
            return None
        remember(vault, self.table.header, self.matched(vault))
        made = import_animals(vault, self.taken, self.file, at)
        self.file, self.content, self.table, self.plan = "", b"", None, None
        return made


_kept: WeakKeyDictionary[Vault, TableChoice] = WeakKeyDictionary()


def table_choice(vault: Vault) -> TableChoice:
    """Return the table in hand; an empty one while none was chosen."""
    return _kept.setdefault(vault, TableChoice())


def species_labels() -> dict[str, str]:
    """Return every species that can be examined here, with its label."""
    return {name: load_protocol(name).protocol.label for name in available()}


def examples_of(table: Table, column: str) -> str:
    """Say the first words of a column, or that it is empty."""
    at = table.header.index(column)
    cells = (row.cells[at].strip() for row in table.rows if at < len(row.cells))
    found = list(dict.fromkeys(filter(None, cells)))[:_EXAMPLES]
    return ", ".join(visible(one)[:_LONGEST_EXAMPLE] for one in found) or tr("Empty")


def column_words(column: str, matched: Matching) -> str:
    """Say what a column is taken for."""
    fields = [of for of, name in matched.columns.items() if name == column]
    said = ", ".join(tr(_LABELS[of]) for of in fields if of in _LABELS)
    said = said or tr("not taken")
    return f"“{visible(column)}”: {said}"


def planned_line(one: PlannedAnimal, today: date) -> str:
    """Say an animal that would be taken in, with its line in the file."""
    animal = one.animal
    owned = tr("with an owner") if one.as_plain().get("owner") else ""
    said = (animal.name, animal.species, animal.breed, tr(animal.sex.value))
    more = (age_line(animal, today), animal.chip, animal.tag, animal.place, owned)
    words = ", ".join(text for text in (*said, *more) if text)
    notes = "".join(f" ({note})" for note in one.notes)
    return visible(
        tr("Line {line}: {words}{notes}", line=one.line, words=words, notes=notes)
    )


def alike_lines(
    vault: Vault, plan: ImportPlan
) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield what a row is like, and the ids of the animals here."""
    for one in plan.alike:
        shown = [vault.animals.shown(animal_id) for animal_id in one.known]
        names = ", ".join(animal.name for animal in shown if animal is not None)
        name = one.planned.animal.name
        said = tr(
            "Line {line}: {name} may be {names}, {why}.",
            line=one.planned.line,
            name=name,
            names=names,
            why=one.why,
        )
        yield visible(said), one.known


def refusal_words(row: RefusedRow) -> str:
    """Say why a row is refused, its column named as on the screen."""
    of, colon, why = row.reason.partition(": ")
    reason = f"{tr(_LABELS[of])}: {why}" if colon and of in _LABELS else row.reason
    return visible(tr("Line {line} refused. {reason}", line=row.line, reason=reason))


def plan_words(plan: ImportPlan) -> str:
    """Say how many rows become what."""
    return tr(
        "{new}, {alike} like animals here, {refused} refused.",
        new=tr_plural("{count} new animal", "{count} new animals", len(plan.new)),
        alike=len(plan.alike),
        refused=len(plan.refused),
    )


def import_words(one: AnimalImport) -> str:
    """Say an import in a line."""
    undone = tr(", taken out again {undone}", undone=one.undone) if one.undone else ""
    animals = tr_plural("{count} animal", "{count} animals", one.count)
    said = f"{one.number}: {one.file}, {one.at}, {animals}"
    return visible(f"{said}{undone}")


def _outcome(plan: ImportPlan | None) -> Mapping[int, str]:
    """Return what becomes of each line, without the ids that are drawn anew."""
    if plan is None:
        return {}
    return {
        **{one.line: "new" for one in plan.new},
        **{one.planned.line: f"alike {one.known}" for one in plan.alike},
        **{one.line: one.reason for one in plan.refused},
    }
