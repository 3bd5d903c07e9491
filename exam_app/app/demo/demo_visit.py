"""What surrounds a demonstration exam: why it came, intake, scans, given, care."""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any, TypeVar

from exam_app.domain.animal.groups import set_group
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.visit import (
    BiteHistory,
    Care,
    ChipScan,
    Given,
    GroupFacts,
    Intake,
    Plan,
    Presentation,
    PrivateNote,
    Procedure,
    Sample,
)
from exam_app.domain.exam.visit_transitions import (
    add_chip_scan,
    add_given,
    add_private_note,
    add_procedure,
    add_sample,
    set_bite,
    set_care,
    set_intake,
    set_plan,
    set_presentation,
)
from exam_app.domain.moments import Moment

Told = Mapping[str, Any]
T = TypeVar("T", BiteHistory, Care, GroupFacts, Intake, Plan, Presentation)


def play_visit(exam: Exam, told: Told, by: Attribution, now: Moment) -> Exam:
    """Return an exam with what a demonstration file tells around it.

    Args:
        told: One ``[[exams]]`` table; ``presentation``, ``intake``, ``bite``,
            ``plan``, ``care`` and ``group`` are tables of fields, ``scans``, ``given``,
            ``procedures`` and ``samples`` lists of them, ``private`` a text.

    Raises:
        ExamError: The file tells something the app would refuse.
    """
    if "presentation" in told:
        exam = set_presentation(exam, _said(Presentation, told["presentation"]))
    if "intake" in told:
        exam = set_intake(exam, _said(Intake, told["intake"]))
    if "bite" in told:
        exam = set_bite(exam, _said(BiteHistory, told["bite"]))
    if "plan" in told:
        exam = set_plan(exam, _said(Plan, told["plan"]))
    if "care" in told:
        exam = set_care(exam, _said(Care, told["care"]))
    if "group" in told:
        exam = set_group(exam, _said(GroupFacts, told["group"]))
    return _lists(exam, told, by, now)


def _lists(exam: Exam, told: Told, by: Attribution, now: Moment) -> Exam:
    for scan in told.get("scans", ()):
        numbers = tuple(scan.get("numbers", ()))
        made = {"passes": 0, "scanner": "", **scan, "numbers": numbers}
        exam = add_chip_scan(exam, ChipScan(attribution=by, **made))
    for given in told.get("given", ()):
        exam = add_given(exam, Given(attribution=by, at=now, **given))
    for done in told.get("procedures", ()):
        exam = add_procedure(exam, Procedure(attribution=by, **done))
    for sample in told.get("samples", ()):
        exam = add_sample(exam, Sample(attribution=by, **sample))
    if "private" in told:
        exam = add_private_note(exam, PrivateNote(told["private"], by))
    return exam


def _said(kind: type[T], told: Told) -> T:
    known = {field.name for field in fields(kind)}
    assert told.keys() <= known, told  # noqa: S101 - our own file names them
    return kind(**told)
