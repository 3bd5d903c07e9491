"""Pure changes of the vitals and the urgent signs they open."""

from dataclasses import dataclass, replace
from decimal import Decimal

from exam_app.domain.counting import rate
from exam_app.domain.errors import (
    ExamClosedError,
    MissingReasonError,
    NotInScopeError,
    UnknownItemError,
)
from exam_app.domain.exam import Exam, vitals_in_scope
from exam_app.domain.intervals import Flag, FlagLevel, applicable, flag_reading
from exam_app.domain.people import Attribution
from exam_app.domain.protocol import SpeciesProtocol, UrgentSign, Vital
from exam_app.domain.scales import grade_number
from exam_app.domain.units import in_unit
from exam_app.domain.urgent import UrgentEntry
from exam_app.domain.urgent_transitions import open_urgent, without_origin
from exam_app.domain.vitals import EarlierCount, VitalEntry

# A protocol that could open more of one vital is refused when it is loaded.
MOST_SIGNS = 8


def require_vital(exam: Exam, protocol: SpeciesProtocol, vital_id: str) -> Vital:
    """Return a vital that this exam offers.

    Raises:
        ExamClosedError: The exam is closed.
        UnknownItemError: The protocol has no such vital.
        NotInScopeError: The vital is not part of this exam.
    """
    if exam.is_closed:
        raise ExamClosedError
    vital = protocol.vital(vital_id)
    if vital is None:
        raise UnknownItemError(vital_id)
    if vital not in vitals_in_scope(exam, protocol):
        raise NotInScopeError
    return vital


def canonical_value(vital: Vital, entry: VitalEntry) -> Decimal | None:
    """Return the reading in the vital's own unit, rounded to its precision."""
    if vital.measure is None or entry.reading is None:
        return None
    return in_unit(entry.reading, vital.measure.unit, vital.measure.precision)


def flag_vital(
    exam: Exam, protocol: SpeciesProtocol, vital: Vital, entry: VitalEntry
) -> Flag | None:
    """Place a vital against the published ranges for this animal, setting and state.

    An age that is not known compares with nothing, and a temperature taken elsewhere
    than at the vital's usual site is not compared with that site's ranges.

    Returns:
        The flag as it is to be shown, or ``None`` where no published range applies.
    """
    value = canonical_value(vital, entry)
    is_other_site = bool(vital.sites and entry.site and entry.site != vital.sites[0])
    if value is None or vital.measure is None or is_other_site or not exam.life_stage:
        return None
    rows = applicable(
        protocol.intervals,
        vital.measure.measure_id,
        exam.life_stage,
        exam.setting.value,
        entry.state.value if entry.state else "",
    )
    step = rate(entry.evidence).step if entry.evidence else None
    flag = flag_reading(value, vital.measure, rows, step, protocol.source_titles())
    return None if flag.level is FlagLevel.NONE else flag


def record_vital(
    exam: Exam,
    protocol: SpeciesProtocol,
    vital_id: str,
    entry: VitalEntry,
    by: Attribution,
    urgent_ids: tuple[str, ...],
) -> Exam:
    """Record a value, a grade, words or a reason, with its flag and urgent signs.

    A count that is repeated keeps the earlier one beside it.

    Args:
        entry: What was noted, without flag, attribution and earlier counts.
        urgent_ids: UUIDs for urgent signs that may open, ``MOST_SIGNS`` for any.

    Raises:
        MissingReasonError: Neither a value nor a reason.
        ValueError: More signs open than there are ids; none may be lost.
    """
    vital = require_vital(exam, protocol, vital_id)
    if not entry.is_answered:
        raise MissingReasonError
    before = exam.vital(vital_id)
    entry = replace(
        entry,
        attribution=by,
        flag=flag_vital(exam, protocol, vital, entry),
        earlier=_with_earlier(before, entry),
    )
    exam = replace(exam, vitals={**exam.vitals, vital_id: entry})
    origin = f"vital:{vital_id}"
    exam = without_origin(exam, origin)
    signs = signs_of(exam, protocol, vital, entry)
    for sign, urgent_id in zip(signs, urgent_ids[: len(signs)], strict=True):
        opened = UrgentEntry(
            urgent_id, sign.label, by, sign.sign_id, sign.action, origin
        )
        exam = open_urgent(exam, opened)
    return exam


def _with_earlier(before: VitalEntry, entry: VitalEntry) -> tuple[EarlierCount, ...]:
    if before.reading is None or before.attribution is None:
        return before.earlier
    if before.reading == entry.reading and before.evidence == entry.evidence:
        return before.earlier
    kept = EarlierCount(
        before.reading, before.evidence, before.state, before.attribution
    )
    return (*before.earlier, kept)


@dataclass(frozen=True, slots=True)
class _Limits:
    below: Decimal | None
    above: Decimal | None

    def hold(self, value: Decimal) -> bool:
        is_low = self.below is not None and value < self.below
        return is_low or (self.above is not None and value > self.above)


def signs_of(
    exam: Exam, protocol: SpeciesProtocol, vital: Vital, entry: VitalEntry
) -> tuple[UrgentSign, ...]:
    """Return the urgent signs a vital's value, grade or words open, in their order.

    Limits hold only for the life stages they name; a numbered grade is compared as
    the number it is.
    """
    value = canonical_value(vital, entry)
    if value is None and entry.grade is not None:
        value = grade_number(entry.grade.value)
    chosen = {
        choice.urgent_sign_id
        for choice in vital.choices
        if choice.urgent_sign_id and choice.value in entry.values
    }
    found = []
    for sign in protocol.urgent_signs:
        fits_age = not sign.life_stages or exam.life_stage in sign.life_stages
        is_beyond = (
            value is not None
            and sign.vital_id == vital.vital_id
            and fits_age
            and _limits(sign).hold(value)
        )
        if is_beyond or sign.sign_id in chosen:
            found.append(sign)
    return tuple(found)


def _limits(sign: UrgentSign) -> _Limits:
    return _Limits(
        Decimal(sign.below) if sign.below else None,
        Decimal(sign.above) if sign.above else None,
    )


def clear_vital(exam: Exam, protocol: SpeciesProtocol, vital_id: str) -> Exam:
    """Take back the answer of a vital; its unanswered urgent signs go too."""
    require_vital(exam, protocol, vital_id)
    origin = f"vital:{vital_id}"
    kept = {key: entry for key, entry in exam.vitals.items() if key != vital_id}
    return without_origin(replace(exam, vitals=kept), origin)
