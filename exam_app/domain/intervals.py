"""Published intervals and the flags they give: never a diagnosis, always a reason.

Rules kept here: a reading is compared only with rows of the same measure, life
stage, setting and state; both ends count as within, after rounding to the item's
step; where published ranges disagree a reading is flagged only outside all of them
and each is shown; within one counting step of a limit it is shown as near; means
and single values are no limits; rows nobody has checked say so.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from exam_app.domain.conversion import (
    convert,
    is_same_dimension,
    plain_number,
    require_unit,
    round_to_step,
    with_unit,
)
from exam_app.domain.limit_words import place_text, range_text
from exam_app.domain.limits import FlagLevel, Limits, level_of
from exam_app.domain.units import Measure

__all__ = [
    "LIMIT_STATISTICS",
    "Flag",
    "FlagLevel",
    "ReferenceInterval",
    "applicable",
    "flag_reading",
    "interval_problems",
    "is_limit",
]

LIMIT_STATISTICS = frozenset(
    {
        "range",
        "observed range",
        "reference interval",
        "95% reference interval",
        "95% reference interval (CLSI)",
        "lower limit",
        "upper limit",
    }
)


@dataclass(frozen=True, slots=True)
class ReferenceInterval:
    """One published row.

    Args:
        interval_id: The protocol's id of the row.
        measure_id: The measure it belongs to.
        low: Lower end, in ``unit``; None when open.
        high: Upper end, in ``unit``; None when open.
        unit: Unit of both ends.
        life_stages: Life stages it holds for; empty means any.
        settings: Settings it holds for; empty means any.
        states: States it holds for; empty means any.
        statistic: What the source printed, such as ``range`` or ``mean``.
        source_id: The source.
        provenance: ``read`` or ``memory``.
        note: What a reader should know besides.
    """

    interval_id: str
    measure_id: str
    low: Decimal | None
    high: Decimal | None
    unit: str
    life_stages: tuple[str, ...]
    settings: tuple[str, ...]
    states: tuple[str, ...]
    statistic: str
    source_id: str
    provenance: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Flag:
    """What is shown beside a reading.

    Args:
        level: Where the reading lies.
        text: Why, naming every range compared and its source.
        interval_ids: The rows compared, in the order shown.
        source_ids: Their sources, in the same order, each once.
        unchecked: At least one row shown was recalled, not read.
    """

    level: FlagLevel
    text: str
    interval_ids: tuple[str, ...]
    source_ids: tuple[str, ...]
    unchecked: bool


def is_limit(interval: ReferenceInterval) -> bool:
    """Say whether a row's ends are limits; means and single values never are.

    Only the statistics listed in ``LIMIT_STATISTICS`` are limits, so that a word
    nobody has thought about does not flag.
    """
    has_end = interval.low is not None or interval.high is not None
    return has_end and interval.statistic in LIMIT_STATISTICS


def interval_problems(interval: ReferenceInterval, measure: Measure) -> tuple[str, ...]:
    """Return every fault of a row, in plain words; empty when it can be used.

    A mean or single value is no fault here: it may be shown, and never flags.
    """
    low, high = interval.low, interval.high
    checks = (
        (interval.measure_id != measure.measure_id, "it belongs to another measure"),
        (not is_same_dimension(interval.unit, measure.unit), "its unit does not fit"),
        (low is None and high is None, "it has no end"),
        (
            low is not None and high is not None and low > high,
            "its low end is above its high end",
        ),
        (
            interval.provenance not in {"read", "memory"},
            "its provenance is neither read nor memory",
        ),
        (not interval.source_id, "it has no source"),
    )
    return tuple(reason for is_met, reason in checks if is_met)


def applicable(
    intervals: Iterable[ReferenceInterval],
    measure_id: str,
    life_stage: str,
    setting: str,
    state: str,
) -> tuple[ReferenceInterval, ...]:
    """Return the rows that may be compared, in the order given.

    A row that names life stages, settings or states holds only for those, so an
    empty setting or state, not known, meets only rows that hold for any. Rows that
    are no limits are left out.
    """
    return tuple(
        interval
        for interval in intervals
        if interval.measure_id == measure_id
        and is_limit(interval)
        and _holds_for(interval.life_stages, life_stage)
        and _holds_for(interval.settings, setting)
        and _holds_for(interval.states, state)
    )


def flag_reading(
    value: Decimal,
    measure: Measure,
    intervals: Sequence[ReferenceInterval],
    step: Decimal | None,
    sources: Mapping[str, str],
) -> Flag:
    """Place a value against every published range that applies to it.

    Both ends count as within, after the value and the ends are rounded to the
    measure's step. Outside means outside all ranges. Within one counting step of a
    limit, on either side, is near. Between two ranges that do not meet, the nearer
    end names the side.

    Args:
        value: The value, in the measure's unit.
        measure: What was measured.
        intervals: The rows chosen by ``applicable``; others never flag.
        step: One counting step in the measure's unit; None for what is not counted.
        sources: Titles by source id; a missing title shows the id.

    Returns:
        The flag with its reason; ``NONE`` when no row applies.

    Raises:
        UnitMismatchError: A row measures something else than the measure.
    """
    rounded = round_to_step(Fraction(value), measure.precision)
    shown = with_unit(plain_number(rounded), measure.unit)
    rows = [
        interval
        for interval in intervals
        if interval.measure_id == measure.measure_id and is_limit(interval)
    ]
    if not rows:
        text = f"{shown}: no published range applies here"
        return Flag(FlagLevel.NONE, text, (), (), unchecked=False)
    limits = [_limits_of(interval, measure) for interval in rows]
    level = level_of(rounded, limits, step or Decimal(0))
    ranges = ", ".join(
        f"{range_text(ends, measure.unit)} ({_source_text(interval, sources)})"
        for interval, ends in zip(rows, limits, strict=True)
    )
    text = f"{shown}: {place_text(level, rounded, limits)} {ranges}"
    if level in {FlagLevel.NEAR_LOW, FlagLevel.NEAR_HIGH} and step is not None:
        text += f"; one counting step is {with_unit(plain_number(step), measure.unit)}"
    return Flag(
        level,
        text,
        tuple(interval.interval_id for interval in rows),
        tuple(dict.fromkeys(interval.source_id for interval in rows)),
        unchecked=any(interval.provenance != "read" for interval in rows),
    )


def _holds_for(named: tuple[str, ...], actual: str) -> bool:
    return not named or actual in named


def _limits_of(interval: ReferenceInterval, measure: Measure) -> Limits:
    require_unit(measure.measure_id, interval.unit, measure.unit)
    low, high = (
        None
        if end is None
        else round_to_step(convert(end, interval.unit, measure.unit), measure.precision)
        for end in (interval.low, interval.high)
    )
    return Limits(low, high)


def _source_text(interval: ReferenceInterval, sources: Mapping[str, str]) -> str:
    title = sources.get(interval.source_id, interval.source_id)
    is_read = interval.provenance == "read"
    return f"{title}; {'read' if is_read else 'recalled, not checked'}"
