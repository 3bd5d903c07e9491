"""One cell of a round sheet: what is typed, and what it makes of the animal's exam.

A cell is text, so that a hand on the keyboard never leaves it: a number or a grade;
``n`` for "no abnormality found" with the sentence above the column; a minus and a
reason for what was not done; anything else is what was found. A number that the exam
would ask about is asked about in the same words, and believed with ``!`` behind it.
Each cell speaks for one animal; nothing is ever filled down.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

from exam_app.app.exam_editor import Edit
from exam_app.app.forms.vital_form import Question, what_is_asked
from exam_app.domain.animal.history import PastValue
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.denials import with_nothing_said
from exam_app.domain.exam.exam import Exam, words_for
from exam_app.domain.exam.finding_transitions import add_finding, remove_finding
from exam_app.domain.exam.findings import Finding
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.transitions import (
    assert_no_abnormality,
    mark_not_examined,
    require_key,
    set_entry,
)
from exam_app.domain.exam.vital_transitions import (
    MOST_SIGNS,
    clear_vital,
    record_vital,
    require_vital,
)
from exam_app.domain.exam.vitals import VitalEntry
from exam_app.domain.measure.conversion import with_unit
from exam_app.domain.measure.units import Measure, parse_reading
from exam_app.domain.protocol.protocol import Region, SpeciesProtocol, Term, Vital
from exam_app.domain.protocol.scales import Scale, give_grade
from exam_app.language.catalogue import to_translate, tr

NO_ABNORMALITY = "n"
NOTE_KEY = "note"
_REASON_MARK = ("-", "\N{MINUS SIGN}", "\N{EN DASH}")


class ColumnKind(StrEnum):
    """What a cell of the column holds."""

    REGION = "region"
    MEASURE = "measure"
    GRADE = "grade"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the sheet.

    Attributes:
        key: ``region:KEY``, ``vital:ID`` or ``note``.
        hint: What can be typed.
        sentence: What ``n`` says, for a region.
        is_required: The exam cannot close without an answer.
    """

    key: str
    kind: ColumnKind
    label: str
    hint: str
    sentence: str = ""
    is_required: bool = False

    @property
    def name(self) -> str:
        """The region key or the vital's id."""
        return self.key.partition(":")[2]


NOTE = Column(
    NOTE_KEY,
    ColumnKind.NOTE,
    to_translate("Note"),
    to_translate("anything worth keeping"),
)


class CellError(ExamError):
    """What was typed in a cell cannot be read."""

    advice = to_translate(
        "This cell was not taken; the rest of the row is saved. "
        "Type it again, or a minus and why it was not done."
    )

    def __init__(self, reason: str) -> None:
        """Keep the plain reason in ``reason``."""
        super().__init__(reason)
        self.reason = reason


class CellQuestionError(CellError):
    """What was typed in a cell is asked about once before it is stored."""

    advice = to_translate(
        "If it is right, type ! behind it. Until then it stands in this cell only."
    )


def fill_cell(
    exam: Exam,
    edit: Edit,
    column: Column,
    typed: str,
    last: PastValue | None = None,
) -> Exam:
    """Return one animal's exam with one cell answered, or taken back when empty.

    Args:
        exam: Of one animal.
        edit: What the change is made with.
        column: Where it was typed.
        typed: As typed; what stood in the cell before is replaced.
        last: Of a weight, the animal's last one where it is known.

    Raises:
        CellQuestionError: It is asked about, and has no ``!`` behind it.
        CellError: It cannot be read.
        ReadingError, UnitMismatchError, UnknownGradeError: As of a typed value.
    """
    text = typed.strip()
    if column.kind is ColumnKind.NOTE:
        return replace(exam, remark=text)
    if column.kind is ColumnKind.REGION:
        return _fill_region(exam, edit, column.name, text)
    return _fill_vital(exam, edit, column.name, text, last)


def _reason(text: str) -> str:
    """Return why something was not done; empty when the text is no such reason."""
    if not text.startswith(_REASON_MARK):
        return ""
    reason = text[1:].strip()
    if not reason:
        raise CellError(tr("after the minus, say why it was not done"))
    return reason


def _fill_region(exam: Exam, edit: Edit, key: str, text: str) -> Exam:
    protocol, by, new_id = edit
    region = require_key(exam, protocol, key)
    emptied = _emptied(exam, protocol, key)
    if not text:
        return emptied
    if text.startswith(_REASON_MARK) and not _is_number(text):
        return mark_not_examined(emptied, protocol, key, _reason(text), by)
    if text.casefold() == NO_ABNORMALITY:
        return assert_no_abnormality(emptied, protocol, (key,), words_for(exam), by)
    for words in filter(None, (part.strip() for part in text.split(";"))):
        finding = _finding(protocol, region, words, by, new_id())
        emptied = add_finding(emptied, protocol, key, finding, new_id())
    if not emptied.entry(key).findings:
        raise CellError(tr("say what was found"))
    return emptied


