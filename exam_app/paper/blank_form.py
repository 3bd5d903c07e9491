"""A blank form of a species, for the day on which no device answers.

It asks what the exam asks, with the same sentences, words and units, in the order of
the exam's own list: its numbers say in which order the answers are typed in later.
Nothing is printed as if it were answered.
"""

from collections.abc import Iterable, Iterator

from exam_app.app.view.exam_places import sections, vital_of
from exam_app.app.view.region_presenter import keys_of
from exam_app.app.view.urgent_presenter import clinic_line
from exam_app.domain.exam.exam import (
    Exam,
    clauses_for,
    required_vitals,
    words_for,
)
from exam_app.domain.exam.people import Role
from exam_app.domain.exam.review import region_label, sign_label, vital_label
from exam_app.domain.exam.transitions import clause_words, signs_offered
from exam_app.domain.exam.vitals import RateState, Setting
from exam_app.domain.protocol.protocol import (
    SCOPE_LABELS,
    Region,
    SpeciesProtocol,
    Vital,
    VitalKind,
    split_key,
)
from exam_app.language.catalogue import in_english
from exam_app.paper.fonts import Font
from exam_app.paper.sheet import PageSize, Sheet

TICK = "☐ "
_SIZE, _SMALL = 8.0, 6.8
_ABOUT = (
    "Name",
    "Tag or chip",
    "Sex, neutered",
    "Age, how known",
    "Place",
    "Examined by",
    "Written by",
    "Date, begun, ended",
)
HOW_TO_TYPE_IN = (
    "Left and right are the animal's own. What is not ticked was not looked at. Type "
    "the answers in afterwards in the order of the numbers, which is that of the list "
    "of the exam, as seen earlier: with the time at which they were seen."
)


@in_english()
def blank_sheet(
    exam: Exam,
    protocol: SpeciesProtocol,
    size: PageSize,
    font: Font,
    practice: tuple[str, str] = ("", ""),
) -> bytes:
    """Return the form as a PDF.

    Args:
        exam: A new one in which nothing is answered; its scope, setting and sex decide
            what is asked.
        protocol: The one it names.
        size: Of the page.
        font: Everything is written in it.
        practice: Its name and its telephone number.
    """
    title = f"{SCOPE_LABELS[exam.scope]}: {protocol.label.lower()}, blank form"
    named = f"{exam.protocol_id} version {protocol.version}, {exam.protocol_hash[:12]}"
    sheet = Sheet(size, font, title, f"{title}. Protocol {named}")
    sheet.text(title, 14, bold=True)
    if practice[1]:
        sheet.text(clinic_line(*practice), _SIZE)
    else:
        _to_fill(sheet, "Telephone number of the clinic")
    sheet.text(HOW_TO_TYPE_IN, _SMALL)
    sheet.columns(2)
    _about(sheet)
    _signs(sheet, exam, protocol)
    number = 0
    for section in sections(exam, protocol):
        sheet.heading(section.title, 10)
        for place in section.places:
            number += 1
            _place(sheet, exam, protocol, place, number)
    sheet.heading("Given, done, sampled", 10)
    sheet.answer_lines(4)
    sheet.heading("Remarks", 10)
    sheet.answer_lines(3)
    return sheet.pdf()


def _about(sheet: Sheet) -> None:
    for label in _ABOUT:
        _to_fill(sheet, label)
    settings = _ticks(one.value for one in Setting)
    sheet.text(f"Exam place:  {settings}", _SIZE, before=3)


def _to_fill(sheet: Sheet, label: str, size: float = _SIZE) -> None:
    """Write a label with an empty line behind it up to the column's edge."""
    sheet.require(2.1 * size)
    frame = sheet.frame
    base = frame.at + 1.9 * size
    sheet.write(label, frame.left, base, size)
    start = frame.left + sheet.text_width(label, size) + 4
    sheet.line((start, base + 1), (frame.left + frame.width, base + 1), 0.4)
    frame.at += 2.1 * size


