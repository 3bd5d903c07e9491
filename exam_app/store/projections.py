"""The few fields of a closed exam that lists show and the review is ordered by.

Closing and import make them alike, from the exam as signed and its protocol.
"""

from collections.abc import Iterator
from typing import Any

from exam_app.domain.closing import gaps
from exam_app.domain.exam import Exam
from exam_app.domain.findings import Call
from exam_app.domain.headline import headline
from exam_app.domain.limits import FlagLevel
from exam_app.domain.protocol import SpeciesProtocol
from exam_app.domain.urgent import AnswerKind
from exam_app.domain.written_record import title

URGENT_NOT_TOLD = "urgent not told"
URGENT = "urgent"
_OUTSIDE = (FlagLevel.BELOW, FlagLevel.ABOVE)
_REACHED = (AnswerKind.TOLD, AnswerKind.AM_VETERINARIAN)
_LEFT_FOR_VETERINARIAN = "for the veterinarian"


def closed_projection(
    exam: Exam, protocol: SpeciesProtocol, exam_hash: str, device_id: str, key_id: bytes
) -> dict[str, Any]:
    """Return what lists show of a closed exam.

    Args:
        exam: Closed.
        protocol: The one it names.
        exam_hash: SHA-256 of the signed bytes, in hexadecimal.
        device_id: Of the device that closed it.
        key_id: 16-byte id of the key that signed it.
    """
    closer = exam.person(exam.closing.closed_by) if exam.closing else None
    return {
        "animal_id": exam.animal.animal_id,
        "name": exam.animal.name,
        "species": exam.animal.species,
        "scope": exam.scope.value,
        "title": title(exam, protocol),
        "started": exam.started.date_and_time(),
        "closed": exam.closing.at.date_and_time() if exam.closing else "",
        "closed_by": closer.name if closer else "",
        "closed_role": closer.role.value if closer else "",
        "person_id": exam.closing.closed_by if exam.closing else "",
        "headline": list(headline(exam, protocol)),
        "gaps": len(gaps(exam, protocol)),
        "is_urgent": bool(exam.urgent),
        "urgency": urgency(exam),
        "to_look": left_to_look(exam),
        "flags": outside_ranges(exam),
        "bite": exam.bite.concern if exam.bite else "",
        "setting": exam.setting.value,
        "continues": exam.continues,
        "group_exam": exam.group_exam,
        "hash": exam_hash,
        "device_id": device_id,
        "key_id": key_id.hex(),
        "is_demo": exam.is_demo,
    }


def urgency(exam: Exam) -> str:
    """Return ``urgent not told``, ``urgent``, or empty.

    Not told: at least one sign of which no veterinarian was told; one who was only
    tried and not reached does not know.
    """
    if not exam.urgent:
        return ""
    known = [any(a.kind in _REACHED for a in sign.answers) for sign in exam.urgent]
    return URGENT if all(known) else URGENT_NOT_TOLD


def left_to_look(exam: Exam) -> int:
    """Count what was left for a veterinarian: findings so called, parts so given."""
    return sum(1 for _ in _left_to_look(exam))


def outside_ranges(exam: Exam) -> int:
    """Count the vitals whose flag, as signed, says below or above."""
    flags = (vital.flag for vital in exam.vitals.values())
    return sum(flag is not None and flag.level in _OUTSIDE for flag in flags)


def _left_to_look(exam: Exam) -> Iterator[str]:
    for key, entry in exam.regions.items():
        for finding in entry.findings:
            if finding.call is Call.VETERINARIAN_TO_LOOK:
                yield finding.finding_id
        if entry.reason.endswith(_LEFT_FOR_VETERINARIAN):
            yield key
