"""Pure changes of the vitals and the urgent signs they open."""

from dataclasses import replace
from decimal import Decimal

from exam_app.domain.errors import (
    MissingReasonError,
    NotInScopeError,
    UnknownItemError,
)
from exam_app.domain.exam.denials import settle_elsewhere
from exam_app.domain.exam.exam import Exam, require_open, vitals_in_scope
from exam_app.domain.exam.people import Attribution
from exam_app.domain.exam.transitions import open_urgent, without_origin
from exam_app.domain.exam.urgent import UrgentEntry
from exam_app.domain.exam.vitals import EarlierCount, RateState, VitalEntry
from exam_app.domain.measure.counting import rate
from exam_app.domain.measure.units import Reading, in_unit
from exam_app.domain.protocol.intervals import Flag, applicable, flag_reading
from exam_app.domain.protocol.limits import FlagLevel
from exam_app.domain.protocol.protocol import SpeciesProtocol, Vital, VitalKind
from exam_app.domain.protocol.scales import grade_number
from exam_app.domain.protocol.urgent_signs import Trigger, UrgentSign
from exam_app.language.catalogue import ENGLISH, chosen, in_english, tr

# A protocol that could open more of one vital is refused when it is loaded.
MOST_SIGNS = 8


def require_vital(exam: Exam, protocol: SpeciesProtocol, vital_id: str) -> Vital:
    """Return a vital that this exam offers.

    Raises:
        ExamClosedError: The exam is closed.
        UnknownItemError: The protocol has no such vital.
        NotInScopeError: The vital is not part of this exam.
    """
    require_open(exam)
    vital = protocol.vital(vital_id)
    if vital is None:
        raise UnknownItemError(vital_id)
    if vital not in vitals_in_scope(exam, protocol):
        raise NotInScopeError
    return vital


def _in_own_unit(vital: Vital, reading: Reading | None) -> Decimal | None:
    """Return a reading in the vital's own unit, rounded to its precision."""
    if vital.measure is None or reading is None:
        return None
    return in_unit(reading, vital.measure.unit, vital.measure.precision)


def flag_vital(
    exam: Exam, protocol: SpeciesProtocol, vital: Vital, entry: VitalEntry
) -> Flag | None:
    """Place a vital against the published ranges for this animal, setting and state.

    An age that is not known compares with nothing, and a temperature taken elsewhere
    than at the vital's usual site is not compared with that site's ranges.

    Returns:
        The flag as it is to be shown, or ``None`` where no published range applies.
    """
    value = _in_own_unit(vital, entry.reading)
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


def _kept_flag(
    exam: Exam, protocol: SpeciesProtocol, vital: Vital, entry: VitalEntry
) -> Flag | None:
    """Return a flag as a record keeps it, which is in English."""
    with in_english():
        return flag_vital(exam, protocol, vital, entry)


def shown_flag(
    exam: Exam, protocol: SpeciesProtocol, vital: Vital, entry: VitalEntry
) -> Flag | None:
    """Return a flag as it is shown: the words of the kept one, whatever the language.

    One that these ranges give no more was given by others, and is shown as it is kept.
    """
    if entry.flag is None or chosen() == ENGLISH:
        return entry.flag
    if _kept_flag(exam, protocol, vital, entry) != entry.flag:
        return entry.flag
    return flag_vital(exam, protocol, vital, entry)


def why_not_compared(
    exam: Exam, protocol: SpeciesProtocol, vital: Vital, entry: VitalEntry
) -> str:
    """Say why a number stands beside no published range, in words for the record.

    Returns:
        The reason; empty where there is no number or a range was compared, and for a
        weight, which is compared with the animal's own.
    """
    measure = vital.measure
    if measure is None or entry.reading is None or vital.is_body_weight:
        return ""
    usual = vital.sites[0] if vital.sites else ""
    state = entry.state.value if entry.state else ""
    place = exam.setting.value
    rows = [row for row in protocol.intervals if row.measure_id == measure.measure_id]
    of_age = [r for r in rows if not r.life_stages or exam.life_stage in r.life_stages]
    of_place = [row for row in of_age if not row.settings or place in row.settings]
    found = applicable(of_place, measure.measure_id, exam.life_stage, place, state)
    checks = (
        (
            entry.site not in {"", usual} and bool(usual),
            tr("published ranges are for {site}", site=tr(usual)),
        ),
        (not rows, tr("no published range")),
        (not exam.life_stage, tr("age not known")),
        (not of_age, tr("no published range at this age")),
        (
            not of_place,
            tr("no published range for this place ({place})", place=tr(place)),
        ),
        (bool(found), ""),
        (not state, tr("what the animal was doing was not said")),
        (
            True,
            tr(
                "no published range here for an animal that is {state}",
                state=tr(state),
            ),
        ),
    )
    return next(reason for is_met, reason in checks if is_met)


