"""Transponder (microchip) numbers as typed or scanned: what can be wrong with one.

A printed chip number carries no check digit, so a slip of one digit cannot be seen
in the number itself: two independent reads are compared instead.

A scanner does not find every chip, so a scan without a number says "none found on
this scan" and never that there is no chip.

References:
    Linda K. Lord et al. 2008: no scanner found every chip, and one pass found fewer
    than several (read).
"""

import re
from dataclasses import dataclass

from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.visit import INTAKE_SLOT, ChipScan
from exam_app.domain.protocol.protocol import Scope
from exam_app.language.catalogue import to_translate, tr

_DASHES = "-._/\u2010\u2011\u2012\u2013\u2014\u2212"
_ISO = re.compile(r"[0-9]{15}")
_OLDER = re.compile(r"[0-9A-F]{9,10}")
_POWER_OF_TEN = re.compile(r"[0-9]+(?:,[0-9]+)?E\+?[0-9]+")
_LARGEST_NATIONAL_NUMBER = 274_877_906_943  # 38 bits
_TOO_HIGH = to_translate(
    "The last twelve digits are higher than a chip can hold: at least one digit is "
    "wrong."
)
# What the first three digits tell.
_CODES = {
    "000": to_translate("A number beginning 000 is not valid."),
    "999": to_translate("999 marks a test chip, which is not registered to an animal."),
    "900": to_translate(
        "900 is shared by several makers: the digits after it, {digits}, tell them "
        "apart. Give the whole number when asking a database."
    ),
}


@dataclass(frozen=True, slots=True)
class ChipCheck:
    """A chip number looked at.

    Args:
        number: The number without spaces and dashes.
        problems: Everything to know about it in plain sentences, the gravest first.
        is_refused: Whether it is no chip number as it stands.
    """

    number: str
    problems: tuple[str, ...]
    is_refused: bool


def normalise_chip(typed: str) -> str:
    """Return a number without the spaces, dashes and line end a scanner adds.

    A hand-held reader that types like a keyboard ends with a line end or a tab.
    Letters come back as capitals.
    """
    kept = [mark for mark in typed if mark.isprintable() and not mark.isspace()]
    return "".join(mark for mark in kept if mark not in _DASHES).upper()


def show_chip(number: str) -> str:
    """Return an ISO number in groups of three, which are easier to read out."""
    if not _ISO.fullmatch(number):
        return number
    return " ".join(number[start : start + 3] for start in range(0, 15, 3))


def check_chip(typed: str) -> ChipCheck:
    """Look at a chip number as typed or scanned and say what is wrong with it.

    An older chip is told of, and one that may be a number cut short is asked about.
    The spaces and dashes do not matter.

    References:
        ISO 11784 as described by WSAVA and ICAR: 15 digits; 000 invalid, 900
        shared; 38 bits for the last twelve digits. That 999 marks a test chip is
        from memory.
    """
    number = normalise_chip(typed)
    if _ISO.fullmatch(number):
        code, is_too_high = number[:3], int(number[3:]) > _LARGEST_NATIONAL_NUMBER
        problems = [tr(_CODES[code], digits=number[3:6])] if code in _CODES else []
        if is_too_high:
            problems.insert(code == "000", tr(_TOO_HIGH))
        return ChipCheck(number, tuple(problems), is_too_high or code == "000")
    if _OLDER.fullmatch(number):
        older = tr(
            "{count} characters: an older type of chip, which not every scanner "
            "reads. It is kept as text, type unknown.",
            count=len(number),
        )
        cut_short = ""
        if number.isdigit():
            cut_short = tr(" Or digits are missing: look again.")
        return ChipCheck(number, (f"{older}{cut_short}",), is_refused=False)
    return ChipCheck(number, (_shape_problem(typed, number),), is_refused=True)


def _shape_problem(typed: str, number: str) -> str:
    half = len(number) // 2
    if not number:
        return tr("Nothing was typed or scanned.")
    if _POWER_OF_TEN.fullmatch(number):
        return tr("A spreadsheet has shortened this number: scan the chip again.")
    if len(number) == 30 and number[:half] == number[half:]:
        return tr("The number came twice in one field: clear it and scan once.")
    if number.isascii() and number.isdigit():
        return tr("{count} digits: a chip number has 15.", count=len(number))
    if not typed.isascii():
        return tr("Use the digits 0 to 9.")
    return tr("A chip number has 15 digits and no letters; a passport number may have.")


# Stands among a record's gaps and a continuation's open keys, beside region keys.
SCAN_GAP = "scan:intake"


def scans_of(exam: Exam) -> tuple[ChipScan, ...]:
    """Return every scan of an exam, in the order they were made."""
    return exam.intake.scans if exam.intake else ()


def is_scan_required(exam: Exam) -> bool:
    """Return whether an exam cannot close without a scan.

    An intake look-over needs one; its continuation only if it was left undone.
    """
    if exam.continues:
        return SCAN_GAP in exam.open_keys
    return exam.scope is Scope.INTAKE


def is_scan_open(exam: Exam) -> bool:
    """Return whether a required scan is still missing.

    It is there with numbers, none found, or why it was not made. A first exam asks for
    a scan at intake; a later day's scan answers a continuation.
    """
    slots = {scan.slot for scan in scans_of(exam)}
    is_there = slots if exam.continues else INTAKE_SLOT in slots
    return is_scan_required(exam) and not is_there


def reason_not_scanned(exam: Exam) -> str:
    """Return why a required scan was left undone; empty when one was made."""
    scans = scans_of(exam)
    if not is_scan_required(exam) or any(not scan.not_done for scan in scans):
        return ""
    return next((scan.not_done for scan in scans if scan.not_done), "")


def differing_numbers(recorded: str, scanned: tuple[str, ...]) -> tuple[str, ...]:
    """Return the scanned numbers that are not the one on record.

    Args:
        recorded: The animal's chip as kept; empty when none is known, and then
            nothing can differ.
        scanned: Numbers as read; spaces and dashes do not matter.
    """
    known = normalise_chip(recorded)
    if not known:
        return ()
    return tuple(number for number in scanned if normalise_chip(number) != known)


def difference_words(exam: Exam) -> str:
    """Say which scanned numbers differ from the one on record; empty when none."""
    numbers = tuple(n for scan in scans_of(exam) for n in scan.numbers)
    other = dict.fromkeys(differing_numbers(exam.animal.chip, numbers))
    if not other:
        return ""
    read = ", ".join(show_chip(number) for number in other)
    kept = show_chip(exam.animal.chip)
    return tr("scanned {read}, on record {kept}", read=read, kept=kept)
