"""A round sheet: which columns it has, and what each row shows of its animal's exam."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from exam_app.app.forms.round_cells import NO_ABNORMALITY, NOTE, Column, ColumnKind
from exam_app.app.view.vital_presenter import beside_name, value_text
from exam_app.domain.exam.exam import Exam, is_asked, words_for
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.review import region_label, review, vital_label
from exam_app.domain.exam.transitions import clause_words
from exam_app.domain.measure.conversion import with_unit
from exam_app.domain.protocol.protocol import (
    Region,
    Scope,
    SpeciesProtocol,
    Vital,
    VitalKind,
)
from exam_app.domain.wording.exam_wording import found_words
from exam_app.domain.wording.kept_words import reason_shown
from exam_app.domain.wording.region_wording import all_findings
from exam_app.language.catalogue import tr, tr_plural
from exam_app.store.repositories.rows import KnownAnimal, OpenExam, concern_of


def without_rows(drafts: Sequence[OpenExam]) -> list[OpenExam]:
    """Return the open exams without those of a round whose group is open too."""
    there = {row.exam_id for row in drafts}
    return [row for row in drafts if row.group_exam not in there]


def round_line(row: OpenExam, drafts: Sequence[OpenExam]) -> str:
    """Say how many animals of a round are open; empty for a single animal."""
    if not row.is_group:
        return ""
    count = sum(other.group_exam == row.exam_id for other in drafts)
    return tr_plural("round: {count} animal open", "round: {count} animals open", count)


def address_of(row: OpenExam) -> str:
    """Return where an open exam's line leads: a group to its round."""
    way = "round" if row.is_group else "exam"
    return f"/{way}/{row.exam_id}"


@dataclass(frozen=True, slots=True)
class RoundRow:
    """One animal of the round.

    Attributes:
        shown: What was answered, in the columns' order.
        open: What is still open, in words; empty when the row can be closed.
        is_urgent: Whether an urgent sign has no answer yet.
        has_bitten: Whether this exam, or another of the animal, tells of a bite.
    """

    exam_id: str
    name: str
    shown: str
    open: str
    is_urgent: bool
    has_bitten: bool = False


def has_group_check(protocol: SpeciesProtocol) -> bool:
    """Whether a species can be examined as a group."""
    return any(Scope.GROUP in region.scopes for region in protocol.regions)


def columns_offered(
    protocol: SpeciesProtocol, words: Role, added: Collection[str] = ()
) -> tuple[Column, ...]:
    """Return every column a group check of this species can have, the note last.

    Args:
        added: Names of the claims that the practice has added to its sentences.
    """
    regions = (r for r in protocol.regions if Scope.GROUP in r.scopes)
    vitals = (
        v
        for v in protocol.vitals
        if Scope.GROUP in v.scopes and v.kind in {VitalKind.MEASURE, VitalKind.GRADE}
    )
    return (
        *(_vital_column(protocol, vital, words) for vital in vitals),
        *(
            _region_column(protocol, region, key, words, added)
            for region in regions
            for key in region.answer_keys()
        ),
        NOTE,
    )


def usual_columns(offered: Iterable[Column]) -> tuple[str, ...]:
    """Return the columns a round has at first: what is required, and the note."""
    return tuple(
        column.key
        for column in offered
        if column.is_required or column.kind is ColumnKind.NOTE
    )


def chosen_columns(
    offered: Iterable[Column], kept: Iterable[str]
) -> tuple[Column, ...]:
    """Return the columns of a round in the sheet's order; required ones always."""
    wanted = set(kept)
    return tuple(c for c in offered if c.is_required or c.key in wanted)


def row_exam(exam: Exam, columns: Iterable[Column], group_exam: str) -> Exam:
    """Return a new exam of one animal that asks just what the columns ask.

    A column that was chosen must be answered before the row closes.
    """
    columns = tuple(columns)
    vitals = tuple(c.name for c in columns if c.key.startswith("vital:"))
    return replace(exam, group_exam=group_exam, asked_vitals=vitals)


def cell_text(exam: Exam, column: Column) -> str:
    """Return what a cell would have to hold to say what the exam says now."""
    if column.kind is ColumnKind.NOTE:
        return exam.remark
    if column.kind is ColumnKind.REGION:
        entry = exam.entry(column.name)
        found = "; ".join(_typed(finding) for finding in entry.findings)
        said = entry.asserted or entry.instead
        answer = found or (NO_ABNORMALITY if said else "")
        return answer or _with_mark(entry.reason)
    vital = exam.vital(column.name)
    if vital.reading is not None:
        return vital.reading.typed + "!" * vital.was_implausible_confirmed
    return vital.grade.value if vital.grade else _with_mark(vital.reason)