def record_vital(
    exam: Exam,
    protocol: SpeciesProtocol,
    vital_id: str,
    entry: VitalEntry,
    by: Attribution,
    urgent_ids: tuple[str, ...],
    *,
    is_repeat: bool = False,
) -> Exam:
    """Record a value, a grade, words or a reason, with its flag and urgent signs.

    A count that is repeated keeps the earlier one beside it.

    Args:
        entry: What was noted, without flag, attribution and earlier counts.
        urgent_ids: UUIDs for urgent signs that may open, ``MOST_SIGNS`` for any.
        is_repeat: Whether it was counted or measured once more: two counts that say
            the same are two counts all the same.

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
        flag=_kept_flag(exam, protocol, vital, entry),
        earlier=_with_earlier(before, entry, is_repeat=is_repeat),
    )
    exam = replace(exam, vitals={**exam.vitals, vital_id: entry})
    exam = settle_elsewhere(exam, protocol)
    origin = f"vital:{vital_id}"
    exam = without_origin(exam, origin)
    signs = signs_of(exam, protocol, vital, entry)
    for sign, urgent_id in zip(signs, urgent_ids[: len(signs)], strict=True):
        opened = UrgentEntry(
            urgent_id, sign.label, by, sign.sign_id, sign.action, origin
        )
        exam = open_urgent(exam, opened)
    return exam


def _with_earlier(
    before: VitalEntry, entry: VitalEntry, *, is_repeat: bool
) -> tuple[EarlierCount, ...]:
    if before.reading is None or before.attribution is None:
        return before.earlier
    is_same = before.reading == entry.reading and before.evidence == entry.evidence
    if is_same and not is_repeat:
        return before.earlier
    said = (before.reading, before.evidence, before.state, before.attribution)
    return (*before.earlier, EarlierCount(*said, before.is_estimate))


def signs_of(
    exam: Exam, protocol: SpeciesProtocol, vital: Vital, entry: VitalEntry
) -> tuple[UrgentSign, ...]:
    """Return the urgent signs a vital's value, grade or words open, in their order.

    A limit holds only for the life stages, settings and states it names; one that asks
    for two counts opens its sign when an earlier count lay beyond it too. A numbered
    grade is compared as the number it is.
    """
    chosen = {
        choice.urgent_sign_id
        for choice in vital.choices
        if choice.urgent_sign_id and choice.value in entry.values
    }
    return tuple(
        sign
        for sign in protocol.urgent_signs
        if sign.sign_id in chosen
        or any(
            _is_met(exam, vital, entry, trigger)
            for trigger in sign.every_trigger()
            if trigger.vital_id == vital.vital_id
        )
    )


def _is_met(exam: Exam, vital: Vital, entry: VitalEntry, trigger: Trigger) -> bool:
    value = _in_own_unit(vital, entry.reading)
    if value is None and entry.grade is not None:
        value = grade_number(entry.grade.value)
    if value is None or not _holds_for(exam, entry.state, trigger):
        return False
    if not is_beyond(trigger, value):
        return False
    return not trigger.counted_twice or any(
        is_beyond(trigger, number)
        for count in entry.earlier
        if _holds_for(exam, count.state, trigger)
        and (number := _in_own_unit(vital, count.reading)) is not None
    )


def sign_to_count_again_for(
    exam: Exam, protocol: SpeciesProtocol, vital: Vital, entry: VitalEntry
) -> UrgentSign | None:
    """Return the urgent sign for which a number is to be taken once more.

    That is the first one whose limit the number lies beyond and which did not open by
    it, since a second one must say the same; or, for a rate counted once, whose limit
    is one counting step away at most.

    Args:
        entry: The answer as recorded, with its earlier counts.
    """
    value = _in_own_unit(vital, entry.reading)
    if vital.measure is None or value is None:
        return None
    step = rate(entry.evidence).step if entry.evidence else vital.measure.precision
    # A count that was repeated is asked for once more only where it is beyond.
    is_first = vital.kind is VitalKind.RATE and not entry.earlier
    within_reach = (value, value - step, value + step) if is_first else (value,)
    opened = signs_of(exam, protocol, vital, entry)
    return next(
        (
            sign
            for sign in protocol.urgent_signs
            if sign not in opened
            and any(
                trigger.vital_id == vital.vital_id
                and _holds_for(exam, entry.state, trigger)
                and any(is_beyond(trigger, number) for number in within_reach)
                for trigger in sign.every_trigger()
            )
        ),
        None,
    )


def _holds_for(exam: Exam, state: RateState | None, trigger: Trigger) -> bool:
    fits_age = (
        not trigger.life_stages
        or exam.life_stage in trigger.life_stages
        or (trigger.or_unknown_age and not exam.life_stage)
    )
    fits_setting = not trigger.settings or exam.setting in trigger.settings
    return fits_age and fits_setting and (not trigger.states or state in trigger.states)


def is_beyond(trigger: Trigger, value: Decimal) -> bool:
    """Say whether a value lies beyond a trigger's limits; the limit itself does not.

    Where the lower end of what opens it lies under the upper one, only what is between
    them does: ``above`` 2 and ``below`` 4 are grade 3 alone.

    Args:
        trigger: The limits, whatever else it asks for.
        value: In the vital's own unit, or a grade as a number.
    """
    is_low = bool(trigger.below) and value < Decimal(trigger.below)
    is_high = bool(trigger.above) and value > Decimal(trigger.above)
    return is_low and is_high if trigger.is_band else is_low or is_high


def clear_vital(exam: Exam, protocol: SpeciesProtocol, vital_id: str) -> Exam:
    """Take back the answer of a vital; its unanswered urgent signs go too."""
    require_vital(exam, protocol, vital_id)
    kept = {key: entry for key, entry in exam.vitals.items() if key != vital_id}
    exam = settle_elsewhere(replace(exam, vitals=kept), protocol)
    return without_origin(exam, f"vital:{vital_id}")
