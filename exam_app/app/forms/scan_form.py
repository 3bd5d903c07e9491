"""What a scanner read, before it is kept: numbers with their checks, and the reasons.

A number that is no chip number as it stands is kept only when somebody says so.
"""

from dataclasses import dataclass, replace

from exam_app.app.forms.form import Ask, choice
from exam_app.domain.animal.chips import (
    check_chip,
    differing_numbers,
    scans_of,
    show_chip,
)
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.visit import INTAKE_SLOT, SCAN_SLOTS
from exam_app.language.catalogue import to_translate, tr

SCANNER_SETTING = "chip_scanner"
PASSES = (1, 2, 3, 4)
SLOT_LABELS = (
    ("intake", to_translate("Intake")),
    ("later-day", to_translate("Later day")),
    ("before-release", to_translate("Before release")),
)
REASONS = (
    to_translate("no scanner here"),
    to_translate("unsafe"),
    to_translate("too stressed"),
    to_translate("scanner not working"),
)
ASKS = (
    choice("slot", "", SLOT_LABELS),
    Ask(
        "number",
        to_translate("Chip number"),
        hint=to_translate("Scan with a reader that types, or type it. Enter takes it."),
    ),
    # Those read so far stand in lines of their own.
    Ask("numbers", "", identifier="numbers"),
    Ask("scanner", to_translate("Scanner")),
    Ask(
        "not-done-words",
        to_translate("Reason in your own words"),
        required=to_translate("Type why it was not scanned."),
    ),
)
HOW = to_translate(
    "Go over it slowly, in more than one direction: one pass finds fewer chips."
)


@dataclass(frozen=True, slots=True)
class ScanForm:
    """One scan being made.

    Attributes:
        slot: Its occasion.
        numbers: Read so far, without spaces and dashes, each once.
        refused: A number that is no chip number, waiting to be told "as read".
    """

    slot: str
    numbers: tuple[str, ...] = ()
    refused: str = ""


def next_slot(exam: Exam) -> str:
    """Return the occasion that comes next."""
    has_first = any(scan.slot == INTAKE_SLOT for scan in scans_of(exam))
    return SCAN_SLOTS[1] if has_first or exam.continues else INTAKE_SLOT


def with_read(form: ScanForm, typed: str) -> ScanForm:
    """Take what a reader typed: another number, or one that is refused for now."""
    check = check_chip(typed)
    if not check.number:
        return replace(form, refused="")
    if check.is_refused:
        return replace(form, refused=check.number)
    return _with_number(form, check.number)


def kept_as_read(form: ScanForm) -> ScanForm:
    """Keep the refused number as it was read."""
    return _with_number(form, form.refused) if form.refused else form


def without_number(form: ScanForm, number: str) -> ScanForm:
    """Drop a number that was read by mistake."""
    return replace(form, numbers=tuple(n for n in form.numbers if n != number))


def _with_number(form: ScanForm, number: str) -> ScanForm:
    numbers = tuple(dict.fromkeys((*form.numbers, number)))
    return replace(form, numbers=numbers, refused="")


def number_words(number: str) -> str:
    """Say a number with everything its check tells."""
    return "\n".join((show_chip(number), *check_chip(number).problems))


def question_about(exam: Exam) -> tuple[str, str]:
    """Ask about the newest number read, if the animal's record holds another or none.

    Returns:
        The number and the sentence; both empty when there is nothing to ask.
    """
    numbers = [number for scan in scans_of(exam) for number in scan.numbers]
    if not numbers:
        return "", ""
    newest, recorded = numbers[-1], exam.animal.chip
    if not recorded:
        return newest, (
            tr(
                "Scanned: {number}. No number is recorded for this animal. "
                "Nothing was changed.",
                number=show_chip(newest),
            )
        )
    if not differing_numbers(recorded, (newest,)):
        return "", ""
    return newest, (
        tr(
            "The scanned number is not the one on record. Scanned: {scanned}. "
            "On record: {recorded}. Nothing was changed. Is it this animal?",
            scanned=show_chip(newest),
            recorded=show_chip(recorded),
        )
    )
