"""What a record claims to be, held against what is kept of the same exam.

The same bytes are had already. A first record beside another first one is a fork;
both are kept and shown. A revision names the record it revises by hash, has a higher
number, and comes from the device and the role that closed it; two revisions of one
record, or of one number, are a fork. Nothing that is kept is ever replaced.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from exam_app.domain.exam.exam import Exam
from sync.inbox import KeptRevision
from sync.receipts import Outcome

HIGHEST_REVISION = 10_000
BAD_CLAIM = "its revision number does not fit what it names"
PARENT_MISSING = "it revises a record that is not here yet"
OTHER_DEVICE = "it revises a record that another device closed"
OTHER_ROLE = "it revises a record that another role closed"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What becomes of a record, why, and what it waits for."""

    outcome: Outcome
    reason: str = ""
    waits_for: str = ""


def judge(
    exam: Exam,
    record_hash: str,
    kept: Sequence[KeptRevision],
    device_key_ids: Collection[bytes],
) -> Verdict:
    """Decide what a verified record is.

    Args:
        exam: As signed.
        record_hash: Of its signed bytes.
        kept: What is kept of the same exam.
        device_key_ids: Of the sending device, with its former keys.
    """
    if any(record.record_hash == record_hash for record in kept):
        return Verdict(Outcome.HAD_ALREADY)
    if not 0 <= exam.revision <= HIGHEST_REVISION:
        return Verdict(Outcome.REFUSED, BAD_CLAIM)
    if bool(exam.revision) != bool(exam.parent_hash):
        return Verdict(Outcome.REFUSED, BAD_CLAIM)
    if not exam.revision:
        is_first = all(record.revision for record in kept)
        return Verdict(Outcome.STORED if is_first else Outcome.FORK)
    return _judge_revision(exam, kept, device_key_ids)


def closed_role_of(exam: Exam) -> str:
    """Return the role of the person who closed an exam."""
    closer = exam.person(exam.closing.closed_by) if exam.closing else None
    return closer.role.value if closer else ""


def _judge_revision(
    exam: Exam, kept: Sequence[KeptRevision], device_key_ids: Collection[bytes]
) -> Verdict:
    parents = [r for r in kept if r.record_hash == exam.parent_hash]
    if not parents:
        wanted = f"record:{exam.parent_hash}"
        return Verdict(Outcome.QUARANTINED, PARENT_MISSING, wanted)
    parent = parents[0]
    if parent.revision >= exam.revision:
        return Verdict(Outcome.REFUSED, BAD_CLAIM)
    if parent.key_id not in device_key_ids:
        return Verdict(Outcome.QUARANTINED, OTHER_DEVICE)
    if parent.closed_role != closed_role_of(exam):
        return Verdict(Outcome.QUARANTINED, OTHER_ROLE)
    is_fork = any(
        record.revision == exam.revision or record.parent_hash == exam.parent_hash
        for record in kept
        if record.revision
    )
    return Verdict(Outcome.FORK if is_fork else Outcome.REVISION)
