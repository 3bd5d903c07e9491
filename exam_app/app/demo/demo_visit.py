"""What surrounds a demonstration exam: why it came, intake, scans, given, care."""

from collections.abc import Mapping
from typing import Any

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
from exam_app.domain.exam.visit_transitions import record_visit
from exam_app.domain.moments import Moment

Told = Mapping[str, Any]
_WHOLE = {
    "presentation": Presentation,
    "intake": Intake,
    "bite": BiteHistory,
    "plan": Plan,
    "care": Care,
}
_LISTS = {"given": Given, "procedures": Procedure, "samples": Sample}


def play_visit(exam: Exam, told: Told, by: Attribution, now: Moment) -> Exam:
    """Return an exam with what a demonstration file tells around it.

    Args:
        told: One ``[[exams]]`` table; ``presentation``, ``intake``, ``bite``,
            ``plan``, ``care`` and ``group`` are tables of fields, ``scans``, ``given``,
            ``procedures`` and ``samples`` lists of them, ``private`` a text.

    Raises:
        ExamError: The file tells something the app would refuse.
    """
    said = [kind(**told[name]) for name, kind in _WHOLE.items() if name in told]
    for scan in told.get("scans", ()):
        numbers = tuple(scan.get("numbers", ()))
        made = {"passes": 0, "scanner": "", **scan, "numbers": numbers}
        said.append(ChipScan(attribution=by, **made))
    for name, kind in _LISTS.items():
        more = {"at": now} if kind is Given else {}
        said += [kind(attribution=by, **more, **one) for one in told.get(name, ())]
    if "private" in told:
        said.append(PrivateNote(told["private"], by))
    for one in said:
        exam = record_visit(exam, one)
    return set_group(exam, GroupFacts(**told["group"])) if "group" in told else exam
