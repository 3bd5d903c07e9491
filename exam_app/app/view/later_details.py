"""Finds recorded with dirty gloves: their details are asked for in the review.

Which ones is kept on the device and never in the record. One that was given a detail
meanwhile is no longer asked for; nothing of this keeps an exam from closing.
"""

from exam_app.app.exam_settings import keep_of_exam, kept_of_exam
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.findings import Finding
from exam_app.store.vault.vault import Vault

PUT_OFF = "details_put_off"


def put_off(vault: Vault, exam_id: str, finding_ids: tuple[str, ...]) -> None:
    """Keep that these finds want details; exams no longer open are forgotten."""
    waiting = [*put_off_ids(vault, exam_id), *finding_ids]
    keep_of_exam(vault, PUT_OFF, exam_id, waiting)


def put_off_ids(vault: Vault, exam_id: str) -> tuple[str, ...]:
    """Return the ids of the finds of an exam that were recorded in haste."""
    return tuple(kept_of_exam(vault, PUT_OFF, exam_id) or ())


def without_details(
    exam: Exam, finding_ids: tuple[str, ...]
) -> tuple[tuple[str, Finding], ...]:
    """Return those finds that still have no detail, each with its region key."""
    return tuple(
        (key, finding)
        for key, entry in exam.regions.items()
        for finding in entry.findings
        if finding.finding_id in finding_ids and finding == _without_details(finding)
    )


def _without_details(f: Finding) -> Finding:
    ids = f.finding_id, f.words, f.attribution, f.term_id, f.side
    return Finding(*ids, call=f.call)
