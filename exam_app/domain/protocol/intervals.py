"""Published intervals and the flags they give: never a diagnosis, always a reason.

Rules kept here: a reading is compared only with rows of the same measure, life
stage, setting and state; both ends count as within, after rounding to the item's
step; where published ranges disagree a reading is flagged only outside all of them,
the words say how many hold it and how many do not, and each is shown; a row that is
far off the others never takes a flag away by itself; within one counting step of a
limit a reading is shown as near; means and single values are no limits; rows nobody
has checked, and spans that were worked out here, say so.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from exam_app.domain.measure.conversion import (
    convert,
    is_same_dimension,
    plain_number,
    require_unit,
    round_to_step,
    with_unit,
)
from exam_app.domain.measure.units import Measure
from exam_app.domain.protocol.limits import (
    Compared,
    FlagLevel,
    Limits,
    level_of,
    range_line,
    summary,
)
from exam_app.language.catalogue import tr

COMPUTED = "computed"
PROVENANCES = ("read", "memory", COMPUTED)
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
        low, high: Its ends, in ``unit``; None when open.
        life_stages, settings, states: Those it holds for; empty means any.
        statistic: What the source printed, such as ``range`` or ``mean``.
        source_id: The source; of a span worked out here, the first of them.
        provenance: ``read``, ``memory``, or ``computed``: nobody printed this span,
            it was joined or worked out here from what its sources print.
        note: What a reader should know besides.
        also_from: The other sources of a computed span.
        far_off: Whether it stands far off the other rows, by its own source or note;
            it is shown, and a reading that it alone holds is flagged all the same.
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
    also_from: tuple[str, ...] = ()
    far_off: bool = False

    def every_source(self) -> tuple[str, ...]:
        """Return the ids of the sources it rests on, the first one first."""
        return (self.source_id, *self.also_from)


@dataclass(frozen=True, slots=True)
class Flag:
    """What is shown beside a reading.

    Args:
        level: Where the reading lies.
        text: The value, where it lies and how many ranges were compared; then, each
            on a line of its own, every range compared with its source. Flags of
            earlier versions are one line.
        interval_ids: The rows compared, in the order compared.
        source_ids: Their sources, in the same order, each once.
        unchecked: At least one row shown was recalled, not read.
    """

    level: FlagLevel
    text: str
    interval_ids: tuple[str, ...]
    source_ids: tuple[str, ...]
    unchecked: bool

    @property
    def summary(self) -> str:
        """The first line: value, direction, how many ranges."""
        return self.text.partition("\n")[0]

    @property
    def lines(self) -> tuple[str, ...]:
        """The ranges compared, a line each; empty for a flag of an earlier version."""
        return tuple(self.text.split("\n")[1:])

    @property
    def is_disputed(self) -> bool:
        """Whether the value lies inside one range compared and outside another."""
        return bool(self.lines) and " of " in self.summary

    @property
    def sentence(self) -> str:
        """The whole text in one line, for a record, a table or a message."""
        if not self.lines:
            return self.text
        return f"{self.summary}. {'. '.join(self.lines)}"


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
            interval.provenance not in PROVENANCES,
            "its provenance is neither read nor memory nor computed",
        ),
        (not interval.source_id, "it has no source"),
        (
            bool(interval.also_from) and interval.provenance != COMPUTED,
            "it names more sources than one, and was not computed from them",
        ),
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
    measure's step. Outside means outside all ranges that are not far off the others.
    Within one counting step of a limit, on either side, is near. Between two ranges
    that do not meet, the nearer end names the side.

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
    label = measure.label_of(measure.unit)
    shown = with_unit(plain_number(rounded), label)
    rows = [
        interval
        for interval in intervals
        if interval.measure_id == measure.measure_id and is_limit(interval)
    ]
    if not rows:
        text = tr("{value}: no published range applies here", value=shown)
        return Flag(FlagLevel.NONE, text, (), (), unchecked=False)
    compared = [
        Compared(limits_in(row, measure), source_text(row, sources), row.far_off)
        for row in rows
    ]
    credible = [row.limits for row in compared if not row.far_off]
    limits = credible or [row.limits for row in compared]
    level = level_of(rounded, limits, step or Decimal(0))
    place = summary(level, rounded, compared, step or Decimal(0), label)
    return Flag(
        level,
        "\n".join((f"{shown}: {place}", *_lines(rounded, compared, label))),
        tuple(interval.interval_id for interval in rows),
        tuple(dict.fromkeys(source for row in rows for source in row.every_source())),
        unchecked=any(interval.provenance == "memory" for interval in rows),
    )


def _lines(value: Decimal, compared: Sequence[Compared], unit: str) -> Iterable[str]:
    """Give a line for each source, with every range it stands for."""
    for source in dict.fromkeys(row.source for row in compared):
        own = [row for row in compared if row.source == source]
        yield range_line(value, own, unit)


def _holds_for(named: tuple[str, ...], actual: str) -> bool:
    return not named or actual in named


def limits_in(interval: ReferenceInterval, measure: Measure) -> Limits:
    """Return a row's limits in a measure's unit, rounded to its step.

    Raises:
        UnitMismatchError: The row is of something else.
    """
    require_unit(measure.measure_id, interval.unit, measure.unit)
    low, high = (
        None
        if end is None
        else round_to_step(convert(end, interval.unit, measure.unit), measure.precision)
        for end in (interval.low, interval.high)
    )
    return Limits(low, high)


def source_text(interval: ReferenceInterval, sources: Mapping[str, str]) -> str:
    """Return what a row rests on, as printed between brackets.

    A row that was read carries no remark; one that was not, or was worked out here,
    says so.

    Args:
        sources: Titles by source id; a missing title shows the id.
    """
    titles = [sources.get(name, name) for name in interval.every_source()]
    *others, last = titles
    named = last
    if others:
        named = tr("{others} and {last}", others=", ".join(others), last=last)
    if interval.provenance == COMPUTED:
        return tr("worked out by us from {sources}", sources=named)
    if interval.provenance == "read":
        return named
    return tr("{sources}; recalled, not checked", sources=named)
