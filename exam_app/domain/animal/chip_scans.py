"""Which chip scan an exam must hold, and what a scan's numbers say of the animal.

A scanner does not find every chip, so a scan without a number says "none found on
this scan" and never that there is no chip.

References:
    Linda K. Lord et al. 2008: no scanner found every chip, and one pass found fewer
    than several (read).
"""

from exam_app.domain.animal.chips import normalise_chip, show_chip
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.visit import INTAKE_SLOT, ChipScan
from exam_app.domain.protocol.protocol import Scope

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


def is_scan_answered(exam: Exam) -> bool:
    """Return whether the scan is there: numbers, none found, or why it was not made.

    A first exam asks for a scan at intake; a later day's scan answers a continuation.
    """
    if exam.continues:
        return bool(scans_of(exam))
    return any(scan.slot == INTAKE_SLOT for scan in scans_of(exam))


def is_scan_open(exam: Exam) -> bool:
    """Return whether a required scan is still missing."""
    return is_scan_required(exam) and not is_scan_answered(exam)


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
    return f"scanned {read}, on record {show_chip(exam.animal.chip)}"
