"""What would become of every row of a table, before anything is taken in.

A row is a new animal, or is like one that is here, or is refused with its reason. One
that is like another is proposed to a person and never joined to it: that is done with
both in view, in the app.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date

from exam_app.app.animal_import.matching import Matching, read_date
from exam_app.app.animal_import.table_file import Table, TableRow, cell_problem
from exam_app.app.forms.animal_form import animal_of, owner_of, problem_of
from exam_app.domain.animal.chips import check_chip, normalise_chip
from exam_app.domain.animal.signalment import AgeBasis, Animal, Owner, Sex
from exam_app.language.catalogue import tr
from exam_app.record.plain_form import Plain, to_plain
from exam_app.store.vault.vault import Vault

_OWNER = ("owner_name", "owner_phone", "owner_address")


@dataclass(frozen=True, slots=True)
class PlannedAnimal:
    """A row that can be taken in.

    Attributes:
        notes: What is to be known of it, of its chip number most of all.
    """

    line: int
    animal: Animal
    owner: Owner
    notes: tuple[str, ...] = ()

    def as_plain(self) -> Plain:
        """Return the animal as the store keeps it, its owner beside it."""
        plain = to_plain(self.animal)
        is_owned = any((self.owner.name, self.owner.phone, self.owner.address))
        return {**plain, "owner": to_plain(self.owner)} if is_owned else plain


@dataclass(frozen=True, slots=True)
class AlikeRow:
    """A row that may be an animal that is here: for a person to decide.

    Attributes:
        known: Ids of the animals here that it is like.
        why: In what, in words.
    """

    planned: PlannedAnimal
    known: tuple[str, ...]
    why: str


@dataclass(frozen=True, slots=True)
class RefusedRow:
    """A row that is not taken in, and why."""

    line: int
    reason: str


@dataclass(frozen=True, slots=True)
class ImportPlan:
    """What would become of every row; each row is in one of the three."""

    new: tuple[PlannedAnimal, ...]
    alike: tuple[AlikeRow, ...]
    refused: tuple[RefusedRow, ...]


def foreign_words(
    table: Table, matched: Matching, species: Mapping[str, str]
) -> tuple[tuple[str, str], ...]:
    """Return each word of a species or sex that it was not said what it means.

    Returns:
        Field and word as it stands in the table, each word once, in its order.
    """
    found: dict[tuple[str, str], tuple[str, str]] = {}
    for of in ("species", "sex"):
        name = matched.columns.get(of)
        if name not in table.header:
            continue
        at = table.header.index(name)
        # A row of another length is refused whole.
        for row in (one for one in table.rows if at < len(one.cells)):
            word = row.cells[at].strip()
            if word and not _is_known(of, matched.meaning(of, word), species):
                found.setdefault((of, word.casefold()), (of, word))
    return tuple(found.values())


def _is_known(of: str, said: str, species: Mapping[str, str]) -> bool:
    if of == "sex":
        return said.casefold() in [sex.value for sex in Sex]
    return species_named(said, species) is not None


def species_named(said: str, species: Mapping[str, str]) -> str | None:
    """Return the species that a word names; ``None`` where it names none."""
    word = said.casefold()
    for name, label in species.items():
        if word in (name, name.replace("_", " "), label.casefold()):
            return name
    return None


class _Refusal(Exception):  # noqa: N818 - the reason of one row, never seen outside
    """Why a row is refused."""


def plan_import(
    vault: Vault,
    table: Table,
    matched: Matching,
    today: date,
    new_id: Callable[[], str],
    species: Mapping[str, str],
) -> ImportPlan:
    """Return what would become of every row; nothing is changed.

    Args:
        today: No birth lies after it.
        new_id: Gives the id of a new animal.
        species: Every species that can be examined here, with its label.
    """
    new: list[PlannedAnimal] = []
    alike: list[AlikeRow] = []
    refused: list[RefusedRow] = []
    lines_of_chips: dict[str, int] = {}
    for row in table.rows:
        try:
            texts = _texts(row, table.header, matched)
            planned = _planned(row.line, texts, matched, today, new_id, species)
            _require_new_chip(planned, lines_of_chips)
        except _Refusal as refusal:
            refused.append(RefusedRow(row.line, str(refusal)))
            continue
        known = vault.animals.alike(planned.as_plain())
        if known:
            alike.append(AlikeRow(planned, known, _why(vault, planned, known)))
        else:
            new.append(planned)
    return ImportPlan(tuple(new), tuple(alike), tuple(refused))


def _texts(row: TableRow, header: tuple[str, ...], matched: Matching) -> dict[str, str]:
    """Return the cells of a row by field, without spaces at either end."""
    if len(row.cells) != len(header):
        said = tr(
            "{cells} cells, and the table has {columns} columns",
            cells=len(row.cells),
            columns=len(header),
        )
        raise _Refusal(said)
    cells = dict(zip(header, row.cells, strict=True))
    texts = {of: cells[name].strip() for of, name in matched.columns.items()}
    for of, text in texts.items():
        if problem := cell_problem(text):
            raise _Refusal(f"{of}: {problem}")
    return texts


def _planned(
    line: int,
    texts: dict[str, str],
    matched: Matching,
    today: date,
    new_id: Callable[[], str],
    species: Mapping[str, str],
) -> PlannedAnimal:
    chip = texts.get("chip", "")
    checked = check_chip(chip) if chip else None
    if checked is not None and checked.is_refused:
        raise _Refusal(f"chip: {tr(checked.problems[0])}")
    form = {
        **{name: texts.get(name, "") for name in ("name", "breed", "colour", "tag")},
        **{name: texts.get(name, "") for name in ("place", "behaviour", "dangers")},
        **{name: texts.get(name, "") for name in _OWNER},
        "sex": _sex(texts, matched),
        "chip": chip,
        **_age(texts, matched),
    }
    on = date.fromisoformat(matched.age_on) if texts.get("age") else today
    if problem := problem_of(form, min(on, today)):
        raise _Refusal(problem)
    begun = Animal(new_id(), "", _species(texts, matched, species))
    problems = checked.problems if checked else ()
    notes = [tr("chip: {problem}", problem=tr(said)) for said in problems]
    if texts.get("birth_date") and texts.get("age"):
        notes.append(tr("age: not taken, the birth date stands"))
    animal = animal_of(form, begun, on)
    return PlannedAnimal(line, animal, owner_of(form, Owner()), tuple(notes))


def _sex(texts: Mapping[str, str], matched: Matching) -> str:
    said = matched.meaning("sex", texts.get("sex", "")).casefold()
    if not said:
        return Sex.UNKNOWN.value
    if said not in [sex.value for sex in Sex]:
        raise _Refusal(f"sex: {_unsaid(texts['sex'])}")
    return said


def _species(
    texts: Mapping[str, str], matched: Matching, species: Mapping[str, str]
) -> str:
    typed = texts.get("species", "") or matched.species
    said = matched.meaning("species", typed)
    if not said:
        raise _Refusal("species: " + tr("nothing stands there"))
    if name := species_named(said, species):
        return name
    raise _Refusal(f"species: {_unsaid(typed)}")


def _unsaid(typed: str) -> str:
    return tr("it was not said what {word} means", word=repr(typed))


def _age(texts: Mapping[str, str], matched: Matching) -> dict[str, str]:
    """Return what a form holds of an age: of a birth date, of an age, or of none."""
    birth, age = texts.get("birth_date", ""), texts.get("age", "")
    empty = {"birth": "", "age": "", "age_unit": "years"}
    if birth:
        born = read_date(birth, matched.date_order)
        if born is None:
            said = tr(
                "{day} is no day written {order}",
                day=repr(birth),
                order=matched.date_order,
            )
            raise _Refusal(f"birth_date: {said}")
        return {**empty, "basis": AgeBasis.BIRTH_DATE.value, "birth": born.isoformat()}
    if age:
        told = {"basis": AgeBasis.TOLD.value, "age": age}
        return {**empty, **told, "age_unit": matched.age_unit}
    return {**empty, "basis": AgeBasis.UNKNOWN.value}


def _require_new_chip(planned: PlannedAnimal, lines: dict[str, int]) -> None:
    chip = planned.animal.chip
    if chip and lines.setdefault(chip, planned.line) != planned.line:
        same = tr("line {line} has the same number", line=lines[chip])
        raise _Refusal(f"chip: {same}")


def _why(vault: Vault, planned: PlannedAnimal, known: tuple[str, ...]) -> str:
    shown = [vault.animals.shown(animal_id) for animal_id in known]
    chips = {normalise_chip(one.chip) for one in shown if one is not None}
    if planned.animal.chip and planned.animal.chip in chips:
        return tr("the same chip number")
    return tr("the same name and owner")
