"""Pure changes of what surrounds the exam: intake, bite, given, samples, plan, care."""

from dataclasses import replace
from typing import Any

from exam_app.domain.animal.signalment import Animal
from exam_app.domain.errors import ExamClosedError, UnknownItemError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.visit import (
    BiteHistory,
    Care,
    ChipScan,
    Given,
    Intake,
    Plan,
    Presentation,
    PrivateNote,
    Procedure,
    Sample,
)

TAKEN_BACK = frozenset({"given", "procedures", "samples", "private_notes"})


def _require_open(exam: Exam) -> None:
    if exam.is_closed:
        raise ExamClosedError


def set_presentation(exam: Exam, presentation: Presentation) -> Exam:
    """Record who brings the animal, why, and what they consent to."""
    _require_open(exam)
    return replace(exam, presentation=presentation)


def set_dangers(exam: Exam, animal: Animal) -> Exam:
    """Record what can hurt whoever handles the animal, as seen in this exam."""
    _require_open(exam)
    return replace(exam, animal=replace(exam.animal, dangers=animal.dangers))


def set_intake(exam: Exam, intake: Intake) -> Exam:
    """Record how a shelter came by the animal; scans made so far stand."""
    _require_open(exam)
    scans = exam.intake.scans if exam.intake else ()
    return replace(exam, intake=replace(intake, scans=scans))


def add_chip_scan(exam: Exam, scan: ChipScan) -> Exam:
    """Record one scan; a scan is added, never replaced."""
    _require_open(exam)
    intake = exam.intake or Intake()
    return replace(exam, intake=replace(intake, scans=(*intake.scans, scan)))


def set_bite(exam: Exam, bite: BiteHistory) -> Exam:
    """Record bite, scratch and rabies facts; they stay on every view."""
    _require_open(exam)
    return replace(exam, bite=bite)


def add_given(exam: Exam, given: Given) -> Exam:
    """Record something given.

    Raises:
        UnknownItemError: No product.
    """
    _require_open(exam)
    _require_words(given.product)
    return replace(exam, given=(*exam.given, given))


def add_procedure(exam: Exam, procedure: Procedure) -> Exam:
    """Record something done.

    Raises:
        UnknownItemError: No words.
    """
    _require_open(exam)
    _require_words(procedure.what)
    return replace(exam, procedures=(*exam.procedures, procedure))


def add_sample(exam: Exam, sample: Sample) -> Exam:
    """Record a sample or a test.

    Raises:
        UnknownItemError: No kind.
    """
    _require_open(exam)
    _require_words(sample.kind)
    return replace(exam, samples=(*exam.samples, sample))


def set_plan(exam: Exam, plan: Plan) -> Exam:
    """Record the assessment and plan."""
    _require_open(exam)
    return replace(exam, plan=plan)


def set_care(exam: Exam, care: Care) -> Exam:
    """Record what whoever looks after the animal must know."""
    _require_open(exam)
    return replace(exam, care=care)


def add_private_note(exam: Exam, note: PrivateNote) -> Exam:
    """Record facts for the veterinarian only.

    Raises:
        UnknownItemError: No words.
    """
    _require_open(exam)
    _require_words(note.text)
    return replace(exam, private_notes=(*exam.private_notes, note))


def take_back(exam: Exam, part: str, place: int) -> Exam:
    """Drop one entry that was recorded by mistake, while the exam is open.

    Args:
        part: ``given``, ``procedures``, ``samples`` or ``private_notes``. A chip
            scan is never dropped.
        place: Its place in the order recorded, from 0.

    Raises:
        UnknownItemError: No such list, or nothing at that place.
    """
    _require_open(exam)
    entries = getattr(exam, part) if part in TAKEN_BACK else ()
    if not 0 <= place < len(entries):
        raise UnknownItemError(part)
    changed: dict[str, Any] = {part: (*entries[:place], *entries[place + 1 :])}
    return replace(exam, **changed)


def keep_chip(exam: Exam, number: str) -> Exam:
    """Take a scanned number as the animal's own, when a person says so."""
    _require_open(exam)
    return replace(exam, animal=with_chip(exam.animal, number))


def with_chip(animal: Animal, number: str) -> Animal:
    """Return the animal with another chip number."""
    return replace(animal, chip=number)


def _require_words(text: str) -> None:
    if not text.strip():
        raise UnknownItemError("(no words)")
