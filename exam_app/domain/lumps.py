"""Lumps: what is felt, how it was measured, and when a difference may be called one.

Sizes keep tool, direction and person, since two people's callipers can differ by
centimetres on the same lump. A difference is stated only beyond that error, and
length by width is never multiplied: a product would look like an area.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from exam_app.domain.units import Reading


class LumpDepth(StrEnum):
    """How deep a lump lies."""

    IN_SKIN = "in_skin"
    UNDER_SKIN = "under_skin"
    DEEP = "deep"
    NOT_SURE = "not_sure"


class LumpTool(StrEnum):
    """What a lump was measured with."""

    CALLIPER = "calliper"
    RULER = "ruler"
    TAPE = "tape"
    BY_EYE = "by_eye"


class Consistency(StrEnum):
    """How a lump feels."""

    SOFT = "soft"
    FIRM = "firm"
    HARD = "hard"
    FLUID = "fluid"
    MIXED = "mixed"


class Mobility(StrEnum):
    """How a lump moves under the fingers."""

    MOVES_FREELY = "moves_freely"
    MOVES_WITH_SKIN = "moves_with_skin"
    FIXED = "fixed"
    NOT_SURE = "not_sure"


class Surface(StrEnum):
    """What the skin over a lump looks like."""

    SMOOTH = "smooth"
    UNEVEN = "uneven"
    HAIRLESS = "hairless"
    OPEN = "open"


class LumpPain(StrEnum):
    """What the animal shows when a lump is touched."""

    NONE_SHOWN = "none_shown"
    SHOWN = "shown"
    NOT_TESTED = "not_tested"


@dataclass(frozen=True, slots=True)
class LumpSize:
    """One measuring of a lump.

    Args:
        dimensions: One to three lengths as typed, the longest first.
        tool: What it was measured with.
        direction: How the longest lay: a clock hour, or along or across the body.
        measured_by: Who measured, as shown on the record.
    """

    dimensions: tuple[Reading, ...]
    tool: LumpTool
    direction: str
    measured_by: str


@dataclass(frozen=True, slots=True)
class Lump:
    """A lump as found. What was not noted is None.

    Args:
        depth: How deep it lies.
        size: The first measuring.
        second_size: A second measuring, the calliper taken off and put on again.
        consistency: How it feels.
        mobility: How it moves.
        surface: What the skin over it looks like.
        pain: What the animal shows when it is touched.
    """

    depth: LumpDepth
    size: LumpSize
    second_size: LumpSize | None = None
    consistency: Consistency | None = None
    mobility: Mobility | None = None
    surface: Surface | None = None
    pain: LumpPain | None = None


class LumpTrend(StrEnum):
    """What may be said about two measurings of one lump."""

    LARGER = "larger"
    SMALLER = "smaller"
    NOT_CERTAIN = "not_certain"
    NOT_COMPARABLE = "not_comparable"


@dataclass(frozen=True, slots=True)
class LumpChange:
    """Two measurings of one lump laid side by side.

    Args:
        trend: Larger or smaller only beyond the measuring error.
        before_mm: Longest dimension then, in mm.
        now_mm: Longest dimension now, in mm.
        error_low_mm: Smallest published limit of agreement that applies, in mm.
        error_high_mm: Largest such limit; a difference is stated only beyond it.
        text: Both sizes and what may be said, in plain sentences.
    """

    trend: LumpTrend
    before_mm: Decimal
    now_mm: Decimal
    error_low_mm: Decimal
    error_high_mm: Decimal
    text: str