def _signs(sheet: Sheet, exam: Exam, protocol: SpeciesProtocol) -> None:
    signs = signs_offered(exam, protocol)
    if not signs:
        return
    sheet.heading("Urgent: tick, tell the veterinarian, write who and when", 10)
    by_action: dict[str, list[str]] = {}
    for sign in signs:
        label = sign_label(sign, words_for(exam))
        by_action.setdefault(sign.action, []).append(label)
    for action, labels in by_action.items():
        sheet.text(action, _SMALL, bold=True, before=2)
        sheet.text(_ticks(labels), _SMALL)
    _to_fill(sheet, "Told whom, when, what was said")
    sheet.answer_lines(1)


def _place(
    sheet: Sheet, exam: Exam, protocol: SpeciesProtocol, place: str, number: int
) -> None:
    region, vital = protocol.region(place), protocol.vital(vital_of(place))
    if region is not None:
        _part(sheet, exam, protocol, region, number)
    elif vital is not None:
        _vital(sheet, exam, protocol, vital, number)


def _part(
    sheet: Sheet, exam: Exam, protocol: SpeciesProtocol, region: Region, number: int
) -> None:
    words = words_for(exam)
    sheet.require(7 * _SIZE)
    named = region_label(protocol, region.region_id, words)
    only = f" ({', '.join(region.sexes)})" if region.sexes else ""
    sheet.text(f"{number}. {named}{only}", 9, bold=True, before=5)
    claims = "; ".join(clause_words(c, words) for c in clauses_for(exam, region))
    if claims:
        sheet.text(f"No abnormality found: {claims}", _SIZE)
    terms = "; ".join(_terms(region, words))
    if terms:
        sheet.text(f"Finds: {terms}", _SMALL)
    for key in keys_of(exam, protocol, region):
        side = split_key(key)[1]
        ticks = ("no abnormality found", "found", "not present")
        line = _ticks(ticks)
        sheet.text(f"{side}:  {line}" if side else line, _SIZE, before=2)
        _to_fill(sheet, f"{TICK}not examined, or not seen, and why")
        _to_fill(sheet, "Find, side, place, size, mark")
        sheet.answer_lines(1, 15)


def _ticks(words: Iterable[str]) -> str:
    return "   ".join(f"{TICK}{one}" for one in words)


def _terms(region: Region, words: Role) -> Iterator[str]:
    for term in region.terms:
        is_plain = words is Role.VOLUNTEER and term.plain
        label = term.plain if is_plain else term.label
        kinds = f" ({', '.join(term.qualities)})" if term.qualities else ""
        yield f"{label}{kinds}"


def _vital(
    sheet: Sheet, exam: Exam, protocol: SpeciesProtocol, vital: Vital, number: int
) -> None:
    words = words_for(exam)
    sheet.require(5 * _SIZE)
    needed = vital in required_vitals(exam, protocol)
    asked = " (asked for)" if needed else ""
    label = vital_label(vital, words)
    sheet.text(f"{number}. {label}{asked}", 9, bold=True, before=4)
    if vital.measure is not None:
        measure = vital.measure
        units = _ticks(measure.label_of(unit) for unit in measure.units_offered)
        _to_fill(sheet, f"Value with unit ({units})")
    if vital.kind is VitalKind.RATE:
        _to_fill(sheet, "Counted, in how many seconds")
        states = _ticks(state.value for state in RateState)
        sheet.text(f"While:  {states}", _SMALL, before=2)
    scale = protocol.scale(vital.scale_id) if vital.scale_id else None
    grades = (
        g.value if g.value == g.label else f"{g.value}: {g.label}"
        for g in (scale.grades if scale else ())
    )
    choices = (
        c.plain if words is Role.VOLUNTEER and c.plain else c.label
        for c in vital.choices
    )
    for listed in map(_ticks, (grades, choices)):
        if listed:
            sheet.text(listed, _SIZE, before=1)
    if vital.sites:
        sheet.text(f"Where:  {_ticks(vital.sites)}", _SMALL)
    _to_fill(sheet, f"{TICK}not done, and why")
