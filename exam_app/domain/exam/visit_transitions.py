"""Pure changes of what surrounds the exam: intake, bite, given, samples, plan, care."""

from dataclasses import replace
from typing import Any

from exam_app.domain.animal.signalment import Animal
from exam_app.domain.errors import UnknownItemError
from exam_app.domain.exam.exam import Exam, require_open
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

Whole = Presentation | BiteHistory | Plan | Care | Intake | Animal
Entry = Given | Procedure | Sample | PrivateNote | ChipScan
_WHOLE: dict[type, str] = {
    Presentation: "presentation",
    BiteHistory: "bite",
    Plan: "plan",
    Care: "care",
}
# The list an entry is added to, and the words it cannot be without.
_LISTS: dict[type, tuple[str, str]] = {
    Given: ("given", "product"),
    Procedure: ("procedures", "what"),
    Sample: ("samples", "kind"),
    PrivateNote: ("private_notes", "text"),
}
_TAKEN_BACK = frozenset(name for name, _ in _LISTS.values())


def record_visit(exam: Exam, said: Whole | Entry) -> Exam:
    """Record one part of what surrounds the exam, in the place of its kind.

    A whole part takes the place of the one before; of an intake the scans made so far
    stand, and of an animal only what can hurt whoever handles it is taken. What was
    given, done or sampled, a private note and a chip scan are added, never replaced.

    Raises:
        ExamClosedError: The exam is closed.
        UnknownItemError: An entry has no words.
    """
    require_open(exam)
    intake = exam.intake or Intake()
    if isinstance(said, Animal):
        return replace(exam, animal=replace(exam.animal, dangers=said.dangers))
    if isinstance(said, Intake):
        return replace(exam, intake=replace(said, scans=intake.scans))
    if isinstance(said, ChipScan):
        return replace(exam, intake=replace(intake, scans=(*intake.scans, said)))
    if type(said) in _WHOLE:
        return _with(exam, _WHOLE[type(said)], said)
    name, words = _LISTS[type(said)]
    if not getattr(said, words).strip():
        raise UnknownItemError("(no words)")
    return _with(exam, name, (*getattr(exam, name), said))


def take_back(exam: Exam, part: str, place: int) -> Exam:
    """Drop one entry that was recorded by mistake, while the exam is open.

    Args:
        part: ``given``, ``procedures``, ``samples`` or ``private_notes``. A chip
            scan is never dropped.
        place: Its place in the order recorded, from 0.

    Raises:
        UnknownItemError: No such list, or nothing at that place.
    """
    require_open(exam)
    entries = getattr(exam, part) if part in _TAKEN_BACK else ()
    if not 0 <= place < len(entries):
        raise UnknownItemError(part)
    return _with(exam, part, (*entries[:place], *entries[place + 1 :]))


def keep_chip(exam: Exam, number: str) -> Exam:
    """Take a scanned number as the animal's own, when a person says so."""
    require_open(exam)
    return replace(exam, animal=replace(exam.animal, chip=number))


def _with(exam: Exam, name: str, value: object) -> Exam:
    changed: dict[str, Any] = {name: value}
    return replace(exam, **changed)
