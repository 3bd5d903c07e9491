"""An answer given late keeps both times: when it was seen, and when it was entered.

A time of day names the last moment it was that time, within half a day: a night round
may enter at ten past midnight what was seen at ten to. No answer is dated ahead.
"""

import re
from dataclasses import replace

from exam_app.domain.errors import LateEntryError, UnknownItemError
from exam_app.domain.exam.exam import Exam
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.transitions import require_key, set_entry
from exam_app.domain.exam.vital_transitions import require_vital
from exam_app.domain.moments import Moment
from exam_app.domain.protocol.protocol import SpeciesProtocol

MINUTES_BACK_AT_MOST = 12 * 60
_DAY_MINUTES = 24 * 60
_CLOCK = re.compile(r"(\d{1,2})[:.h ]?(\d{2})")


def minutes_before(now: Moment, minutes: int) -> Moment:
    """Return the moment that many minutes before, at the same place."""
    return Moment(now.utc_ms - minutes * 60_000, now.offset_min)


def read_clock(typed: str, now: Moment) -> Moment:
    """Return the last moment the clock showed what was typed, as ``13:45`` or ``1345``.

    Raises:
        LateEntryError: No time of day, or not within the last twelve hours.
    """
    found = _CLOCK.fullmatch(typed.strip())
    if found is None:
        raise LateEntryError(typed)
    hour, minute = int(found[1]), int(found[2])
    if hour > 23 or minute > 59:
        raise LateEntryError(typed)
    local = now.local()
    back = (local.hour * 60 + local.minute - hour * 60 - minute) % _DAY_MINUTES
    if back > MINUTES_BACK_AT_MOST:
        raise LateEntryError(typed)
    return minutes_before(now, back)


def says_what_was_seen(before: Exam, after: Exam) -> bool:
    """Whether a change says what was seen, and does nothing that is done only now.

    Parts, vitals and signs are seen. Stopping, a bite, an answer to a sign and whatever
    else surrounds the exam has a moment of its own.
    """
    is_done_now = before.stopped != after.stopped or before.bite != after.bite
    is_seen = (
        before.regions != after.regions
        or before.vitals != after.vitals
        or before.earlier != after.earlier
        or len(before.urgent) < len(after.urgent)
    )
    return is_seen and not is_done_now


def keep_time_seen(before: Attribution | None, by: Attribution) -> Attribution:
    """Return who adds a detail now, with the earlier time if one was given before."""
    if before is None or not before.is_late or by.is_late:
        return by
    return replace(by, observed=before.observed)


def regions_seen_earlier(
    exam: Exam, protocol: SpeciesProtocol, keys: tuple[str, ...], by: Attribution
) -> Exam:
    """Return the exam in which answers of regions carry the time they were seen.

    Raises:
        UnknownItemError: One of them is not answered.
    """
    for key in keys:
        require_key(exam, protocol, key)
        entry = exam.entry(key)
        if entry.attribution is None:
            raise UnknownItemError(key)
        exam = set_entry(exam, key, replace(entry, attribution=by))
    return exam


def vital_seen_earlier(
    exam: Exam, protocol: SpeciesProtocol, vital_id: str, by: Attribution
) -> Exam:
    """Return the exam in which a vital carries the time it was measured.

    Raises:
        UnknownItemError: It is not answered.
    """
    require_vital(exam, protocol, vital_id)
    entry = exam.vital(vital_id)
    if not entry.is_answered:
        raise UnknownItemError(vital_id)
    vitals = {**exam.vitals, vital_id: replace(entry, attribution=by)}
    return replace(exam, vitals=vitals)
