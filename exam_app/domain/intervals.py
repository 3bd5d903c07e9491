"""Published intervals and the flags they give: never a diagnosis, always a reason.

Rules kept here: a reading is compared only with rows of the same measure, life
stage, setting and state; both ends count as within, after rounding to the item's
step; where published ranges disagree a reading is flagged only outside all of them
and each is shown; within one counting step of a limit it is shown as near; means
and single values are no limits; rows nobody has checked say so.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class FlagLevel(StrEnum):
    """Where a reading lies against the published ranges that apply to it."""

    BELOW = "below"
    NEAR_LOW = "near_low"
    WITHIN = "within"
    NEAR_HIGH = "near_high"
    ABOVE = "above"
    NONE = "none"


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
