"""A sheet to take home, for an owner or an adopter, in plain words.

It says what was seen, when to call and whom. What is the clinic's own stays there:
private notes, who brought the animal and what they told, who was bitten, assessment and
differentials. When to call is what the protocol's urgent signs say, in their own words
and with their own action; nothing is added to them.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from exam_app.app.view.urgent_presenter import clinic_line
from exam_app.domain.exam.exam import Correction, Exam
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.review import sign_label
from exam_app.domain.exam.transitions import signs_offered
from exam_app.domain.protocol.protocol import SpeciesProtocol
from exam_app.domain.protocol.urgent_signs import UrgentSign
from exam_app.domain.wording.kennel_card import BITE
from exam_app.domain.wording.record_times import style_of
from exam_app.domain.wording.region_wording import MARKS
from exam_app.domain.wording.source_words import cited
from exam_app.domain.wording.written_record import (
    LIMITS_NOTE,
    Section,
    WrittenRecord,
    write_record,
)
from exam_app.language.catalogue import in_english
from exam_app.paper.fonts import Font
from exam_app.paper.plain_words import in_plain_words
from exam_app.paper.record import ATTENTION, draw_marks
from exam_app.paper.sheet import PageSize, Sheet

NOT_REVIEWED = "NOT REVIEWED BY A VETERINARIAN"
_NOT_REVIEWED_YET = f"{NOT_REVIEWED}. None has acknowledged this record yet."
BITE_NOTED = "A bite or scratch is in the record. Ask the clinic what follows from it."
_HEADINGS = {
    ATTENTION: "What matters most",
    "Corrections after closing": "What was corrected",
    "Findings": "What was found",
    MARKS: "Where it is",
    "Earlier findings": "What was found before",
    "Remarks (noted, not abnormal)": "What else was noted",
    "Animal": "The animal",
    "Group": "The group",
    "Vitals": "What was measured",
    "Given": "What was given",
    "Procedures": "What was done",
    "Care": "What to look after",
    "Not examined, or only partly": "What was not looked at, or only partly",
    "Not present": "Not there",
    "No abnormality found": "Looked at, and nothing abnormal found",
    "Other results": "Other results",
    "Not part of this exam": "Not part of this exam",
}
_SIZE = 8.5


@dataclass(frozen=True, slots=True)
class TakeHome:
    """What a sheet to take home is made from.

    Attributes:
        reviewed: Which veterinarian examined, or acknowledged this very record, in a
            sentence; empty until one did.
        practice, phone: As in the settings.
        beside: What signed notes say should read otherwise.
    """

    exam: Exam
    protocol: SpeciesProtocol
    reviewed: str = ""
    practice: str = ""
    phone: str = ""
    beside: Sequence[Correction] = ()


@in_english()
def take_home_sheet(told: TakeHome, size: PageSize, font: Font) -> bytes:
    """Return the sheet as a PDF."""
    exam, protocol = in_plain_words(told.exam, told.protocol)
    written = write_record(exam, protocol, beside=told.beside)
    sheet = Sheet(size, font, written.title, written.title)
    sheet.text("To take home", 9)
    sheet.text(written.title, 14, bold=True)
    sheet.box([told.reviewed or _NOT_REVIEWED_YET], 11)
    sheet.text(_examined_line(told.exam), _SIZE)
    for line in _headline(written):
        sheet.text(line, _SIZE, bold=True)
    sheet.text(clinic_line(told.practice, told.phone), 12, bold=True, before=4)
    sheet.columns(2)
    for part in _parts(written):
        sheet.heading(_HEADINGS[part.heading], 10.5)
        if part.heading == MARKS:
            draw_marks(sheet, exam, protocol)
        sheet.items(part.lines, _SIZE)
    _asked(sheet, told.exam)
    when_to_call(sheet, told)
    sheet.text(LIMITS_NOTE, 8, before=6)
    return sheet.pdf()


def _parts(written: WrittenRecord) -> Iterable[Section]:
    """Return what belongs on the sheet: found first, then measured, then the rest."""
    found = {part.heading: part for part in written.sections}
    return (found[heading] for heading in _HEADINGS if heading in found)


def _headline(written: WrittenRecord) -> Iterable[str]:
    """Return the headline without who was bitten or scratched."""
    return (line for line in written.headline if not line.startswith(BITE))


def _examined_line(exam: Exam) -> str:
    starter = exam.person(exam.started_by)
    by = f" by {starter.name} ({starter.role.value})" if starter else ""
    return f"Examined {style_of(exam).full(exam.started)}{by}."


def _asked(sheet: Sheet, exam: Exam) -> None:
    """Say what was planned and what a bite asks for, without whose it was."""
    bite, recheck = exam.bite, exam.plan.recheck if exam.plan else ""
    quarantine = bite.quarantine if bite else ""
    said = (
        f"Re-check: {recheck}" if recheck else "",
        BITE_NOTED if bite and bite.blocks else "",
        f"Quarantine, as typed: {quarantine}" if quarantine else "",
    )
    lines = [line for line in said if line]
    if lines:
        sheet.heading("What comes next", 11)
        sheet.items(lines, _SIZE)


def when_to_call(sheet: Sheet, told: TakeHome) -> None:
    """List the signs to call about, by what their sources say is to be done."""
    signs = signs_offered(told.exam, told.protocol)
    if not signs:
        return
    sheet.heading("When to call", 12)
    sheet.box([clinic_line(told.practice, told.phone)], 10)
    for action, named in _by_action(signs).items():
        sheet.text(action, _SIZE, bold=True, before=3)
        sheet.items((sign_label(sign, Role.VOLUNTEER) for sign in named), _SIZE)
    every = (one for sign in signs for one in sign.every_source())
    sheet.text(f"From: {cited(told.protocol, every)}", 6.5, before=4)


def _by_action(signs: Iterable[UrgentSign]) -> dict[str, list[UrgentSign]]:
    found: dict[str, list[UrgentSign]] = {}
    for sign in signs:
        found.setdefault(sign.action, []).append(sign)
    return found