def _typed(finding: Finding) -> str:
    grades = (graded.value for graded in finding.grades)
    more = (finding.words, *finding.qualities, *grades, finding.note)
    return ", ".join(part for part in more if part)


def _with_mark(reason: str) -> str:
    return f"- {reason}" if reason else ""


def row_of(
    exam: Exam,
    protocol: SpeciesProtocol,
    columns: Iterable[Column],
    *,
    has_bitten: bool = False,
) -> RoundRow:
    """Show one animal's exam as a row.

    Args:
        has_bitten: Whether another exam of the animal tells of a bite.
    """
    words = words_for(exam)
    points = review(exam, protocol)
    shown = [_shown(exam, protocol, column, words) for column in columns]
    return RoundRow(
        exam.exam_id,
        exam.animal.name,
        " · ".join(text for text in shown if text),
        "; ".join(point.message for point in points),
        any(not entry.is_answered for entry in exam.urgent),
        has_bitten or bool(concern_of(exam)),
    )


def rows_words(rows: Iterable[RoundRow], closed: int) -> str:
    """Say how many rows there are, and how many are still open."""
    rows = tuple(rows)
    finished = sum(not row.open for row in rows)
    return tr_plural(
        "{count} animal here: {closed} closed, {finished} finished, {left} open",
        "{count} animals here: {closed} closed, {finished} finished, {left} open",
        len(rows) + closed,
        closed=closed,
        finished=finished,
        left=len(rows) - finished,
    )


def known_by_tag(
    animals: Iterable[KnownAnimal], tag: str, species: str
) -> KnownAnimal | None:
    """Return the one animal of a species that carries exactly this tag."""
    wanted = tag.strip().casefold()
    found = [
        animal
        for animal in animals
        if animal.species == species
        and animal.tag.strip().casefold() == wanted
        and not animal.is_group
    ]
    return found[0] if len(found) == 1 else None


def _region_column(
    protocol: SpeciesProtocol,
    region: Region,
    key: str,
    words: Role,
    added: Collection[str],
) -> Column:
    claims = [
        tr(clause_words(clause, words))
        for clause in region.clauses
        if Scope.GROUP in clause.scopes and is_asked(region, clause, added)
    ]
    return Column(
        f"region:{key}",
        ColumnKind.REGION,
        region_label(protocol, key, words),
        tr("{key}, or what was found, or - and why not", key=NO_ABNORMALITY),
        sentence=tr(
            "{key} = no abnormality found: {claims}",
            key=NO_ABNORMALITY,
            claims="; ".join(claims),
        ),
        is_required=True,
    )


def _vital_column(protocol: SpeciesProtocol, vital: Vital, words: Role) -> Column:
    scale = protocol.scale(vital.scale_id) if vital.scale_id else None
    measure = vital.measure
    unit = measure.label_of(measure.units_offered[0]) if measure else ""
    kind, hint = ColumnKind.MEASURE, with_unit(tr("number"), unit)
    if scale is not None:
        kind = ColumnKind.GRADE
        first, last = scale.grades[0].value, scale.grades[-1].value
        hint = tr("{first} to {last}", first=first, last=last)
    return Column(
        f"vital:{vital.vital_id}",
        kind,
        vital_label(vital, words),
        tr("{hint}, or - and why not", hint=hint),
        is_required=Scope.GROUP in vital.required_in,
    )


def _shown(exam: Exam, protocol: SpeciesProtocol, column: Column, words: Role) -> str:
    if column.kind is ColumnKind.NOTE:
        return exam.remark
    if column.kind is ColumnKind.REGION:
        return _shown_of_region(exam, protocol, column)
    vital = protocol.vital(column.name)
    if vital is None:
        return ""
    said = value_text(protocol, vital, exam.vital(column.name), words)
    text = beside_name(protocol, column.name, column.label, said)
    return f"{column.label} {text}" if text else ""


def _shown_of_region(exam: Exam, protocol: SpeciesProtocol, column: Column) -> str:
    every = all_findings(exam, protocol)
    found = [found_words(finding) for key, finding in every if key == column.name]
    entry = exam.entry(column.name)
    said = tr("no abnormality found") if entry.asserted else ""
    result = tr(entry.instead[0].reason) if entry.instead else ""
    answer = "; ".join(found) or said or result
    if answer:
        return f"{column.label}: {answer}"
    if not entry.reason:
        return ""
    return tr(
        "{part} not done: {reason}",
        part=column.label,
        reason=reason_shown(entry.reason),
    )