def _emptied(exam: Exam, protocol: SpeciesProtocol, key: str) -> Exam:
    for finding in exam.entry(key).findings:
        exam = remove_finding(exam, protocol, key, finding.finding_id)
    return set_entry(exam, key, with_nothing_said(exam.entry(key)))


def _finding(
    protocol: SpeciesProtocol,
    region: Region,
    words: str,
    by: Attribution,
    finding_id: str,
) -> Finding:
    """Make a finding: the region's own term where it is named, else own words.

    After the term may stand what it is, as its qualities or the grade of its scale:
    ``Loose dung, watery`` or ``Lame, 4``; anything else there is a note of the find,
    so that a sign that its term opens is opened whatever follows.
    """
    plain = words.casefold()
    for name, term in _terms_by_name(region):
        if plain == name or plain.startswith((f"{name},", f"{name}:")):
            found = Finding(finding_id, term.label, by, term_id=term.term_id)
            return _with_more(protocol, term, found, words[len(name) + 1 :].strip())
    return Finding(finding_id, words, by)


def _terms_by_name(region: Region) -> list[tuple[str, Term]]:
    """Return the terms by each of their names in small letters, the longest first."""
    named = [
        (name.casefold(), term)
        for term in region.terms
        for name in (term.label, term.plain)
        if name
    ]
    return sorted(named, key=lambda pair: -len(pair[0]))


def _with_more(
    protocol: SpeciesProtocol, term: Term, found: Finding, told: str
) -> Finding:
    """Return a find with the qualities and grades that were typed after its term."""
    scale = protocol.scale(term.scale_id)
    every = scale.grades if scale else ()
    grades = {grade.value.casefold(): grade.value for grade in every}
    qualities = {quality.casefold(): quality for quality in term.qualities}
    known = sorted({*grades, *qualities}, key=len, reverse=True)
    while told:
        plain = f"{told.casefold()},"
        part = next((p for p in known if plain.startswith(f"{p},")), None)
        if part is None:
            return replace(found, note=told)
        told = told[len(part) + 1 :].strip()
        if part in qualities:
            more = (*found.qualities, qualities[part])
            found = replace(found, qualities=more)
        elif scale is not None:
            graded = (*found.grades, give_grade(scale, grades[part]))
            found = replace(found, grades=graded)
    return found


def _fill_vital(
    exam: Exam, edit: Edit, vital_id: str, text: str, last: PastValue | None
) -> Exam:
    protocol, by, new_id = edit
    vital = require_vital(exam, protocol, vital_id)
    if not text:
        return clear_vital(exam, protocol, vital_id)
    is_reason = text.startswith(_REASON_MARK) and not _is_number(text)
    entry = (
        VitalEntry(reason=_reason(text))
        if is_reason
        else _valued(exam, protocol, vital, text, last)
    )
    ids = tuple(new_id() for _ in range(MOST_SIGNS))
    return record_vital(exam, protocol, vital_id, entry, by, ids)


def _valued(
    exam: Exam,
    protocol: SpeciesProtocol,
    vital: Vital,
    text: str,
    last: PastValue | None,
) -> VitalEntry:
    scale = protocol.scale(vital.scale_id) if vital.scale_id else None
    if scale is not None:
        return VitalEntry(grade=give_grade(scale, _grade_value(scale, text)))
    if vital.measure is None:
        raise CellError(tr("this column takes no number"))
    is_sure = text.endswith("!")
    unit = vital.measure.units_offered[0]
    reading = parse_reading(text.rstrip("! "), unit, vital.measure)
    site = vital.sites[0] if vital.sites else ""
    entry = VitalEntry(reading=reading, site=site)
    asked = what_is_asked(exam, protocol, vital, entry, last)
    if asked is not None and not is_sure:
        raise CellQuestionError(_asked_words(asked, vital.measure))
    return replace(entry, was_implausible_confirmed=asked is not None)


def _asked_words(asked: Question, measure: Measure) -> str:
    """Return the exam's own question, and the unit that may have been meant."""
    meant = (choice.reading for choice in asked.units)
    others = (f" {with_unit(r.typed, measure.label_of(r.unit))}?" for r in meant)
    return f"{asked.text}{''.join(others)}"


def _grade_value(scale: Scale, text: str) -> str:
    """Return the scale's own spelling of a grade typed as number or word."""
    plain = text.replace(",", ".").casefold()
    spellings = {grade.value.casefold(): grade.value for grade in scale.grades}
    return spellings.get(plain, spellings.get(plain.removesuffix(".0"), text))


def _is_number(text: str) -> bool:
    return text[1:2].isdigit()
